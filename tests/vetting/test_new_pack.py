"""A new pack passes vetting as it is written, whatever it builds on."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from pack_tools import GEAR_TRAIN, gear_rulebook

from checker.cli import main
from checker.documents.document import read_document
from checker.errors import UsageError
from checker.frozen import FrozenMapping
from checker.plugins import Plugins
from checker.rulebook import load_rulebook
from checker.vetting.new_pack import new_pack
from checker.vetting.vetting import vet


def written(name: str, base: str | Path, folder: Path) -> Path:
    assert main(["new-pack", str(folder / name), "--builds-on", str(base)]) == 0
    return folder / name


def test_it_amends_one_rule_and_adds_one(tmp_path: Path) -> None:
    folder = written("our_shop", GEAR_TRAIN, tmp_path)
    layered = gear_rulebook(folder).layered
    pack = next(pack for pack in layered.packs if pack.name == "our-shop")
    assert dict(pack.builds_on) == {"gear-train": ">=1.2.0,<2"}
    assert [amendment.name for amendment in pack.amends] == ["joint-gap"]
    assert [rule.name for rule in pack.rules] == ["gauge-check"]
    assert "should: {at_most: 0.027 mm}" in (folder / "policy.yaml").read_text()


def test_it_passes_vetting_on_the_gear_train(tmp_path: Path) -> None:
    result = vet(gear_rulebook(written("our-shop", GEAR_TRAIN, tmp_path)), ["our-shop"])
    assert result.is_sound
    assert result.warnings == ()
    assert result.cases > 60


@pytest.mark.parametrize("base", ["four-stroke", "nitrous"])
def test_it_passes_vetting_on_shipped_packs(base: str, tmp_path: Path) -> None:
    result = vet(load_rulebook(base, written("our-shop", base, tmp_path)), ["our-shop"])
    assert result.is_sound
    assert result.warnings == ()


def test_a_first_pack_stands_alone_and_passes_vetting(tmp_path: Path) -> None:
    folder = tmp_path / "our_wheels"
    assert main(["new-pack", str(folder), "--alone"]) == 0
    rulebook = load_rulebook(folder, plugins=Plugins((), FrozenMapping(), FrozenMapping(), FrozenMapping()))
    result = vet(rulebook)
    assert [pack.name for pack in rulebook.packs] == ["our-wheels"]
    assert result.is_sound
    assert result.warnings == ()


@pytest.mark.parametrize("base", [["--alone"], ["--builds-on", str(GEAR_TRAIN)]])
def test_editors_are_told_where_the_schema_is_and_it_fits(base: list[str], tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    assert main(["new-pack", str(folder), *base]) == 0
    for path in sorted(folder.rglob("*.yaml")):
        first = path.read_text().splitlines()[0]
        schema = json.loads((path.parent / first.removeprefix("# yaml-language-server: $schema=")).read_text())
        assert Draft202012Validator(schema).is_valid(read_document(path).data)


def test_the_rule_to_amend_can_be_named(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    rulebook = gear_rulebook()
    assert "joint-gap:" in new_pack("shop", rulebook, "joint-gap")["policy.yaml"]
    with pytest.raises(UsageError, match="'backlash' offers no limit that can simply be made stricter"):
        new_pack("shop", rulebook, "backlash")
    with pytest.raises(UsageError, match="did you mean 'joint-gap'"):
        new_pack("shop", rulebook, "joint-gapp")


@pytest.mark.parametrize("name", ["9shop", "../shop", "Shop", "shöp", "a" * 65, "", "con", "lpt1"])
def test_names_that_packs_cannot_have_are_refused(name: str) -> None:
    with pytest.raises(UsageError, match="a pack cannot be called"):
        new_pack(name, gear_rulebook())


def test_a_name_kept_for_a_device_is_said_to_be_one() -> None:
    with pytest.raises(UsageError, match="keeps this name for a device; as in con-policy"):
        new_pack("con", gear_rulebook())


def test_nothing_is_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = written("shop", GEAR_TRAIN, tmp_path)
    before = (folder / "pack.yaml").read_text()
    assert main(["new-pack", str(folder), "--builds-on", str(GEAR_TRAIN)]) == 2
    assert "not an empty folder" in capsys.readouterr().err
    assert (folder / "pack.yaml").read_text() == before
