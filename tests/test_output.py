"""What the command does where its output cannot be written: it says so, and its status is that of no judgement."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

FULL = Path("/dev/full")
DEMO = (sys.executable, "-m", "checker", "demo")


@pytest.mark.skipif(not FULL.exists(), reason="this system has no file that is always full")
def test_output_that_cannot_be_written_is_no_judgement() -> None:
    with FULL.open("w") as full:
        done = subprocess.run(DEMO, stdout=full, stderr=subprocess.PIPE, text=True)
    assert done.returncode == 2
    assert done.stderr.startswith("the output cannot be written: ")
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="closes the output as a shell of Unix does")
def test_no_output_at_all_is_no_judgement() -> None:
    done = subprocess.run(
        ["/bin/sh", "-c", '"$0" -m checker demo >&-', sys.executable], stderr=subprocess.PIPE, text=True
    )
    assert done.returncode == 2
    assert "nowhere to write to" in done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="closes the output as a shell of Unix does")
def test_the_status_does_not_depend_on_anyone_listening_to_complaints() -> None:
    commands = ('"$0" -m checker demo >/dev/null', '"$0" -m checker demo >/dev/null 2>&-')
    heard, unheard = (subprocess.run(["/bin/sh", "-c", command, sys.executable]).returncode for command in commands)
    assert unheard == heard
