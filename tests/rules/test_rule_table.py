"""The list of all rules in rules/RULES.md is what the packs say today."""

from __future__ import annotations

import re

import pytest
from pack_tools import GEAR_TRAIN
from places import ROOT

from checker.cli import main
from checker.packs.released import lock_path
from checker.plugins import gather

RULES = ROOT / "rules" / "RULES.md"


def shipped() -> list[str]:
    return [name for name, folder in gather().rule_packs.items() if folder.parent == lock_path().parent]


def written(capsys: pytest.CaptureFixture[str], *packs: str) -> str:
    assert main(["packs", *packs, "--format", "markdown"]) == 0
    return capsys.readouterr().out


def test_the_list_of_rules_is_up_to_date(capsys: pytest.CaptureFixture[str]) -> None:
    names = shipped()
    hint = f"stale; run: checker packs {' '.join(names)} --format markdown > rules/RULES.md"
    assert written(capsys, *names) == RULES.read_text(), hint


def test_every_rule_has_a_row_with_its_milestone_limits_and_basis(capsys: pytest.CaptureFixture[str]) -> None:
    table = written(capsys, str(GEAR_TRAIN))
    rows = {line.split("`")[1]: line for line in table.splitlines() if line.startswith("| `")}
    assert len(rows) == 10
    assert rows["backlash"] == (
        "| `backlash` | Backlash of a mesh | housing-closed | "
        "general: must at least 0.02 x gear_module, at most 0.08 x gear_module; "
        "should at least 0.03 x gear_module, at most 0.05 x gear_module<br>"
        "precise: should at most 0.04 x gear_module<br>"
        "heavy: must at least 0.03 x gear_module, at most 0.10 x gear_module; "
        "should at least 0.04 x gear_module, at most 0.06 x gear_module | handbook (from memory) |"
    )
    assert re.findall(r"^### (.+)$", table, re.MULTILINE) == ["Gears and meshes", "Shafts and bearings"]


def test_what_a_pack_amends_is_listed_with_its_reason() -> None:
    text = RULES.read_text()
    nitrous = text.split("## nitrous")[1].split("\n## ")[0]
    row = next(line for line in nitrous.split("### Amended")[1].splitlines() if line.startswith("| `top-ring-gap`"))
    assert "heats the top ring" in row
    assert "any, when nitrous_class is race: must at least larger_of(0.0060\\*cylinder_bore, below)" in row
    assert "street" not in row
