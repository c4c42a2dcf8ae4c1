"""The schema with names, by validators of another make: what editors refuse, and what they cannot see.

An editor reads no units, dimensions, stations or limits against each other; NOT_SEEN lists the wrong packs for which
that is needed. All others are refused by the schema alone, and no file of a pack that loads is.
"""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema_rs
import pytest
from pack_tools import GEAR_TRAIN, plugins_with
from places import DATA

from checker.cli import main
from checker.documents.document import read_document
from checker.errors import CheckerError
from checker.plugins import gather
from checker.vetting.name_schema import NAMES_FILE, name_schema

INSTALLED = gather()
SHIPPED = [GEAR_TRAIN, *INSTALLED.rule_packs.values()]
WRONG = sorted((DATA / "wrong_packs").glob("*.yaml"))
NOT_SEEN = frozenset((DATA / "wrong_packs_no_schema_sees.txt").read_text().split())


@pytest.mark.parametrize("folder", SHIPPED, ids=lambda folder: folder.name)
def test_it_refuses_nothing_that_loads(folder: Path) -> None:
    validator = jsonschema_rs.validator_for(name_schema([folder], INSTALLED))
    for path in sorted(folder.rglob("*.yaml")):
        assert [str(error)[-200:] for error in validator.iter_errors(read_document(path).data)] == []


@pytest.mark.parametrize("path", WRONG, ids=lambda path: path.stem)
def test_it_refuses_what_the_checker_refuses(path: Path, tmp_path: Path) -> None:
    (tmp_path / "pack.yaml").write_bytes(path.read_bytes())
    try:
        data = read_document(path).data
    except CheckerError:
        return  # an editor refuses what is no YAML by itself
    validator = jsonschema_rs.validator_for(name_schema([tmp_path], plugins_with()))
    assert validator.is_valid(data) == (path.stem in NOT_SEEN)


def test_what_is_not_seen_are_wrong_packs() -> None:
    assert {path.stem for path in WRONG} >= NOT_SEEN


def test_every_kind_of_name_is_listed_for_completion() -> None:
    schema = name_schema([GEAR_TRAIN], plugins_with())
    rule = schema["$defs"]["rule"]["properties"]
    assert "gears-on" in rule["before"]["enum"]
    assert {"any", "general", "heavy"} <= set(rule["limits"]["propertyNames"]["enum"])
    assert "backlash" in schema["properties"]["amends"]["propertyNames"]["enum"]
    measured = schema["$defs"]["characteristic"]["properties"]
    assert "shaft" in measured["per"]["enum"]
    assert {"mm", "in", "thou"} <= set(measured["unit"]["enum"])
    names, text = schema["$defs"]["expression"]["anyOf"]
    assert "shaft_diameter" in names["enum"]
    assert "spread" in text["pattern"]


def test_the_command_writes_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out)["title"] == "Rule pack"
    output = tmp_path / NAMES_FILE
    assert main(["schema", "--for", str(GEAR_TRAIN), "--output", str(output)]) == 0
    assert "gears-on" in json.loads(output.read_text())["$defs"]["rule"]["properties"]["before"]["enum"]
    assert main(["schema", "--for", "gear-trian"]) == 2
    assert "no rule pack 'gear-trian' (installed packs: " in capsys.readouterr().err
    assert main(["schema", "--for", "four-strok"]) == 2
    assert "did you mean 'four-stroke'?" in capsys.readouterr().err
