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


BOTH = """
record: 1
assembly: Training train
application: {use}
rule_packs: {{gear-train: ">=1,<2"}}
{head}
readings:
  backlash: [{{value: 0.08 mm, takn: 2026-05-02}}, 0.09 mm]
  shaft_diametre: [30 mm, 40 mm]
"""


@pytest.mark.parametrize(
    ("use", "head", "beside"),
    [
        ("generl", "chop: Train works", ["no application 'generl'", "unknown characteristic 'shaft_diametre'"]),
        ("Heavy Use", "stations: {mesh: 2}", ["unknown characteristic 'shaft_diametre'"]),
        ("general", "concessions: [{rule: backlash}]", ["unknown characteristic 'shaft_diametre'"]),
        ("general", "before: gears_on", ["unknown characteristic 'shaft_diametre'"]),
        (
            "generl",
            "instruments: {dial: {expanded_uncertanty: 0.01 mm}}",
            ["no application 'generl'", "unknown characteristic 'shaft_diametre'"],
        ),
        # Here it cannot be told what the rest means: nothing is guessed.
        ("general", "stations: [2]", []),
        ("general", "statons: {mesh: 2}", []),
        ("general", "units: mm", []),
    ],
)
def test_what_is_wrong_with_words_is_told_with_what_is_wrong_with_shapes(
    use: str, head: str, beside: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Else a second run begins with mistakes that the first could have told."""
    path = tmp_path / "train.yaml"
    path.write_text(BOTH.format(use=use, head=head))
    assert main(["check", str(path), "--pack", str(GEAR_TRAIN)]) == 2
    told = capsys.readouterr().err
    assert "unknown key 'takn'" in told and "Traceback" not in told
    for words in ("no application", "unknown characteristic", "no unit", "no mesh"):
        assert told.count(words) == sum(words in line for line in beside), told
    assert all(line in told for line in beside)
