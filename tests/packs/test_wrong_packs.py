"""Wrong packs: each has one mistake, and is refused with all its problems in plain words at their lines.

A file of tests/data/wrong_packs is the pack.yaml of a pack that builds on the gear train.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from corpus import compare, files_in
from pack_tools import GEAR_TRAIN, plugins_with
from places import DATA

from checker.cli import main
from checker.errors import CheckerError
from checker.rulebook import load_rulebook
from checker.vetting.vetting import vet

CORPUS = files_in(DATA / "wrong_packs")
by_name = pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)


@pytest.fixture
def folder(path: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "pack.yaml").write_bytes(path.read_bytes())
    return folder


def test_the_corpus_is_large_enough() -> None:
    assert len(CORPUS) >= 60


@by_name
def test_every_problem_is_named_at_its_line(path: Path, folder: Path) -> None:
    with pytest.raises(CheckerError) as caught:
        vet(load_rulebook(folder, plugins=plugins_with()))
    compare(path, caught.value.problems)


@by_name
def test_the_command_answers_without_a_traceback(path: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["test-pack", str(GEAR_TRAIN), str(folder)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    assert err.replace("\n", "").isprintable()


def test_two_conditions_written_the_other_way_round_are_told_apart(tmp_path: Path) -> None:
    """A number and a name stand in each other's place in them."""
    limits = "- {application: any, when: key_width > 3 mm, must: {at_most: 9 mm}}"
    other = "- {application: any, when: 3 mm > key_width, must: {at_most: 8 mm}}"
    pack = (DATA / "wrong_packs" / "limit_low_above_high.yaml").read_text()
    entries = f"limits:\n      {limits}\n      {other}"
    (tmp_path / "pack.yaml").write_text(pack.replace("limits: {any: {must: {at_least: 6 mm, at_most: 5 mm}}}", entries))
    assert vet(load_rulebook(tmp_path, plugins=plugins_with())).failures == ()
