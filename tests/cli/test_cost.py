"""What judging costs, as ratios within one run: machines differ, and so does what else they do.

Measured when this was written, in processor time: a cold `checker check` of the example 2.65 times the bare import of
what the checker may rest on; loading the rulebook and reading the record are 1.0 of that, for numpy keeps threads for
matrices, whose start the import pays for and the command does without, and pint is not imported where its work is kept.
With a loaded rulebook the example, 1,650 readings at 1,540 places, takes ten times as long as reading its file, a
record of ten readings one part in fifty of that, and every use of it three times as long as one.
tests/costs/peers.py measures all that is aimed at, by hand.
"""

from __future__ import annotations

import compileall
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from statistics import median

import numpy as np
import pytest
from judging import record, rulebook
from places import DEMO_RECORD

import checker
from checker import read_record, write_json

COMMAND = Path(sys.executable).with_name("checker")
REQUIREMENTS = "import numpy, pint, jsonschema, asteval, pluggy, yaml"
RUNS = 3
MOST = 2.5


def times_of(*command: str | Path) -> tuple[float, float]:
    """Processor time of a command, user and system, and the time by the clock."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)
    after, end = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, end - start


def cpu_time(work: Callable[[], object]) -> float:
    before = time.process_time()
    work()
    return time.process_time() - before


@cache
def cost_of_the_example() -> tuple[list[float], list[float]]:
    """Of reading its file, and of judging it once more, by turns."""
    book, example = rulebook("four-stroke"), read_record(DEMO_RECORD)
    book.check(example)
    costs = [(cpu_time(lambda: read_record(DEMO_RECORD)), cpu_time(lambda: book.check(example))) for _ in range(RUNS)]
    reading, judging = map(list, zip(*costs, strict=True))
    return reading, judging


@pytest.mark.skipif(not COMMAND.exists(), reason="the command is not installed beside this interpreter")
def test_a_cold_check_costs_little_more_than_importing_what_it_rests_on() -> None:
    """In processor time and by the clock; a machine that is busy with something else gets two more tries."""
    compileall.compile_dir(Path(checker.__file__).parent, quiet=2)
    ratios: list[float] = []
    while len(ratios) < 3 and min(ratios, default=MOST) >= MOST:
        bare, cold = [], []
        for _ in range(RUNS):
            bare.append(times_of(sys.executable, "-c", REQUIREMENTS))
            cold.append(times_of(COMMAND, "check", DEMO_RECORD))
        bare_cpu, bare_clock = map(median, zip(*bare, strict=True))
        cold_cpu, cold_clock = map(median, zip(*cold, strict=True))
        ratios.append(max(cold_cpu / bare_cpu, cold_clock / bare_clock))
    assert min(ratios) < MOST


def test_judging_a_record_costs_a_few_times_the_reading_of_its_file() -> None:
    reading, judging = cost_of_the_example()
    # Half of it is proof: what is in doubt is enclosed, not sampled, wherever a rule is no straight line.
    assert median(judging) < 17 * median(reading)


def test_a_table_with_instruments_costs_a_few_times_one_without() -> None:
    """Measured when this was written: five times for all rules; row by row it was nearly two thousand times."""
    book, steps = rulebook("four-stroke"), np.linspace(-1e-3, 1e-3, 2000)
    sizes = {"main_journal_diameter": 2.449 - steps, "main_bearing_bore": 2.4515 + steps}
    table = {f"{name}@{main}": values for name, values in sizes.items() for main in range(1, 6)}
    base = {"application": "street-performance", "units": {"length": "in"}, "stations": {"main": 5}}
    gauged = {**base, "instruments": {"gauge": {"expanded_uncertainty": "0.1 thou", "shared": "0.05 thou"}}}
    book.check_table({name: values[:10] for name, values in table.items()}, base)
    plain, doubtful = [], []
    for _ in range(RUNS):
        plain.append(cpu_time(lambda: book.check_table(table, base)))
        doubtful.append(cpu_time(lambda: book.check_table(table, gauged, instruments=dict.fromkeys(sizes, "gauge"))))
    assert min(doubtful) < 12 * min(plain)


def test_rules_on_which_nothing_was_measured_cost_next_to_nothing() -> None:
    """A record of ten readings is judged by the same rules as the example."""
    book = rulebook("four-stroke")
    sizes = {"main_journal_diameter": ["2.449 in"] * 5, "main_bearing_bore": ["2.4515 in"] * 5}
    few = record("street-performance", sizes, stations={"main": 5})
    book.check(few)
    _, large = cost_of_the_example()
    assert median(cpu_time(lambda: book.check(few)) for _ in range(RUNS)) < median(large) / 10


def test_every_use_of_a_record_costs_little_more_than_half_of_them_one_by_one() -> None:
    """Measured when this was written: a third, and three times one use, for nine uses of ten readings."""
    book = rulebook("four-stroke")
    sizes = {"main_journal_diameter": ["2.449 in"] * 5, "main_bearing_bore": ["2.4515 in"] * 5}
    few = record("street-performance", sizes, stations={"main": 5})
    list(book.check_uses(few))
    together, alone = [], []
    for _ in range(RUNS):
        together.append(cpu_time(lambda: list(book.check_uses(few))))
        alone.append(cpu_time(lambda: [book.check(few, use) for use in book.applications]))
    assert min(together) < 0.6 * min(alone)


def test_a_report_as_json_costs_less_than_half_of_its_check() -> None:
    """Measured when this was written: a tenth for the example, 0.4 for ten readings, and 20 kB of text."""
    book, example = rulebook("four-stroke"), read_record(DEMO_RECORD)
    sizes = {"main_journal_diameter": ["2.449 in"] * 5, "main_bearing_bore": ["2.4515 in"] * 5}
    ten = record("street-performance", sizes, stations={"main": 5})
    assert len(write_json(book.check(ten)).encode()) < 60_000
    _, checking = cost_of_the_example()
    reports = [book.check(example) for _ in range(RUNS - 1)]  # each is written once: it keeps its findings
    writing = [cpu_time(lambda report=report: write_json(report)) for report in reports]  # type: ignore[misc]
    assert min(writing) < min(checking) / 2
