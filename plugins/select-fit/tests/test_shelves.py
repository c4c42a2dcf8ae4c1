"""Shelf files as they come: every mistake told with its line, what was found and what was expected."""

from __future__ import annotations

import json

import checker
import pytest
from checker.cli import main
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shop import MAINS, RULEBOOK, SHELLS

from checker_select_fit import command, read_shelf

ODD_TEXT = st.text("shelfpart: 1[]{},-\n\"'#&*", max_size=60)


def problem_of(tmp_path, text: str, name: str = "shelf.yaml") -> str:
    path = tmp_path / name
    path.write_text(text)
    with pytest.raises(checker.InputError) as caught:
        read_shelf(path, RULEBOOK)
    return str(caught.value)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("{kind: pistom, size: 4 in}", ("3:", "found kind 'pistom'", "did you mean 'piston'?")),
        ("{size: 4 in}", ("3:", "has no kind", "expected one of", "kind: piston")),
        ("{kind: piston, part: P1}", ("3:", "P1 has no size", "3.9870 in")),
        ("{kind: piston, size: tall}", ("3:", "tall")),
        ("{kind: piston, size: 400 in}", ("3:", "outside what is possible", "expected such as")),
        ("{kind: piston, size: 4 kg}", ("3:", "4 kg")),
        ("{kind: piston, size: 4 in, piston_diameter: 4 in}", ("3:", "both size and piston_diameter")),
        ("{kind: piston, size: 4 in, piston_mas: 400 g}", ("3:", "no 'piston_mas'", "did you mean 'piston_mass'?")),
        ("{kind: piston, size: 4 in, count: -1}", ("3:", "found count '-1'", "such as 4")),
        ("{kind: piston, size: 4 in, count: 1e9}", ("3:", "found count", "such as 4")),
        ("{kind: piston, size: [4 in, 5 in]}", ("3:", "found a list, expected one value")),
        ("{kind: pushrod, size: 9 ft}", ("3:", "expected one length of")),
        ("{kind: head gasket, size: 0.04 in, head_gasket_kind: paper}", ("3:", "'paper'", "composition")),
        ("{kind: piston, size: 4 in, in_place: all}", ("3:", "a piston has no 'in_place'")),
        ("just words", ("3:", "expected a part")),
    ],
)
def test_a_part_that_is_wrong(tmp_path, line, words) -> None:
    told = problem_of(tmp_path, f"shelf: 1\nparts:\n  - {line}\n")
    assert all(word in told for word in ("shelf.yaml", *words)), told


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[]\n", ("expected the keys shelf and parts",)),
        ("shelf: 2\nparts: []\n", ("found 2, expected 1", "no part is on the shelf")),
        ("shelf: 1\nparts: 7\n", ("found 7, expected a list",)),
        ("shelf: 1\nparst: []\n", ("unknown key 'parst'", "did you mean 'parts'?", "found nothing")),
        ("shelf: 1\naims: {main_oil_clearanc: 2 thou}\nparts: []\n", ("main_oil_clearance",)),
        ("shelf: 1\nparts: [\n", ("shelf.yaml:",)),
    ],
)
def test_a_shelf_that_is_wrong(tmp_path, text, words) -> None:
    told = problem_of(tmp_path, text)
    assert any(word in told for word in words), told


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("part,size\nP1,4 in\n", ("shelf.csv:1", "kind among them")),
        ("kind,size\npiston,4 in,5 in\n", ("shelf.csv:2", "found 3 cells, expected 2")),
        ("kind,size\npiston,4 in\nlifter,1 in\n", ("shelf.csv:3", "found kind 'lifter'")),
        ('kind,size\npiston,"4 in\n', ("shelf.csv", "not comma-separated values")),
    ],
)
def test_a_table_that_is_wrong(tmp_path, text, words) -> None:
    told = problem_of(tmp_path, text, "shelf.csv")
    assert all(word in told for word in words), told


def test_a_table_says_what_yaml_says(tmp_path) -> None:
    rows = "kind,part,size,count\nmain shell,thin,-0.001 in,2\nmain shell,one under,0.001 in,4\n"
    (tmp_path / "shelf.csv").write_text(rows)
    (tmp_path / "shelf.yaml").write_text(SHELLS.rsplit("  -", 1)[0])
    shelves = [read_shelf(tmp_path / name, RULEBOOK) for name in ("shelf.csv", "shelf.yaml")]
    table, written = ([(part.name, part.size, part.stock) for part in shelf.parts] for shelf in shelves)
    assert table == written and len(table) == 2


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.one_of(st.binary(max_size=60), st.text("shelfpart: 1[]{},-\n\"'#&*", max_size=60).map(str.encode)), st.booleans()
)
def test_whatever_is_in_a_file_it_is_read_or_refused(tmp_path, raw, is_table) -> None:
    path = tmp_path / ("any.csv" if is_table else "any.yaml")
    path.write_bytes(raw)
    try:
        read_shelf(path, RULEBOOK)
    except checker.CheckerError as error:
        assert all(problem.message for problem in error.problems)


@pytest.fixture
def at_hand(monkeypatch) -> None:
    """The rulebook that is loaded already; the README's example loads its own."""
    monkeypatch.setattr(command, "rulebook_for", lambda record, *more, plugins: RULEBOOK)


def shop(tmp_path, shelf: str = SHELLS) -> list[str]:
    paths = [tmp_path / "engine.yaml", tmp_path / "shelf.yaml"]
    for path, text in zip(paths, (MAINS, shelf), strict=True):
        path.write_text(text)
    return ["select-fit", *map(str, paths)]


def test_the_command_reports_and_writes_the_record(tmp_path, capsys, at_hand) -> None:
    files, out = shop(tmp_path), tmp_path / "fitted.yaml"
    assert main([*files, "--record-to", str(out)]) == 0
    told = capsys.readouterr().out
    assert "main bearing 5, upper shell: one under (0.001 in) in place of 0 in" in told
    assert "Measure again with the parts in" in told and "parts' makers" in told
    assert checker.read_record(out).assembly == "Training engine 12"
    assert main([*files, "--format", "json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["proposed"] and len(data["moves"]) == 3
    assert {fit["after"]["verdict"] for fit in data["fits"] if fit["rule"] == "main-oil-clearance"} == {"within"}


def test_the_command_says_that_none_fits(tmp_path, capsys, at_hand) -> None:
    assert main(shop(tmp_path, "shelf: 1\nparts: [{kind: main shell, size: 0.020 in}]\n")) == 1
    told = capsys.readouterr().out
    assert "Nothing is proposed" in told and "main bearing 5" in told


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--kind", "pistom"], "did you mean 'piston'?"),
        (["--kind", "piston"], "no piston is on the shelf"),
        (["--output", "shelf.yaml"], "is an input"),
        (["--application", "strete"], "street"),
    ],
)
def test_a_command_that_cannot_be_followed(tmp_path, capsys, monkeypatch, at_hand, more, words) -> None:
    files = shop(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert main([*files, *more]) == 2
    assert words in capsys.readouterr().err


def test_an_instrument_that_is_not_in_the_record_is_told_with_the_line_of_the_shelf(tmp_path, capsys, at_hand) -> None:
    shelf = "shelf: 1\nparts:\n  - {kind: head gasket, size: 0.04 in, with: calliper}\n"
    assert main(shop(tmp_path, shelf)) == 2
    assert "shelf.yaml:3" in capsys.readouterr().err
