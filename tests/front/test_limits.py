"""Limits without a record: found by words, in numbers for what is given, and who states each of them where."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from pack_tools import GEAR_TRAIN, gear_rulebook, write_pack
from pint_registry import REGISTRY

from checker import Rulebook, load_rulebook
from checker.cli import main
from checker.errors import UsageError
from checker.findings.text import PLAIN, WIDTH
from checker.given import read_given
from checker.limits import NOT_KNOWN
from checker.limits_page import limits_page
from checker.plugins import gather
from checker.rule_search import find_rules
from checker.vetting.strength import stating

INCH = 25.4
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


@pytest.fixture(scope="module")
def nitrous() -> Rulebook:
    return load_rulebook("nitrous")


def page_on(rulebook: Rulebook, name: str, uses: tuple[str, ...] = (), **sizes: str) -> str:
    """The page on one rule, for every use unless some are named."""
    told = ", ".join(f"{size} {written}" for size, written in sizes.items())
    known = read_given(sizes, rulebook.characteristics)
    return limits_page(rulebook, rulebook.rule(name), uses or rulebook.applications, known, told, PLAIN)


def section(page: str, title: str) -> list[str]:
    """The lines of one part of the page, without its title."""
    part = next(part for part in page.split("\n\n") if part.startswith(title))
    return [line.strip() for line in part.splitlines()[1:]]


def found(rulebook: Rulebook, *words: str) -> list[str]:
    return [rule.name for rule in find_rules(words, rulebook)]


# Numbers


def test_the_ring_gap_of_a_nitrous_engine_in_numbers(nitrous: Rulebook) -> None:
    """Ring gap charts: race nitrous 0.0060, 0.0065 and 0.0070 in per inch of bore."""
    given = {"cylinder_bore": 4.060, "piston_alloy": "4032", "nitrous_power": 500, "number_of_cylinders": 8}
    limits = nitrous.limits("top-ring-gap", "street", given)
    (variant,) = limits.variants
    numbers = {(limit.band, limit.side): limit.value for limit in variant.limits}
    assert limits.unit == "in"
    assert limits.needed == ()
    assert numbers["must", "low"] == pytest.approx(4.060 * 0.0060)
    assert numbers["should", "low"] == pytest.approx(4.060 * 0.0065)
    stated = [limit for limit in variant.limits if limit.band != "physics"]
    assert all(limit.basis and limit.origin.startswith("nitrous 1.0.0, nitrous/") for limit in stated)


def test_a_fact_that_is_not_given_is_named_with_the_numbers_of_each_choice(nitrous: Rulebook) -> None:
    limits = nitrous.limits("top-ring-gap", "drag", {"cylinder_bore": 4.060, "piston_alloy": "4032"})
    assert limits.needed == ("nitrous_class",)
    least = {variant.facts["nitrous_class"]: variant.limits[0].words for variant in limits.variants}
    assert least == {("mild",): "0.0203 in", ("race",): "0.0244 in"}


def test_nothing_of_the_answer_can_be_written_into(nitrous: Rulebook) -> None:
    known = read_given({"cylinder_bore": 4.0}, nitrous.characteristics)
    variants = nitrous.limits("top-ring-gap", "drag").variants
    assert len(variants) > 1
    for held in (known.values, known.units, *(variant.facts for variant in variants)):
        with pytest.raises(TypeError, match="read-only"):
            held["cylinder_bore"] = 0.0  # type: ignore[index]


def test_a_size_that_is_not_given_is_named_and_the_limit_told_as_the_pack_words_it(nitrous: Rulebook) -> None:
    limits = nitrous.limits("top-ring-gap", "drag", {"piston_alloy": "4032", "nitrous_class": "race"})
    assert limits.needed == ("cylinder_bore",)
    first = limits.variants[0].limits[0]
    assert (first.value, first.needs) == (None, ("cylinder_bore",))
    assert first.words == "larger_of(0.0060*cylinder_bore, 0.0040*cylinder_bore)"


def test_a_fact_that_only_a_computed_size_hangs_on_is_tried_too(nitrous: Rulebook) -> None:
    """Handbook table of expansion coefficients, per degF: ductile iron 5.9e-6, grey iron 6.3e-6; more growth, less gap
    to spare, so the mark above the ring's temperature lies lower."""
    given = {"cylinder_bore": 4.060, "nitrous_class": "mild"}
    limits = nitrous.limits("ring-butting-temperature", "circle-track", given)
    above = {
        choice: limit.value
        for variant in limits.variants
        for choice in variant.facts["top_ring_material"]
        for limit in variant.limits
        if limit.band == "should"
    }
    assert above["ductile iron"] == pytest.approx(500 + 0.004 / (3.14159265 * 4.060 * 5.9e-6), abs=0.01)
    assert above["grey iron"] == pytest.approx(500 + 0.004 / (3.14159265 * 4.060 * 6.3e-6), abs=0.01)


def test_a_limit_that_hangs_on_how_many_parts_there_are_is_no_number(nitrous: Rulebook) -> None:
    """A bob weight has one rod's mass or two, by the crank: nothing given here says which."""
    masses = {"rod_big_end_mass": 450, "rod_small_end_mass": 180, "rod_shell_mass": 40, "piston_mass": 420}
    more = {"piston_pin_mass": 120, "ring_set_mass": 40, "pin_lock_mass": 3, "bob_weight_oil": 4}
    share = {"reciprocating_share": 50}
    limits = nitrous.limits("bob-weight", "drag", {**masses, **more, **share})
    assert [limit.value for variant in limits.variants for limit in variant.limits] == [None, None]
    told = nitrous.limits("bob-weight", "drag", {**masses, **more, **share, "rods_per_crankpin": 2})
    assert all(limit.value for variant in told.variants for limit in variant.limits)


def test_whether_a_fact_is_known_at_all_can_be_what_counts() -> None:
    limits = load_rulebook("four-stroke").limits("fastener-preload-least", "street")
    assert any(NOT_KNOWN in variant.facts["fastener_place"] for variant in limits.variants)


@examples(25)
@given(bore=st.floats(2.0, 6.0))
def test_a_number_a_text_and_the_other_unit_give_the_same(nitrous: Rulebook, bore: float) -> None:
    inches = round(bore, 4)
    asked = (inches, f"{inches:.4f}", f"{inches:.4f} in", f"{inches * INCH:.6f} mm")
    lowest = []
    for written in asked:
        limits = nitrous.limits("second-ring-gap", "drag", {"cylinder_bore": written})
        value = limits.variants[0].limits[0].value
        assert value is not None
        lowest.append(value if limits.unit == "in" else value / INCH)
    assert lowest == pytest.approx([inches * 0.0050] * 4, rel=1e-5)  # ring gap charts: a small shot's top ring 0.0050


def test_limits_agree_with_what_a_check_says() -> None:
    """A value on the computed limit is within; one a hair beyond it is not."""
    rulebook = gear_rulebook()
    (variant,) = rulebook.limits("backlash", "heavy", {"gear_module": "2 mm"}).variants
    least = next(limit.value for limit in variant.limits if (limit.band, limit.side) == ("should", "low"))
    assert least is not None
    for value, verdict in ((least, "within"), (least - 0.0001, "advisory")):
        page = page_on(rulebook, "backlash", ("heavy",), gear_module="2 mm", backlash=f"{value:.6f} mm")
        assert section(page, "Limits for")[-1].endswith(verdict)


def test_a_rule_that_is_not_for_a_use_or_for_these_facts_says_why(nitrous: Rulebook) -> None:
    assert gear_rulebook().limits("centre-distance", "precise").not_applicable.startswith("The meshes of")
    limits = nitrous.limits("one-piece-oil-ring-gap", "drag", {"oil_ring_design": "three-piece"})
    assert limits.not_applicable == 'applies only when oil ring design is "one-piece"'
    assert limits.variants == ()
    assert nitrous.limits("one-piece-oil-ring-gap", "drag").applies_when == ('when oil_ring_design is "one-piece"',)


@pytest.mark.parametrize(
    ("name", "value", "message"),
    [
        ("gear_modul", "2mm", "unknown characteristic 'gear_modul' .did you mean 'gear_module'"),
        ("gear_module", "", "gear_module"),
        ("gear_module", "2 kg", "gear_module: '2 kg' gives mass"),
        ("gear_module", "1 to 2 mm", "is not one value"),
        ("gear_module", "9000 mm", "gear_module: 9000 mm is outside what is possible"),
        ("gear_module", 9000.0, "gear_module: 9000.0 is outside what is possible"),
        ("gear_module", float("nan"), "gear_module: nan is outside what is possible"),
        ("gear_module", True, "gear_module: found bool, expected a number or a text"),
        ("gear_module", None, "gear_module: found NoneType, expected a number or a text"),
        ("gear_module", [2.0], "gear_module: found list, expected a number or a text"),
        ("gear_module", 10**400, "gear_module: a number beyond any measurement"),
        ("gear_module", Decimal("sNaN"), "gear_module: a number beyond any measurement"),
        ("gear_module", Decimal("NaN"), "gear_module: NaN is outside what is possible"),
        ("oil", "minral", "oil: it cannot be 'minral' .one of mineral, synthetic"),
        ("oil", 1, "oil: it cannot be '1'"),
    ],
)
def test_what_cannot_be_read_or_cannot_be_is_refused(name: str, value: Any, message: str) -> None:
    with pytest.raises(UsageError, match=message):
        gear_rulebook().limits("backlash", "general", {name: value})


def test_a_decimal_is_a_size_as_it_is_in_a_record() -> None:
    rulebook = gear_rulebook()
    told = (rulebook.limits("backlash", "general", {"gear_module": size}) for size in (Decimal("2.5"), 2.5))
    assert next(told).variants == next(told).variants


def test_a_quantity_of_pint_is_a_size_too() -> None:
    sizes = "2 mm", REGISTRY.Quantity(0.2, "cm")
    one, other = (gear_rulebook().limits("backlash", "general", {"gear_module": size}) for size in sizes)
    assert [limit.words for limit in one.variants[0].limits] == [limit.words for limit in other.variants[0].limits]
    with pytest.raises(UsageError, match="the unit 'furlong' is none that is read here"):
        gear_rulebook().limits("backlash", "general", {"gear_module": REGISTRY.Quantity(2, "furlong")})


# Finding rules


def test_rules_are_found_by_any_words_and_narrowed_by_more(nitrous: Rulebook) -> None:
    main, clearance = found(nitrous, "main"), found(nitrous, "main", "clearance")
    assert "main-oil-clearance" in clearance
    assert set(clearance) < set(main)
    assert {"top-ring-gap", "second-ring-gap"} <= set(found(nitrous, "ring", "gap"))
    assert found(nitrous, "RINGS", "gaps") == found(nitrous, "ring", "gap")


def test_a_name_or_title_finds_its_rule_alone(nitrous: Rulebook) -> None:
    assert found(nitrous, "top-ring-gap") == found(nitrous, "Top", "ring", "end", "gap") == ["top-ring-gap"]


def test_a_part_of_a_word_is_enough_where_no_whole_word_fits(nitrous: Rulebook) -> None:
    assert "ring-butting-temperature" in found(nitrous, "butt")


# The command


def test_the_answer_fits_on_one_screen(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    sizes = ["--at", "cylinder_bore=4.060", "--at", "piston_alloy=4032", "--at", "nitrous_class=race"]
    assert main(["limits", "ring", "gap", "--for", "drag", "--pack", "nitrous", *sizes]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= 25
    assert max(map(len, lines)) <= 80
    assert lines[0].startswith("12 rules of four-stroke 1.0.0, nitrous 1.0.0; for Drag; cylinder bore 4.060 in,")
    top = next(line for line in lines if line.startswith("Top ring end gap "))
    assert " ".join(top.split()) == "Top ring end gap 0.0244 in min 0.0264 to 0.0334 in trade press"


def test_a_pack_on_top_may_be_named_like_a_use(capsys: pytest.CaptureFixture[str]) -> None:
    """It is shown on the first use that it goes with, and in one screen."""
    sizes = ["--at", "cylinder_bore=4.060", "--at", "piston_alloy=4032"]
    assert main(["limits", "ring", "gap", "--for", "nitrous", *sizes]) == 0
    named = capsys.readouterr().out
    assert main(["limits", "ring", "gap", "--for", "street", "--pack", "nitrous", *sizes]) == 0
    assert named == capsys.readouterr().out
    assert len(named.splitlines()) <= 30
    assert "for Street" in named and "0.0203" in named
    assert main(["limits", "ring", "gap", "--for", "nitrus"]) == 2
    assert "did you mean 'nitrous'?" in capsys.readouterr().err


def test_few_rules_are_told_with_what_they_hang_on(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["limits", "oil", "rail", "end", "gap", "--for", "street"]) == 0
    told = capsys.readouterr().out
    assert "Oil rail end gap, the tighter" in told
    assert 'applies when oil ring design is "three-piece"' in told


def test_many_rules_without_a_use_are_listed_by_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["limits", "main"]) == 0
    told = capsys.readouterr().out
    assert "Main bearing oil clearance\n" in told
    assert "Name a use with --for to see their limits: street, " in told


def test_one_rule_without_a_use_shows_all_uses_side_by_side(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["limits", "top-ring-gap", "--at", "cylinder_bore=4", "--at", "piston_alloy=4032"]) == 0
    told = section(capsys.readouterr().out, "Limits for cylinder bore 4 in, piston alloy 4032")
    assert told[told.index("Drag") + 2].startswith("required    at least 0.0160 in")


def test_a_pack_on_top_of_the_uses_counts_where_it_is_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["limits", "top-ring-gap", "--at", "cylinder_bore=4", "--at", "piston_alloy=4032", "--for", "drag"]
    assert main([*asked, "--pack", "nitrous", "--at", "nitrous_class=race"]) == 0
    page = capsys.readouterr().out
    told = section(page, "Limits for cylinder bore 4 in, piston alloy 4032")
    assert told[told.index("Drag") + 2].startswith("required    at least 0.0240 in")
    assert "larger of 0.0060 x cylinder bore and the limit that counts without it" in " ".join(page.split())
    assert main(["limits", "gasket-kind-for-nitrous"]) == 0
    assert capsys.readouterr().out.startswith("Head gasket kind for the nitrous shot")


def test_json_has_the_same_for_programs(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["limits", "top-ring-gap", "--for", "drag", "--at", "cylinder_bore=4.000 in", "--format", "json"]
    assert main(asked) == 0
    (book,) = json.loads(capsys.readouterr().out)["rulebooks"]
    (limits,) = book["limits"]
    assert [pack["name"] for pack in book["packs"]] == ["four-stroke"]
    assert limits["needed"] == ["piston_alloy", "top_ring_position"]
    assert limits["variants"][0]["facts"] == {"piston_alloy": ["cast", "4032", "2618"]}
    assert limits["variants"][0]["limits"][0]["value"] == pytest.approx(0.0160)


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (["backlsh"], "did you mean 'backlash'?"),
        (["clearence"], "did you mean 'clearance'?"),
        (["backlash", "--for", "genral"], "no application 'genral' in gear-train 1.2.0 (did you mean 'general'?)"),
        (["backlash", "--at", "gear_module"], "--at gear_module: no value (write NAME=VALUE"),
        (["backlash", "--at", "gear_module=2", "--at", "gear_module=3"], "--at gear_module is given twice"),
    ],
)
def test_what_is_not_found_gets_the_nearest_name(
    asked: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["limits", *asked, "--pack", str(GEAR_TRAIN)]) == 2
    assert message in capsys.readouterr().err


def test_a_bare_number_in_the_other_unit_is_told_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["limits", "top-ring-gap", "--for", "drag", "--at", "cylinder_bore=103"]) == 2
    assert "did you mean 103 mm?" in capsys.readouterr().err


def test_a_use_that_no_installed_pack_has_gets_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["limits", "ring", "--for", "marin"]) == 2
    assert "no installed rule pack has a use 'marin' (did you mean 'marine'?)" in capsys.readouterr().err
    assert main(["new-record", "engine.yaml", "--for", "nitrous"]) == 2
    assert "(nitrous is a rule pack: name it with --pack" in capsys.readouterr().err


# One rule in full


def test_the_head_says_what_is_judged_where_and_when() -> None:
    page = page_on(gear_rulebook(), "shaft-clearance")
    assert page.startswith("Shaft clearance in its bearing\n")
    assert "judges shaft clearance in its bearing at every shaft, due before shafts-in" in page
    assert "where it was not measured it is bearing bore - shaft diameter" in page
    assert "gear-train 1.2.0, gear_train/shafts.yaml:" in page


def test_limits_are_words_until_the_size_is_given() -> None:
    assert section(page_on(gear_rulebook(), "backlash"), "Limits")[1:4] == [
        "required    at least 0.02 x module [1], at most 0.08 x module [1]",
        "recommended at least 0.03 x module [1], at most 0.05 x module [1]",
        "still needed: module",
    ]


def test_each_use_shows_what_it_states_and_what_it_inherits() -> None:
    """Worked by hand for a module of 2 mm; "precise" is like "general" but for one limit."""
    assert section(page_on(gear_rulebook(), "backlash", gear_module="2 mm"), "Limits for gear_module 2 mm") == [
        "General duty",
        "required    at least 0.04 mm [1], at most 0.16 mm [1]",
        "recommended at least 0.06 mm [1], at most 0.10 mm [1]",
        "Positioning, both ways round",
        "required    at least 0.04 mm [1], at most 0.16 mm [1]",
        "recommended at least 0.06 mm [1], at most 0.08 mm [2]",
        "Heavy duty with shocks",
        "required    at least 0.06 mm [3], at most 0.20 mm [3]",
        "recommended at least 0.08 mm [3], at most 0.12 mm [3]",
    ]


def test_for_one_use_only_what_counts_for_it_is_stated() -> None:
    page = page_on(gear_rulebook(), "backlash", ("heavy",), gear_module="2 mm")
    assert [line[:10] for line in section(page, "Stated") if line.startswith("[")] == ["[1] Heavy "]


def test_limits_are_shown_in_the_units_of_the_size() -> None:
    """2 mm is 0.07874 in; 0.02 of it is 0.0016 in, 0.08 of it 0.0063 in."""
    page = page_on(gear_rulebook(), "backlash", gear_module="0.07874in")
    assert "required    at least 0.0016 in [1], at most 0.0063 in [1]" in section(page, "Limits for")


def test_where_everything_is_given_the_verdict_is_shown() -> None:
    page = page_on(gear_rulebook(), "backlash", gear_module="2mm", backlash="0.11mm")
    assert [line for line in section(page, "Limits for") if " is " in line] == [
        "0.11 mm is advisory",
        "0.11 mm is advisory",
        "0.11 mm is within",
    ]


def test_facts_settle_conditions() -> None:
    page = page_on(gear_rulebook(), "shaft-clearance", bearing_kind="plain", shaft_diameter="50mm")
    assert section(page, "Limits for") == ["every use", "required    at least 0.04 mm [1], at most 0.10 mm [1]"]
    assert "kind of bearing rolling" in section(page_on(gear_rulebook(), "shaft-clearance"), "Limits")


def test_a_use_that_a_rule_is_not_for_and_one_without_limits(tmp_path: Path) -> None:
    page = page_on(gear_rulebook(), "centre-distance")
    assert "not applicable: The meshes of a positioning train are set by their backlash." in page
    more = SHOP.partition("amends")[0] + "applications: {marine: {title: On board}}\n"
    rulebook = gear_rulebook(write_pack(tmp_path / "shop", pack=more))
    assert section(page_on(rulebook, "backlash"), "Limits")[-2:] == ["On board", "no limit is known"]


def test_every_limit_has_its_line_and_basis_and_what_it_overrules(shop: Path) -> None:
    page = page_on(gear_rulebook(shop), "backlash")
    assert "amended by shop 2.1.0, shop/pack.yaml:8: Our customers run them hard." in page
    assert section(page, "Stated")[:3] == [
        "[1] General duty: required at most 0.06 x module",
        "shop 2.1.0, shop/pack.yaml:10",
        "shop policy: Agreed in spring.",
    ]
    assert section(page, "Overruled: gear-train 1.2.0")[0] == "General duty: required at most 0.08 x module"


def test_remedies_cautions_concessions_and_cases() -> None:
    page = page_on(gear_rulebook(), "oil-kind")
    assert "When broken: Change to an oil that suits the duty." in page
    assert "No concession may be given." in page
    assert "Held by 7 cases" in page
    assert "required    be mineral or synthetic [1]" in page


def test_every_shipped_pack_has_pages_that_fit() -> None:
    """A handful of the rules that each pack states or amends; a page takes a while, and all are made alike."""
    plugins = gather()
    for name in plugins.rule_packs:
        rulebook = load_rulebook(name, plugins=plugins)
        own = [rule for rule, compiled in rulebook.rules.items() if name in stating(compiled)]
        for rule in own[:: len(own) // 5 + 1]:
            page = page_on(rulebook, rule)
            assert "Limits\n" in page
            assert max(map(len, page.splitlines())) <= WIDTH


def test_a_makers_sheet_in_the_packs_is_told_and_nothing_is_judged_without_it(tmp_path: Path) -> None:
    """The rule allows 0.05 mm and advises 0.03 mm; the maker of these machines 0.02 mm, by which a check judges."""
    sheet = "part_limits: {joint_gap: {at_most: 0.02 mm, source: gearbox maker's manual}}\n"
    book = gear_rulebook(write_pack(tmp_path / "shop", pack=SHOP + sheet))
    given = read_given({"joint_gap": "0.025 mm"}, book.characteristics)
    assert book.limits("joint-gap", "general", {"joint_gap": "0.025 mm"}).part_sheet == (
        "at most 0.02 mm (gearbox maker's manual)"
    )
    page = limits_page(book, book.rules["joint-gap"], ["general"], given, "", PLAIN)
    assert "0.02 mm (gearbox maker's manual)" in " ".join(page.split())
    assert "is within" not in page
    assert book.limits("backlash", "general").part_sheet == ""


def test_what_hangs_on_other_parts_is_not_judged_of_one() -> None:
    """One gear of 9 kg on a shaft is within the 25 kg, and one length has no spread; of others nothing was said."""
    sizes = {"shaft_diameter": "50 mm", "shaft_length": "100 mm", "gear_mass": "9 kg"}
    assert "is within" not in page_on(gear_rulebook(), "shaft-weight", ("general",), **sizes)
    assert "is within" not in page_on(
        load_rulebook("four-stroke"), "rod-length-spread", ("street",), rod_length="5.7 in"
    )
    assert "0.04 mm is advisory" in page_on(gear_rulebook(), "joint-gap", ("general",), joint_gap="0.04 mm")
