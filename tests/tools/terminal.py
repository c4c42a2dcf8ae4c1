"""Commands at a pseudo-terminal, as over ssh."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from pack_tools import GEAR_TRAIN

PATIENCE = 60.0  # seconds without a sign of life before a test gives up; nothing is judged by it
CHOSEN = ("COLUMNS", "NO_COLOR", "FORCE_COLOR", "CLICOLOR", "CLICOLOR_FORCE")
"""Variables by which a user says what the terminal shows."""
ARGUMENTS = ("--pack", str(GEAR_TRAIN), "--before", "shafts-in")


def _as_at_a_terminal() -> None:
    """Its keys can interrupt, also where whoever runs the tests ignores that."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
    signal.signal(signal.SIGINT, signal.SIG_DFL)


class Terminal:
    """A program at a terminal of its own; what it says is read up to its next question."""

    def __init__(self, path: Path, columns: int, arguments: tuple[str, ...]) -> None:
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
        command = [sys.executable, "-W", "error", "-m", "checker", "measure", str(path), *arguments]
        environment = {name: value for name, value in os.environ.items() if name != "COLUMNS"} | {"NO_COLOR": "1"}
        self.process = subprocess.Popen(
            command,
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env=environment,
            start_new_session=True,
            preexec_fn=_as_at_a_terminal,
        )
        os.close(slave)
        self.said = self.read()

    def read(self) -> str:
        """What is said up to the next question, or to the end."""
        said = b""
        while not said.endswith(b": "):
            if not select.select([self.master], [], [], PATIENCE)[0]:
                raise TimeoutError(said)
            try:
                piece = os.read(self.master, 4096)
            except OSError:  # nobody is at the other end any more
                break
            if not piece:
                break
            said += piece
        return said.decode(errors="replace").replace("\r\n", "\n")

    def type(self, text: str) -> str:
        os.write(self.master, f"{text}\n".encode())
        self.said = self.read()
        return self.said

    def kill(self) -> None:
        """As a power cut does: without a word."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


@contextmanager
def session(path: Path, columns: int = 80, arguments: tuple[str, ...] = ARGUMENTS) -> Iterator[Terminal]:
    opened = Terminal(path, columns, arguments)
    try:
        yield opened
    finally:
        opened.process.kill()
        opened.process.wait()
        os.close(opened.master)


def shown(columns: int, *arguments: str, **environment: str) -> tuple[int, str]:
    """The status of a command that asks nothing, and all that it writes to a terminal so wide."""
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    usual = {name: value for name, value in os.environ.items() if name not in CHOSEN} | {"TERM": "xterm"}
    with subprocess.Popen(
        [sys.executable, "-W", "error", "-m", "checker", *arguments],
        stdin=subprocess.DEVNULL,
        stdout=slave,
        stderr=slave,
        env=usual | environment,
    ) as process:
        os.close(slave)
        pieces = []
        with suppress(OSError):  # nobody is at the other end any more
            while piece := os.read(master, 65536):
                pieces.append(piece)
    os.close(master)
    return process.returncode, b"".join(pieces).decode().replace("\r\n", "\n")
