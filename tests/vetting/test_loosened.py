"""Amended limits against those below: looser ones are told, and a factor of ten is asked about, whichever way."""

from __future__ import annotations

from pathlib import Path

import pytest
from pack_tools import gear_rulebook, write_pack

from checker.vetting.vetting import Vetting, vet

PACK = """
pack: shop
version: 1.0.0
rule_language: 1
title: Shop policy
builds_on: {{gear-train: ">=1,<2"}}
amends:
  joint-gap:
    because: Ours are other housings.
    limits: {{any: {{must: {{at_most: {limit}}}}}}}
    basis: {{kind: shop policy}}
"""


def vetted(folder: Path, limit: str) -> Vetting:
    """The shop's must for the joint gap; below it is 0.05 mm, and the should 0.03 mm."""
    return vet(gear_rulebook(write_pack(folder / "shop", pack=PACK.format(limit=limit))), ["shop"])


@pytest.mark.parametrize(("limit", "looser"), [("0.04 mm", False), ("0.06 mm", True), ("60 um", True)])
def test_a_looser_limit_is_told_with_its_effect(limit: str, looser: bool, tmp_path: Path) -> None:
    result = vetted(tmp_path, limit)
    told = [line for effect in result.effects for line in effect.lines if "looser" in line]
    assert told == ([f"must at most {limit} is looser than at most 0.05 mm of gear-train 1.2.0"] if looser else [])
    assert not any("decimal point" in str(warning) for warning in result.warnings)


@pytest.mark.parametrize(
    ("limit", "line"),
    [
        ("2*0.04 mm", "must at most 0.05 mm -> at most 2*0.04 mm (0.08 mm)"),
        ("below + 0.02 mm", "must at most below + 0.02 mm (0.07 mm)"),
        ("larger_of(below, least(gear_module)*0.01)", "must at most larger_of(below, least(gear_module)*0.01)"),
        ("0.04 mm", "must at most 0.05 mm -> at most 0.04 mm"),
    ],
)
def test_what_a_limit_comes_to_is_said_where_no_reading_tells(limit: str, line: str, tmp_path: Path) -> None:
    (effect,) = vetted(tmp_path, f'"{limit}"').effects
    assert effect.lines[0] == line


def test_a_limit_worked_out_from_numbers_is_looser_too(tmp_path: Path) -> None:
    (effect,) = vetted(tmp_path, "2*0.04 mm").effects
    assert effect.lines[1:] == ("must at most 2*0.04 mm (0.08 mm) is looser than at most 0.05 mm of gear-train 1.2.0",)


@pytest.mark.parametrize(("application", "is_told"), [("precise", False), ("heavy", True)])
def test_nothing_is_looser_for_a_use_that_a_rule_is_not_for(application: str, is_told: bool, tmp_path: Path) -> None:
    """The rule of centre distances, at most 0.06 mm, is not for positioning trains."""
    pack = PACK.replace("joint-gap", "centre-distance").replace("any", application).format(limit="0.09 mm")
    result = vet(gear_rulebook(write_pack(tmp_path / "shop", pack=pack)), ["shop"])
    assert any("is looser than" in line for effect in result.effects for line in effect.lines) is is_told


@pytest.mark.parametrize(
    ("limit", "words"),
    [("0.5 mm", "is 10 times the"), ("0.005 mm", "is one part in 10 of the"), ("1.27 mm", "25.4 times")],
)
def test_a_factor_of_ten_is_asked_about_at_its_line(limit: str, words: str, tmp_path: Path) -> None:
    (warning,) = [one for one in vetted(tmp_path, limit).warnings if "decimal point" in one.message]
    assert words in warning.message
    assert warning.place.line == 10


def test_a_rule_of_its_own_may_take_the_limits_that_it_amends(tmp_path: Path) -> None:
    """Below there is no such rule, so nothing of it changes."""
    own = (
        "rules: {gap-of-the-cover: {title: Gap of the cover, before: housing-closed, judges: joint_gap, "
        "limits_of: joint-gap, remedy: {high: Scrape it.}}}\n"
    )
    folder = write_pack(tmp_path / "shop", pack=PACK.format(limit="0.06 mm") + own)
    assert [effect.rule for effect in vet(gear_rulebook(folder), ["shop"]).effects] == ["joint-gap"]
