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
    ("limit", "words"),
    [("0.5 mm", "is 10 times the"), ("0.005 mm", "is one part in 10 of the"), ("1.27 mm", "25.4 times")],
)
def test_a_factor_of_ten_is_asked_about_at_its_line(limit: str, words: str, tmp_path: Path) -> None:
    (warning,) = [one for one in vetted(tmp_path, limit).warnings if "decimal point" in one.message]
    assert words in warning.message
    assert warning.place.line == 10
