"""Explaining a rule: limits for every use in numbers, who states each of them, and what they overrule."""

from __future__ import annotations

from pathlib import Path

import pytest
from pack_tools import GEAR_TRAIN, gear_rulebook, write_pack

from checker.cli import main
from checker.errors import UsageError
from checker.plugins import gather
from checker.rulebook import load_rulebook
from checker.vetting.explanation import WIDTH, explain

SHOP = """
pack: shop
version: 2.1.0
rule_language: 1
title: Shop policy
builds_on: {gear-train: ">=1,<2"}
amends:
  backlash:
    because: Our customers run them hard.
    limits: {general: {must: {at_most: 0.06}}}
    basis: {kind: shop policy, note: Agreed in spring.}
"""


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return write_pack(tmp_path / "shop", pack=SHOP)


def section(page: str, title: str) -> list[str]:
    """The lines of one part of the page, without its title."""
    part = next(part for part in page.split("\n\n") if part.startswith(title))
    return [line.strip() for line in part.splitlines()[1:]]


def test_the_head_says_what_is_judged_where_and_when() -> None:
    page = explain(gear_rulebook(), "shaft-clearance")
    assert page.startswith("Shaft clearance in its bearing (shaft-clearance)\n")
    assert "judges shaft_clearance at every shaft, before shafts-in" in page
    assert "where it was not measured it is bearing_bore - shaft_diameter" in page
    assert "gear-train 1.2.0, gear_train/shafts.yaml:" in page


def test_limits_are_words_until_the_size_is_given() -> None:
    assert section(explain(gear_rulebook(), "backlash"), "Limits")[1:3] == [
        "must   at least 0.02 x gear_module [1], at most 0.08 x gear_module [1]",
        "should at least 0.03 x gear_module [1], at most 0.05 x gear_module [1]",
    ]


def test_each_use_shows_what_it_states_and_what_it_inherits() -> None:
    """Worked by hand for a module of 2 mm; "precise" is like "general" but for one limit."""
    assert section(explain(gear_rulebook(), "backlash", ["gear_module=2 mm"]), "Limits for gear_module=2 mm") == [
        "general",
        "must   at least 0.04 mm [1], at most 0.16 mm [1]",
        "should at least 0.06 mm [1], at most 0.10 mm [1]",
        "precise",
        "must   at least 0.04 mm [1], at most 0.16 mm [1]",
        "should at least 0.06 mm [1], at most 0.08 mm [2]",
        "heavy",
        "must   at least 0.06 mm [3], at most 0.20 mm [3]",
        "should at least 0.08 mm [3], at most 0.12 mm [3]",
    ]


def test_limits_are_shown_in_the_units_of_the_size() -> None:
    """2 mm is 0.07874 in; 0.02 of it is 0.0016 in, 0.08 of it 0.0063 in."""
    page = explain(gear_rulebook(), "backlash", ["gear_module=0.07874in"])
    assert "must   at least 0.0016 in [1], at most 0.0063 in [1]" in section(page, "Limits for")


def test_where_everything_is_given_the_verdict_is_shown() -> None:
    page = explain(gear_rulebook(), "backlash", ["gear_module=2mm", "backlash=0.11mm"])
    assert [line for line in section(page, "Limits for") if " is " in line] == [
        "0.11 mm is advisory",
        "0.11 mm is advisory",
        "0.11 mm is within",
    ]


def test_facts_settle_conditions() -> None:
    page = explain(gear_rulebook(), "shaft-clearance", ["bearing_kind=plain", "shaft_diameter=50mm"])
    assert section(page, "Limits for") == ["every use", "must   at least 0.04 mm [1], at most 0.10 mm [1]"]
    assert 'when bearing_kind == "rolling"' in section(explain(gear_rulebook(), "shaft-clearance"), "Limits")


def test_a_use_that_a_rule_is_not_for_and_one_without_limits(tmp_path: Path) -> None:
    page = explain(gear_rulebook(), "centre-distance")
    assert "not applicable: The meshes of a positioning train are set by their backlash." in page
    more = SHOP.partition("amends")[0] + "applications: {marine: {title: On board}}\n"
    rulebook = gear_rulebook(write_pack(tmp_path / "shop", pack=more))
    assert section(explain(rulebook, "backlash"), "Limits")[-2:] == ["marine", "no limit is known"]


def test_every_limit_has_its_line_and_basis_and_what_it_overrules(shop: Path) -> None:
    page = explain(gear_rulebook(shop), "backlash")
    assert "amended by shop 2.1.0, shop/pack.yaml:8: Our customers run them hard." in page
    assert section(page, "Stated")[:3] == [
        "[1] general: must at most 0.06 x gear_module",
        "shop 2.1.0, shop/pack.yaml:10",
        "shop policy: Agreed in spring.",
    ]
    assert section(page, "Overruled: gear-train 1.2.0")[0] == "general: must at most 0.08 x gear_module"


def test_remedies_cautions_concessions_and_cases() -> None:
    page = explain(gear_rulebook(), "oil-kind")
    assert "When broken: Change to an oil that suits the duty." in page
    assert "No concession may be given." in page
    assert "Held by 7 cases" in page
    assert "must   be mineral or synthetic [1]" in page


@pytest.mark.parametrize(
    ("at", "message"),
    [
        ("gear_modul=2mm", "unknown characteristic 'gear_modul' .did you mean 'gear_module'"),
        ("gear_module", "gear_module"),
        ("gear_module=2", "gear_module: '2' has no unit"),
        ("gear_module=2 kg", "gear_module: '2 kg' gives mass"),
        ("oil=minral", "oil cannot be 'minral' .did you mean 'mineral'"),
    ],
)
def test_sizes_that_cannot_be_read_are_refused(at: str, message: str) -> None:
    with pytest.raises(UsageError, match=message):
        explain(gear_rulebook(), "backlash", [at])


def test_an_unknown_rule_gets_the_nearest_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "backlsh", "--pack", str(GEAR_TRAIN)]) == 2
    assert "did you mean 'backlash'?" in capsys.readouterr().err
    assert main(["explain", "backlash", "--pack", str(GEAR_TRAIN)]) == 0


def test_shipped_rules_can_be_explained() -> None:
    """A handful of each pack; a page takes a while, and all are made alike."""
    plugins = gather()
    for name in plugins.rule_packs:
        rulebook = load_rulebook(name, plugins=plugins)
        for rule in list(rulebook.rules)[:: max(1, len(rulebook.rules) // 7)]:
            page = explain(rulebook, rule)
            assert "Limits\n" in page
            assert max(map(len, page.splitlines())) <= WIDTH
