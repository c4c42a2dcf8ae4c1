"""Drafts of missing cases: they come out as the rules stand, guard their rules, and wait for a person."""

from __future__ import annotations

from pathlib import Path

import pytest
from pack_tools import gear_rulebook, write_pack

from checker.cli import main
from checker.vetting.drafts import drafted
from checker.vetting.vetting import vet

PACK = """
pack: shop
version: 1.0.0
rule_language: 1
title: Shop policy
builds_on: {gear-train: ">=1,<2"}
characteristics:
  key_width: {title: Key width, per: shaft, unit: mm, plausible: [1 mm, 50 mm]}
  key_kind: {title: Key, choices: [steel, bronze, none]}
  key_offset: {title: Key offset, unit: mm, plausible: [-2 mm, 2 mm]}
rules:
  key-width:
    title: Key width
    before: gears-on
    judges: key_width
    per_unit_of: shaft_diameter
    limits:
      any: {must: {at_least: 0.20, at_most: 0.30}, should: {at_least: 0.24}}
      heavy: {must: {at_least: 0.22}}
    basis: {kind: shop policy}
    remedy: {low: Fit a wider key., high: Fit a narrower key.}
  key-kind:
    title: Key
    before: gears-on
    judges: key_kind
    limits: {any: {must: {one_of: [steel, bronze]}, should: {one_of: [steel]}}}
    basis: {kind: shop policy}
    remedy: {broken: Fit another.}
  key-offset:
    title: Key offset
    before: gears-on
    judges: key_offset
    limits: {any: {must: {at_least: 0 mm, at_most: 0.2 mm}}}
    basis: {kind: shop policy}
    remedy: {low: Move it., high: Move it.}
  key-widths-alike:
    title: Keys alike
    before: gears-on
    judges: spread(key_width)
    unit: mm
    limits: {any: {should: {at_most: 0.5 mm}}}
    basis: {kind: shop policy}
    remedy: {high: Choose others.}
"""
DRAFTED = {"key-width", "key-kind", "key-offset"}


def test_accepted_drafts_come_out_and_guard_their_rules(tmp_path: Path) -> None:
    folder = write_pack(tmp_path / "shop", pack=PACK)
    rulebook = gear_rulebook(folder)
    before = vet(rulebook, ["shop"])
    assert {weakness.name for weakness in before.unguarded} == {*DRAFTED, "key-widths-alike"}
    text = drafted(rulebook, before.unguarded)
    assert "# By hand: key-widths-alike: has no case at all" in text
    write_pack(folder, cases=text)
    waiting = vet(gear_rulebook(folder), ["shop"])
    assert waiting.unguarded == before.unguarded
    write_pack(folder, cases=text.replace("drafts:", "cases:"))
    after = vet(gear_rulebook(folder), ["shop"])
    assert after.failures == ()
    assert {weakness.name for weakness in after.unguarded} == {"key-widths-alike"}


def test_a_sound_pack_needs_none() -> None:
    rulebook = gear_rulebook()
    assert drafted(rulebook, vet(rulebook).unguarded) == ""


def test_the_command_writes_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new-pack", str(tmp_path / "wheels"), "--alone"]) == 0
    cases = tmp_path / "wheels" / "cases" / "cover.yaml"
    assert main(["test-pack", str(tmp_path / "wheels"), "--draft-cases"]) == 0
    assert capsys.readouterr().out.endswith("# No case is missing.\n")
    cases.unlink()
    assert main(["test-pack", str(tmp_path / "wheels"), "--draft-cases", "--output", str(cases)]) == 1
    text = cases.read_text()
    assert "  cover-bolt-torque:\n    - {application: usual, given: {}, vary: cover_bolt_torque," in text
    cases.write_text(text.replace("drafts:", "cases:"))
    assert main(["test-pack", str(tmp_path / "wheels")]) == 0
