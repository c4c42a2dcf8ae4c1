"""How far long work has come is told to a terminal, does not stay on it, and is told to nobody else."""

from __future__ import annotations

import io
from collections.abc import Iterator

import pytest

from checker.cli.progress import counted, progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def shown_by(text: str) -> str:
    """What stands in the last line of a terminal: ECMA-48, 8.3.41, erases it to its end."""
    line = ""
    for sign in text.replace("\x1b[K", "\0"):
        line = "" if sign in "\r\0" else line + sign
    return line


def test_a_terminal_is_told_and_left_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stderr", terminal := Terminal())
    with progress("judging", patience=0) as step:
        step("1 of 3")
        assert shown_by(terminal.getvalue()) == "judging: 1 of 3"
        step("2 of 3")
        assert shown_by(terminal.getvalue()) == "judging: 2 of 3"
    assert shown_by(terminal.getvalue()) == ""


def test_it_is_taken_back_where_the_work_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stderr", terminal := Terminal())
    with pytest.raises(RuntimeError), progress("judging", patience=0) as step:
        step("1 of 3")
        raise RuntimeError
    assert shown_by(terminal.getvalue()) == ""


def test_work_that_is_soon_done_is_not_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stderr", terminal := Terminal())
    assert list(counted("abc", "judging")) == ["a", "b", "c"]
    assert terminal.getvalue() == ""


def test_what_is_no_terminal_is_told_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stderr", file := io.StringIO())
    with progress("judging", patience=0) as step:
        step("1 of 3")
    assert file.getvalue() == ""


def test_items_are_made_one_by_one() -> None:
    made: list[int] = []

    def items() -> Iterator[int]:
        for number in range(3):
            made.append(number)
            yield number

    first = next(iter(counted(items(), "judging")))
    assert (first, made) == (0, [0])
