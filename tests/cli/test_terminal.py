"""What a terminal shows: lines that fit, colours that can be declined, no pages, and how far long work has come."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from io import StringIO
from pathlib import Path

import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from pack_tools import GEAR_TRAIN
from places import DATA
from terminal import shown

from checker import Report, read_record, rulebook_for, write_text
from checker.cli import main
from checker.cli.terminal import fitted, is_coloured

RECORD = str(DATA / "gear_train_record.yaml")
PACK = ("--pack", str(GEAR_TRAIN))
SEQUENCE = re.compile(r"\x1b\[[0-9;]*[A-Za-z]")
"""A control sequence of ECMA-48."""
SHORTENED = re.compile(r"(?<=open): .*$", re.MULTILINE)
"""Beside a milestone stands as much of an example as its line has room for."""
COMMANDS = {
    "check": ("check", RECORD, *PACK),
    "everything of it": ("check", RECORD, "--all", *PACK),
    "next": ("next", RECORD, *PACK),
    "uses": ("uses", RECORD, *PACK),
    "from use to use": ("uses", RECORD, "--to", "heavy", *PACK),
    "room": ("room", RECORD, "backlash@2", *PACK),
    "limits of one rule": ("limits", "backlash", *PACK),
    "limits of several": ("limits", "bearing", *PACK),
    "packs": ("packs", str(GEAR_TRAIN)),
    "plugins": ("plugins",),
    "compare-builds": ("compare-builds", RECORD, RECORD, *PACK),
    "compare-packs": ("compare-packs", str(GEAR_TRAIN), str(GEAR_TRAIN), RECORD),
    "test-pack": ("test-pack", str(GEAR_TRAIN)),
    "a mistake": ("check", "a_record_with_a_long_name_that_is_nowhere_to_be_seen.yaml", "--application", "general"),
}


def at_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both streams are as if a person saw them."""
    for stream in ("stdout", "stderr"):
        monkeypatch.setattr(f"sys.{stream}.isatty", lambda: True, raising=False)
    for name in ("NO_COLOR", "FORCE_COLOR", "CLICOLOR", "CLICOLOR_FORCE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm")


@pytest.mark.parametrize("arguments", COMMANDS.values(), ids=COMMANDS)
def test_no_line_is_wider_than_the_terminal_and_no_word_is_lost(
    arguments: tuple[str, ...],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    at_terminal(monkeypatch)
    words = {}
    for columns in (60, 80, 120):
        monkeypatch.setenv("COLUMNS", str(columns))
        main(list(arguments))
        told = capsys.readouterr()
        text = SEQUENCE.sub("", re.sub(r"[^\n]*\r\x1b\[K", "", told.out + told.err))
        assert [line for line in text.splitlines() if len(line) > min(columns, 100)] == []
        # Columns may change places where they fold, and a word too long for its column is parted.
        words[columns] = Counter("".join(SHORTENED.sub("", text).split()))
    assert words[60] == words[80] == words[120]


@cache
def report() -> Report:
    record = read_record(RECORD)
    return rulebook_for(record, GEAR_TRAIN).check(record)


@examples(20)
@given(st.integers(60, 100))
def test_the_report_has_the_same_words_at_any_width(width: int) -> None:
    narrow, usual = (SHORTENED.sub("", write_text(report(), whole=True, width=each)) for each in (width, 100))
    assert sorted("".join(narrow.split())) == sorted("".join(usual.split()))


@given(st.lists(st.text(st.characters(categories=("L", "N", "P", "Zs")), max_size=150)), st.integers(60, 100))
def test_folding_keeps_every_sign_that_is_not_blank(lines: list[str], width: int) -> None:
    folded = fitted("\n".join(lines), width)
    assert all(len(line) <= width for line in folded)
    assert "".join("".join(folded).split()) == "".join("".join(lines).split())


COLOURS = [
    ({}, True, True),
    ({}, False, False),
    ({"NO_COLOR": "1"}, True, False),
    ({"NO_COLOR": ""}, True, True),
    ({"FORCE_COLOR": "1"}, False, True),
    ({"FORCE_COLOR": ""}, False, False),
    ({"FORCE_COLOR": "1", "NO_COLOR": "1"}, True, False),
    ({"CLICOLOR": "0"}, True, False),
    ({"CLICOLOR_FORCE": "1"}, False, True),
    ({"CLICOLOR_FORCE": "0"}, False, False),
    ({"TERM": "dumb"}, True, False),
]


@pytest.mark.parametrize(("variables", "seen", "coloured"), COLOURS)
def test_colour_is_asked_for_and_declined_by_the_usual_variables(
    variables: dict[str, str],
    seen: bool,
    coloured: bool,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """NO_COLOR and FORCE_COLOR count where not empty, CLICOLOR where 0; who wants no colour has the last word."""
    at_terminal(monkeypatch)
    monkeypatch.setattr("sys.stdout.isatty", lambda: seen, raising=False)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    assert is_coloured() is coloured


def test_colour_says_nothing_that_words_do_not(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    at_terminal(monkeypatch)
    main(["check", RECORD, *PACK])
    coloured = capsys.readouterr().out
    monkeypatch.setenv("NO_COLOR", "1")
    main(["check", RECORD, *PACK])
    assert "\x1b[31;1mOUTSIDE\x1b[0m" in coloured
    assert SEQUENCE.sub("", coloured) == capsys.readouterr().out


def test_a_file_has_neither_colour_nor_the_width_of_the_terminal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    at_terminal(monkeypatch)
    monkeypatch.setenv("COLUMNS", "60")
    main(["check", RECORD, *PACK, "--output", str(tmp_path / "report.txt")])
    text = (tmp_path / "report.txt").read_text()
    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) > 80


PAGES = {
    "check": ("check", RECORD, "--format", "html"),
    "a sheet": ("sheet", RECORD),
    "a workbook": ("sheet", RECORD, "--format", "xlsx"),
    "the hand-over": ("hand-over", RECORD),
    "on paper": ("hand-over", RECORD, "--format", "pdf"),
    "uses": ("uses", RECORD, "--format", "html"),
}


@pytest.mark.parametrize("arguments", PAGES.values(), ids=PAGES)
def test_a_page_is_not_poured_onto_the_terminal(
    arguments: tuple[str, ...], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    at_terminal(monkeypatch)
    assert main([*arguments, *PACK]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    form = arguments[3] if len(arguments) > 3 else "html"
    assert f"gear_train_record-{arguments[0]}.{form}" in told.err


@pytest.mark.slow
@pytest.mark.parametrize("arguments", PAGES.values(), ids=PAGES)
def test_but_it_is_written_to_its_file(
    arguments: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_terminal(monkeypatch)
    if arguments[-1] in ("pdf", "xlsx"):
        pytest.importorskip({"pdf": "weasyprint", "xlsx": "openpyxl"}[arguments[-1]])
    page = tmp_path / "page"
    assert main([*arguments, *PACK, "--output", str(page)]) in (0, 1, 3)
    assert page.read_bytes()[:4].lower() in (b"<!do", b"%pdf", b"pk\x03\x04")


def test_a_lone_dash_as_output_is_the_standard_output(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    main(["check", RECORD, *PACK, "--output", "-"])
    assert "OUTSIDE" in capsys.readouterr().out
    assert list(tmp_path.iterdir()) == []


LONG = {
    "judging": ("check", RECORD, *PACK),
    "judging for each use: 3 done": ("uses", RECORD, *PACK),
    "laying out the sheet": ("sheet", RECORD, *PACK, "--format", "csv"),
    "trying values: backlash@2": ("room", RECORD, "backlash@1", "backlash@2", *PACK),
    "testing: 10 of 10 rules": ("test-pack", str(GEAR_TRAIN)),
    "judging by both: 1 done": ("compare-packs", str(GEAR_TRAIN), str(GEAR_TRAIN), RECORD),
    "reading the rule packs": ("new-record", "train.yaml", "--for", "general", *PACK),
}


@pytest.mark.parametrize(("doing", "arguments"), LONG.items(), ids=LONG)
def test_work_that_takes_long_is_told_of_and_leaves_nothing_behind(
    doing: str,
    arguments: tuple[str, ...],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    at_terminal(monkeypatch)
    monkeypatch.setattr("sys.stdin", StringIO())
    monkeypatch.setattr("checker.cli.progress.PATIENCE", 0)
    monkeypatch.chdir(tmp_path)
    main(list(arguments))
    told = capsys.readouterr().err
    assert f"\r\x1b[K{doing}" in told
    assert told.endswith("\r\x1b[K")
    monkeypatch.setenv("TERM", "dumb")
    main([*arguments])
    assert "\x1b" not in capsys.readouterr().err


@pytest.mark.slow
def test_the_example_fits_a_real_terminal() -> None:
    status, text = shown(60, "demo")
    lines = SEQUENCE.sub("", re.sub(r"[^\n]*\r\x1b\[K", "", text)).splitlines()
    assert status == 0
    assert lines[0].startswith("Training engine 7, judged for")
    assert 50 < max(map(len, lines)) <= 60
    assert "\x1b[31;1mOUTSIDE\x1b[0m" in text
