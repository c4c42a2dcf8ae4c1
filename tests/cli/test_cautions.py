"""Every form that can be read by itself says what can hurt, as the pack states it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from openpyxl import load_workbook
from pack_tools import GEAR_TRAIN
from sheet_tools import HEAD

from checker.cli import main
from checker.packs.reader import read_pack

(CAUTION,) = read_pack(GEAR_TRAIN).cautions


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
