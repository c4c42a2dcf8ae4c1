"""Wrong packs: each of the corpus has one mistake, and is refused with all its problems in plain words.

A file of tests/wrong_packs is a pack.yaml that builds on the gear train. It begins with one comment for every problem
that must be found, with its line and the words of its message in order: `# line 12: words | more words`.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pack_tools import GEAR_TRAIN, HERE, plugins_with

from checker.cli import main
from checker.errors import CheckerError, Problem
from checker.rulebook import load_rulebook
from checker.vetting import vet

CORPUS = sorted((HERE / "wrong_packs").glob("*.yaml"))
EXPECTATION = re.compile(r"# line ([0-9]+): (.+)")


def expected_in(path: Path) -> list[tuple[int, list[str]]]:
    lines = path.read_text().splitlines()
    found = [match for line in lines if (match := EXPECTATION.fullmatch(line))]
    return [(int(match[1]), match[2].split(" | ")) for match in found]


def has_words(problem: Problem, words: list[str]) -> bool:
    text = f"{problem.message} {problem.hint}"
    at = 0
    for word in words:
        at = text.find(word, at)
        if at < 0:
            return False
        at += len(word)
    return True


def installed(source: Path, folder: Path) -> Path:
    folder = folder / "shop"
    folder.mkdir()
    (folder / "pack.yaml").write_bytes(source.read_bytes())
    return folder


def test_the_corpus_is_large_enough() -> None:
    assert len(CORPUS) >= 60


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_every_problem_is_named_at_its_line(path: Path, tmp_path: Path) -> None:
    expected = expected_in(path)
    assert expected
    with pytest.raises(CheckerError) as caught:
        vet(load_rulebook(installed(path, tmp_path), plugins=plugins_with()))
    told = "\n".join(map(str, caught.value.problems))
    problems = list(caught.value.problems)
    assert len(problems) == len(expected), told
    for line, words in expected:
        fitting = [p for p in problems if has_words(p, words) and p.place and p.place.line == line]
        assert fitting, f"line {line}: {words} not in:\n{told}"
        problems.remove(fitting[0])


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_the_command_answers_without_a_traceback(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["vet", str(GEAR_TRAIN), str(installed(path, tmp_path))]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    assert "\x1b" not in err
