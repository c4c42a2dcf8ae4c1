"""What stands at the head of a file, and which unit what is worked out is shown in."""

from __future__ import annotations

from pathlib import Path

from pack_tools import gear_rulebook, write_pack

HEAD = """
pack: shop
version: 1.0.0
rule_language: 1
title: Shop policy
builds_on: {gear-train: ">=1,<2"}
"""
RULES = """
system: Keys
before: gears-on
characteristics:
  key_width: {title: Key width, per: shaft, unit: mm, plausible: [1 mm, 50 mm]}
  slot_width: {title: Slot width, per: shaft, unit: mm, plausible: [1 mm, 50 mm]}
rules:
  key-in-slot:
    title: Key in its slot
    judges: slot_width - key_width
    limits: {any: {must: {at_least: 0 mm}}}
    basis: shop policy
    remedy: {low: Grind the key.}
  keys-alike:
    title: Keys alike
    before: shafts-in
    judges: spread(key_width)
    unit: um
    limits: {any: {should: {at_most: 20 um}}}
    basis: shop policy
    remedy: {high: Match them.}
"""


def test_the_milestone_of_a_file_is_that_of_its_rules_and_a_rule_may_state_another(tmp_path: Path) -> None:
    book = gear_rulebook(write_pack(tmp_path / "shop", pack=HEAD, keys=RULES))
    assert book.rules["key-in-slot"].rule.before == "gears-on"
    assert book.rules["keys-alike"].rule.before == "shafts-in"
    assert book.rules["backlash"].rule.before != ""  # of another file: it says so itself


def test_what_is_worked_out_is_shown_in_the_unit_of_what_it_is_worked_out_from(tmp_path: Path) -> None:
    book = gear_rulebook(write_pack(tmp_path / "shop", pack=HEAD, keys=RULES))
    assert (book.rules["key-in-slot"].unit.name, book.rules["keys-alike"].unit.name) == ("mm", "um")


def test_the_nearer_use_decides_whether_a_rule_is_meant(tmp_path: Path) -> None:
    """`fine` is like `general`: what is not for the one is for the other where limits of it are stated."""
    uses = "applications: {fine: {title: Fine, like: general}, coarse: {title: Coarse, like: general}}\n"
    only = RULES.replace("limits: {any: {must: {at_least: 0 mm}}}", "limits: {fine: {must: {at_least: 0 mm}}}").replace(
        "    remedy: {low: Grind", "    not_for: {general: Only fine work asks.}\n    remedy: {low: Grind"
    )
    book = gear_rulebook(write_pack(tmp_path / "shop", pack=HEAD + uses, keys=only))
    rule = book.rules["key-in-slot"].rule
    assert {use: rule.why_not_for(book.chain(use)) for use in ("fine", "coarse", "general")} == {
        "fine": "",
        "coarse": "Only fine work asks.",
        "general": "Only fine work asks.",
    }
