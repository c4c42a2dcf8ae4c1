"""What expressions compile to is kept beside a released pack; that must change nothing but the time it takes."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import pytest

import checker
from checker.expressions import compiling
from checker.expressions.compiling import compile_expression
from checker.expressions.expression import Expression
from checker.expressions.names import Scope
from checker.expressions.plain_form import expression_of
from checker.packs.pack import Pack
from checker.packs.programs import PROGRAMS, known_programs
from checker.packs.reader import read_pack
from checker.plugins import gather

FOLDERS = gather().rule_packs
FOUR_STROKE = FOLDERS["four-stroke"]


def said(expression: Expression) -> list[object]:
    """All that an expression is."""
    return [getattr(expression, field.name) for field in fields(expression)]


@pytest.fixture
def copy(tmp_path: Path) -> Pack:
    """A released pack in another folder."""
    return read_pack(Path(shutil.copytree(FOUR_STROKE, tmp_path / "another")))


@pytest.mark.parametrize(
    "packs", [["four-stroke"], ["alcohol"], ["boosted"], ["nitrous"], ["alcohol", "boosted"], ["boosted", "nitrous"]]
)
def test_what_is_known_of_packs_is_what_their_expressions_compile_to(packs: list[str]) -> None:
    scope, known = checker.load_rulebook(*packs, strict=True).scope, checker.load_rulebook(*packs).scope.programs
    assert not scope.programs
    for (of, text), compiled in scope.compiled.items():
        assert said(expression_of(text, known[of][text], scope.functions)) == said(compiled)


def test_a_check_compiles_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    texts: list[str] = []

    def noted(text: str, scope: Scope) -> Expression:
        texts.append(text)
        return compile_expression(text, scope)

    monkeypatch.setattr(compiling, "compile_expression", noted)
    book = checker.load_rulebook("four-stroke")
    checker.write_text(book.check(checker.read_record(FOUR_STROKE.parent / "demo_record.yaml")))
    assert not texts
    assert len(book.scope.compiled) > 500


def known(*packs: Pack) -> object:
    """What is known of packs that plugins bring."""
    return known_programs(packs, [pack.folder for pack in packs])


def test_what_lies_beside_a_pack_counts_only_where_a_plugin_brings_it(copy: Pack) -> None:
    """Its digest can be worked out by anybody, so that other expressions could stand there than in the YAML files."""
    assert known(copy) == known(read_pack(FOUR_STROKE)) != {}
    assert known_programs([copy], [FOUR_STROKE]) == {}
    assert not checker.load_rulebook(copy.folder).scope.programs
    assert checker.load_rulebook("four-stroke").scope.programs


def altered(path: Path) -> object:
    text = path.read_text()
    other = text.replace("6894.757293168362", "6894.757293168363")
    assert other != text
    return path.write_text(other)


@pytest.mark.parametrize("alter", [altered, Path.unlink, lambda path: path.write_text("{}")])
def test_a_file_that_was_altered_counts_for_nothing(copy: Pack, alter: Callable[[Path], object]) -> None:
    alter(copy.folder / PROGRAMS)
    assert known(copy) == {}


def test_nor_does_it_for_another_pack(copy: Pack) -> None:
    assert known(copy._replace(digest="another")) == {}


def test_nor_where_it_builds_on_another(copy: Pack) -> None:
    boosted = read_pack(FOLDERS["boosted"])
    assert known(copy, boosted) != known(copy)
    assert known(copy._replace(digest="another"), boosted) == {}


def test_nor_for_other_code(copy: Pack, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("checker.packs.programs._code_digest", lambda: "another")
    assert known(copy) == {}


def test_an_altered_pack_is_compiled(copy: Pack) -> None:
    rings = copy.folder / "rings.yaml"
    rings.write_text(rings.read_text() + "# altered\n")
    assert not checker.load_rulebook(copy.folder).scope.programs
