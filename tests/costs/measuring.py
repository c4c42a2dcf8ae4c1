"""Measuring: samples of two pieces of work side by side, and the median of their ratios."""

from __future__ import annotations

import os
import resource
import subprocess
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median
from typing import TypeAlias

Work: TypeAlias = Callable[[], object]
Clock: TypeAlias = Callable[[Work], float]
SAMPLES = 5


def processor_time(work: Work) -> float:
    """Processor time of one run in this program."""
    start = time.process_time()
    work()
    return time.process_time() - start


def clock_time(work: Work) -> float:
    """Time of one run by the clock."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def children_time(work: Work) -> float:
    """Processor time of the programs that one run starts and waits for."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    work()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def beside(work: Work, yardstick: Work, samples: int = SAMPLES, clock: Clock = processor_time) -> tuple[float, float]:
    """The median cost of some work, and the median of its ratios to the sample of the yardstick beside it."""
    work(), yardstick()
    pairs = [(clock(work), clock(yardstick)) for _ in range(samples)]
    return median(one for one, _ in pairs), median(one / other for one, other in pairs)


def started(*command: object) -> Work:
    """Work that is a program of its own; modules may be kept compiled, as they are where it is installed."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    words = [str(word) for word in command]

    def run() -> None:
        subprocess.run(words, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)

    return run


class Elsewhere:
    """A program that does some work of its own each time it is asked to, and says what processor time it took."""

    def __init__(self, command: Sequence[str], packages: Path) -> None:
        environment = {**os.environ, "PYTHONPATH": str(packages)}
        self._program = subprocess.Popen(
            command, env=environment, cwd=packages, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        self.said = self._answer()

    def _answer(self) -> str:
        assert self._program.stdout is not None
        answer = self._program.stdout.readline().strip()
        if not answer:
            raise RuntimeError("the program ended without an answer")
        return answer

    def cost(self) -> float:
        """Processor time of one run there."""
        assert self._program.stdin is not None
        self._program.stdin.write("again\n")
        self._program.stdin.flush()
        return float(self._answer())

    def end(self) -> None:
        """Let it end."""
        self._program.communicate()
