"""Every form that can be read by itself says what can hurt, as the pack states it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from openpyxl import load_workbook
from pack_tools import GEAR_TRAIN
from places import DATA
from sheet_tools import HEAD

from checker.cli import main
from checker.packs.reader import read_pack

(CAUTION,) = read_pack(GEAR_TRAIN).cautions
WHEEL = DATA / "bicycle_wheel"


@pytest.fixture
def record(tmp_path: Path) -> str:
    path = tmp_path / "reducer.yaml"
    path.write_text(HEAD)
    return str(path)


@pytest.mark.parametrize("form", ["html", "yaml"])
def test_a_sheet_says_what_can_hurt(form: str, record: str, capsys: pytest.CaptureFixture[str]) -> None:
    output = str(Path(record).with_name(f"sheet.{form}"))
    assert main(["sheet", record, "--pack", str(GEAR_TRAIN), "--format", form, "--output", output]) == 0
    assert CAUTION in Path(output).read_text()


def test_a_sheet_of_comma_separated_values_says_what_can_hurt(record: str) -> None:
    output = str(Path(record).with_name("sheet.csv"))
    assert main(["sheet", record, "--pack", str(GEAR_TRAIN), "--format", "csv", "--output", output]) == 0
    assert Path(output).read_text().splitlines()[0] == f"# Caution: {CAUTION}"
    assert main(["check", output, "--pack", str(GEAR_TRAIN)]) == 3


def test_a_workbook_says_what_can_hurt(record: str) -> None:
    output = str(Path(record).with_name("sheet.xlsx"))
    assert main(["sheet", record, "--pack", str(GEAR_TRAIN), "--format", "xlsx", "--output", output]) == 0
    first = load_workbook(output).worksheets[0]
    assert f"# Caution: {CAUTION}" in [cell.value for cell in first["A"]]


def test_limits_say_what_can_hurt(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["limits", "backlash", "--pack", str(GEAR_TRAIN)]
    assert main(asked) == 0
    assert f"Cautions: {CAUTION}" in capsys.readouterr().out
    assert main([*asked, "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out)["rulebooks"][0]["cautions"] == [CAUTION]


def test_what_is_next_says_what_can_hurt(record: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["next", record, "--pack", str(GEAR_TRAIN)]) == 3
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "Reducer 7, General duty"
    assert lines[-1] == f"Cautions: {CAUTION}"


@pytest.mark.parametrize(("tension", "is_said"), [("", True), ("500 N", True), ("1350 N", True), ("1000 N", False)])
def test_what_is_next_says_what_can_hurt_where_it_asks(
    tension: str, is_said: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "wheel.yaml"
    head = "record: 1\nassembly: Front wheel\napplication: touring\nrule_packs: {bicycle-wheel: '>=1'}\n"
    path.write_text(
        f"{head}stations: {{spoke: 2}}\nreadings: {{spoke_tension: [{tension or '-'}, {tension or '-'}]}}\n"
    )
    main(["next", str(path), "--pack", str(WHEEL)])
    told = " ".join(capsys.readouterr().out.split())
    assert ("caution Spoke tension: A rim overloaded by its spokes can crack." in told) is is_said
    assert "Cautions: A wheel that gives way throws its rider; ride no wheel with a cracked rim." in told


def test_facts_are_found_out_and_readings_measured(record: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["next", record, "--pack", str(GEAR_TRAIN)])
    told = [" ".join(line.split()) for line in capsys.readouterr().out.splitlines()]
    assert "find out kind of bearing (plain, rolling)" in told
    assert "find out housing sealed for life (yes, no)" in told
    assert "measure gap at the joint of the housing" in told
    assert "measure kind of bearing" not in told
