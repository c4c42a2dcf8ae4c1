"""Wrong records: each of data/wrong_records has one mistake; all its problems are told, at their lines."""

from __future__ import annotations

from pathlib import Path

import pytest
from corpus import compare, files_in
from pack_tools import GEAR_TRAIN, plugins_with
from places import DATA

from checker.cli import main
from checker.errors import CheckerError
from checker.records.record import read_record
from checker.rulebook import rulebook_for

CORPUS = files_in(DATA / "wrong_records")
by_name = pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)


def test_the_corpus_is_large_enough() -> None:
    assert len(CORPUS) >= 25


@by_name
def test_every_problem_is_named_at_its_line(path: Path) -> None:
    with pytest.raises(CheckerError) as caught:
        record = read_record(path)
        rulebook_for(record, plugins=plugins_with()).check(record)
    compare(path, caught.value.problems)


@by_name
def test_the_command_answers_without_a_traceback_or_a_verdict(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(path), "--pack", str(GEAR_TRAIN)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    assert "no rule pack 'gear-train'" not in err
    assert err.replace("\n", "").isprintable()
