"""Vetting: what no case notices is listed, what does not fit is warned of, and amendments may overrule cases."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path

import pytest
from judging import rulebook
from pack_tools import GEAR_TRAIN, gear_rulebook, write_pack

from checker.cli import main
from checker.errors import PackError
from checker.plugins import gather
from checker.rulebook import load_rulebook
from checker.vetting.strength import Weakness
from checker.vetting.vetting import Vetting, vet

HEAD = """
pack: shop
version: 1.0.0
rule_language: 1
title: Shop policy
builds_on: {gear-train: ">=1,<2"}
"""
KEY = """
characteristics:
  key_width:    {title: Key width, per: shaft, unit: mm, plausible: [1 mm, 50 mm]}
"""
KEYS = (
    KEY
    + """\
  key_material: {title: Key material, choices: [steel, brass, plastic]}
  key_number:   {title: Keys on a shaft, unit: "1", plausible: [1, 4]}
"""
)
RULE = """
rules:
  key-width:
    title: Key width
    before: gears-on
    judges: key_width
    limits: {any: {must: {at_least: 5 mm}}}
    basis: shop policy
    remedy: {low: Fit a wider key.}
"""
CASES = "    cases: [{application: general, given: {}, vary: key_width, within: [5.5 mm], outside: [4.5 mm]}]\n"


def vetted(folder: Path, *parts: str) -> Vetting:
    """A pack on top of the gear train, vetted by itself."""
    write_pack(folder / "shop", pack=HEAD + "".join(parts))
    return vet(gear_rulebook(folder / "shop"), ["shop"])


def told(found: Iterable[Weakness]) -> list[str]:
    return [f"{item.name}: {item.message}" for item in found]


def test_a_file_that_is_not_read_is_told_of(tmp_path: Path) -> None:
    """Its limits would not count, and nobody would know."""
    folder = write_pack(tmp_path / "shop", pack=HEAD + KEY + RULE + CASES)
    for name in ("policy.yml", "Policy.yaml", "policy.YAML"):
        (folder / name).write_text(RULE)
        with pytest.raises(PackError, match=f"'{name}' is not a usable file name in a pack .small letters"):
            gear_rulebook(folder)
        (folder / name).unlink()
    for below, text in (("limits", RULE), ("records", "record: 1\n"), ("another", HEAD), (".tools", RULE)):
        (folder / below).mkdir()
        (folder / below / ("pack.yaml" if text == HEAD else "more.yaml")).write_text(text)
    warnings = vet(gear_rulebook(folder), ["shop"]).warnings
    assert [str(item) for item in warnings] == [
        "shop/limits/more.yaml:1: shop: this is not read: move it beside pack.yaml, or cases into cases/"
    ]


def test_a_folder_of_cases_holds_cases_alone(tmp_path: Path) -> None:
    folder = write_pack(tmp_path / "shop", pack=HEAD + KEYS + RULE + CASES)
    (folder / "cases").mkdir()
    (folder / "cases" / "keys.yaml").write_text(RULE.replace("key-width", "key-depth"))
    with pytest.raises(PackError, match=r"shop/cases/keys.yaml:2:1: rules: this is not read in a file of cases"):
        vet(gear_rulebook(folder), ["shop"])
    (folder / "cases" / "keys.yaml").rename(folder / "cases" / "keys.yml")
    with pytest.raises(PackError, match=r"shop/cases/keys.yml: this is not read .let its name end in .yaml"):
        vet(gear_rulebook(folder), ["shop"])


def test_a_guarded_pack_is_sound(tmp_path: Path) -> None:
    result = vetted(tmp_path, KEY, RULE, CASES)
    assert result.is_sound
    assert told(result.warnings) == []


def test_what_nothing_uses_is_told_of(tmp_path: Path) -> None:
    """Not what is derived, to be told in the report, nor what a remedy or another source names."""
    more = """
  key_length: {title: Key length, unit: mm, plausible: [1 mm, 50 mm]}
  key_share:  {title: Share of the key, unit: "1", plausible: [0, 5], derived: key_length/least_length}
  key_room:   {title: Room for the key, unit: mm, plausible: [1 mm, 50 mm]}
constants:
  least_length:  {value: 12, unit: mm, basis: from memory}
  widest_key:    {value: 30, unit: mm, basis: from memory}
  narrowest_key: {value: 2, unit: mm, basis: from memory}
"""
    rule = RULE.replace("Fit a wider key.", '"Fit one of {widest_key} at most, in {key_room}."')
    result = vetted(tmp_path, KEYS, more.lstrip("\n"), rule, CASES)
    assert told(result.warnings) == [
        "narrowest_key: nothing uses this constant",
        "key_material: no rule uses this characteristic",
        "key_number: no rule uses this characteristic",
    ]


@pytest.mark.parametrize("name", gather().rule_packs)
def test_every_shipped_pack_is_sound(name: str) -> None:
    result = vet(rulebook(name), [name])
    assert result.failures == ()
    assert result.unguarded == ()


def test_a_case_that_comes_out_otherwise_is_named_with_its_source(tmp_path: Path) -> None:
    wrong = "    cases: [{application: general, given: {key_width: 4 mm}, verdict: within, source: Handbook}]\n"
    result = vetted(tmp_path, KEYS, RULE, wrong)
    (failure,) = result.failures
    assert "within expected, outside found (Handbook)" in str(failure)
    assert failure.case.place.line == 21


@pytest.mark.parametrize(
    ("expected", "message"),
    [
        ("verdict: outside, side: high", "too high expected, too low found"),
        ("verdict: outside, value: 4.1 mm", "a value of 4.1 mm expected, 4 mm found"),
        ('verdict: outside, remedy: "wider shaft"', "'wider shaft' expected in the remedy"),
        ("verdict: outside, station: 3", "there is no station 3"),
    ],
)
def test_whatever_a_case_states_is_held(tmp_path: Path, expected: str, message: str) -> None:
    case = f"    cases: [{{application: general, given: {{key_width: 4 mm}}, {expected}}}]\n"
    (failure,) = vetted(tmp_path, KEYS, RULE, case).failures
    assert message in str(failure)


def test_a_rule_without_cases_is_unguarded(tmp_path: Path) -> None:
    assert told(vetted(tmp_path, KEYS, RULE).unguarded) == ["key-width: has no case at all"]


def test_a_limit_is_guarded_on_both_sides_only_by_values_near_it(tmp_path: Path) -> None:
    far = "    cases: [{application: general, given: {}, vary: key_width, within: [20 mm], outside: [4.5 mm]}]\n"
    assert told(vetted(tmp_path, KEYS, RULE, far).unguarded) == ["key-width: any: must low 5 mm raised by a fifth"]


def test_a_limit_of_zero_is_moved_too(tmp_path: Path) -> None:
    rule = RULE.replace("at_least: 5 mm", "at_least: 0 mm").replace("key_width\n", "key_width - 10 mm\n")
    case = "    cases: [{application: general, given: {key_width: 50 mm}, verdict: within}]\n"
    found = told(vetted(tmp_path, KEYS, rule.replace("    limits", "    unit: mm\n    limits"), case).unguarded)
    assert found == [f"key-width: any: must low 0 mm {word} by a fifth" for word in ("raised", "lowered")]


def test_flipped_conditions_must_be_noticed(tmp_path: Path) -> None:
    rule = RULE + "    when: key_material is steel\n    unless: key_number > 2\n"
    idle = "    cases: [{application: general, given: {key_width: 9 mm}, verdict: not measured}]\n"
    found = told(vetted(tmp_path, KEYS, rule, idle).unguarded)
    assert "key-width: when key_material is steel: flipped" in found
    assert "key-width: unless key_number > 2: flipped" in found


def test_flipped_conditions_of_limits_must_be_noticed(tmp_path: Path) -> None:
    same = "application: any, must: {at_least: 5 mm}"
    listed = f"[{{when: key_material is steel, {same}}}, {{{same}}}]"
    rule = RULE.replace("{any: {must: {at_least: 5 mm}}}", listed)
    found = told(vetted(tmp_path, KEYS, rule, CASES.replace("given: {}", "given: {key_material: brass}")).unguarded)
    assert "key-width: any: when key_material is steel: flipped" in found


def test_each_choice_must_be_held(tmp_path: Path) -> None:
    rule = RULE.replace("judges: key_width", "judges: key_material").replace("remedy: {low", "remedy: {broken")
    rule = rule.replace("at_least: 5 mm", "one_of: [steel, brass]")
    case = "    cases: [{application: general, given: {}, vary: key_material, within: [steel], outside: [plastic]}]\n"
    assert told(vetted(tmp_path, KEYS, rule, case).unguarded) == [
        "key-width: any: must broken steel, brass without brass"
    ]


TABLE = """
tables:
  least_key:
    x: {unit: mm}
    y: {unit: mm}
    linear: [[10, 3], [30, 8], [50, 14]]
    basis: from memory
"""


def test_each_row_of_a_table_must_be_held(tmp_path: Path) -> None:
    rule = RULE.replace("5 mm", "least_key(shaft_diameter)")
    case = """    cases:
      - {application: general, given: {shaft_diameter: 10 mm}, vary: key_width, within: [3.2 mm], outside: [2.8 mm]}
      - {application: general, given: {shaft_diameter: 30 mm}, vary: key_width, within: [8.2 mm], outside: [7.8 mm]}
"""
    rows = [f"least_key: the row at 50: 14 {word} by a fifth" for word in ("raised", "lowered")]
    assert told(vetted(tmp_path, KEYS, TABLE, rule, case).unguarded) == rows


def test_a_row_counts_through_derived_values_too(tmp_path: Path) -> None:
    derived = KEYS.replace("[1 mm, 50 mm]}", "[1 mm, 50 mm], derived: least_key(shaft_diameter)}", 1)
    case = "    cases: [{application: general, given: {shaft_diameter: 10 mm}, verdict: outside, value: 3.0 mm}]\n"
    found = told(vetted(tmp_path, derived, TABLE, RULE, case).unguarded)
    assert "least_key: the row at 10: 3 raised by a fifth" not in found
    assert "least_key: the row at 30: 8 raised by a fifth" in found


@pytest.mark.parametrize(
    ("change", "warning"),
    [
        (("{any: {must", "{heavy: {must"), "has no limit for general, precise"),
        (("at_least: 5 mm", "at_least: 60 mm"), "no plausible value reaches must at_least 60 mm"),
        (("at_least: 5 mm", "at_least: 0.5 mm"), "every plausible value meets must at_least 0.5 mm"),
        (("at_least: 5 mm", "at_least: key_width"), "every plausible value meets must at_least key_width"),
        (("at_least: 5 mm", "at_least: 5 mm, at_most: 30 mm"), "has no remedy for too high"),
        (("low: Fit a wider key.", "low: Wider., high: Narrower."), "has a remedy for too high, but no such limit"),
        (
            ("    judges", "    when: key_material is steel and key_material is brass\n    judges"),
            "when key_material is steel and key_material is brass: no record seems able to meet it",
        ),
        (
            ("    judges", "    when: key_number > 7\n    judges"),
            "when key_number > 7: no record seems able to meet it",
        ),
        (
            ("at_least: 5 mm}", "at_least: 49 mm}, should: {at_most: 4 mm}"),
            "general: nothing lies between must at_least 49 mm and should at_most 4 mm",
        ),
    ],
)
def test_what_does_not_fit_is_warned_of(tmp_path: Path, change: tuple[str, str], warning: str) -> None:
    assert f"key-width: {warning}" in told(vetted(tmp_path, KEYS, RULE.replace(*change)).warnings)


def test_rules_that_contradict_each_other_are_warned_of(tmp_path: Path) -> None:
    second = RULE.replace("rules:\n", "").replace("key-width:", "slim-key:").replace("at_least: 5", "at_most: 4")
    found = told(vetted(tmp_path, KEYS, RULE, second).warnings)
    assert "key-width: general: must at_least 5 mm contradicts must at_most 4 mm of slim-key" in found


AMENDMENT = """
amends:
  backlash:
    because: Our customers run them hard.
    limits: {general: {must: {at_most: 0.06}}}
    basis: shop policy
    cases:
      - {application: general, given: {gear_module: 2 mm}, vary: backlash, advisory: [0.118 mm], outside: [0.122 mm]}
"""


def test_cases_that_an_amendment_overrules_are_no_failures(tmp_path: Path) -> None:
    result = vetted(tmp_path, AMENDMENT)
    assert result.is_sound
    # 0.155 mm on a module of 2 mm was advisory up to 0.08; the positioning train is like the general one.
    assert result.overruled == 1


def test_cases_of_rules_that_nobody_amended_must_still_hold(tmp_path: Path) -> None:
    """Only the base could be to blame; a wrong case there is told whoever vets on top of it."""
    base = tmp_path / "base"
    for file in GEAR_TRAIN.glob("*.yaml"):
        text = file.read_text().replace("outside: [-0.005 mm, 0.065 mm]", "outside: [0.005 mm, 0.065 mm]")
        write_pack(base, **{file.stem: text})
    write_pack(tmp_path / "shop", pack=HEAD + AMENDMENT)
    (failure,) = vet(load_rulebook(base, tmp_path / "shop"), ["shop"]).failures
    assert failure.case.rule == "centre-distance"


def test_a_new_use_is_held_against_the_rules_below(tmp_path: Path) -> None:
    result = vetted(tmp_path, "applications:\n  marine: {title: On board}\n")
    assert told(result.warnings) == [
        "backlash: has no limit for marine",
        "oil-kind: has no limit for marine",
    ]


def test_a_rule_for_the_uses_of_its_own_pack_need_not_speak_of_others(tmp_path: Path) -> None:
    rule = RULE.replace("{any: {must", "{marine: {must")
    case = CASES.replace("application: general", "application: marine")
    result = vetted(tmp_path, "applications: {marine: {title: On board, like: heavy}}\n", KEY, rule, case)
    assert told(result.warnings) == []


def test_the_command_writes_text_and_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = write_pack(tmp_path / "shop", pack=HEAD + KEYS + RULE)
    assert main(["test-pack", str(GEAR_TRAIN), str(folder)]) == 1
    told = capsys.readouterr().out
    assert "shop/pack.yaml:14: key-width: has no case at all" in told
    assert told.endswith("0 cases fail; 1 change goes unnoticed.\n")
    assert main(["test-pack", str(GEAR_TRAIN), str(folder), "--format", "json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert data["is_sound"] is False
    expected = {"name": "key-width", "message": "has no case at all", "file": "shop/pack.yaml", "line": 14}
    assert data["unguarded"] == [expected]
    assert main(["test-pack", str(GEAR_TRAIN)]) == 0


def test_a_rule_that_is_retired_with_what_physics_asks_for_is_told_of(tmp_path: Path) -> None:
    base = write_pack(
        tmp_path / "base",
        pack=HEAD.replace("pack: shop", "pack: base")
        + KEYS
        + RULE.replace("basis: shop policy", "basis: {kind: physics, note: it jams}"),
    )
    on_top = 'builds_on: {gear-train: ">=1,<2", base: ">=1"}\nretires: {key-width: {because: We glue the joint.}}\n'
    shop = write_pack(tmp_path / "shop", pack=HEAD.replace('builds_on: {gear-train: ">=1,<2"}\n', on_top))
    (warning,) = told(vet(gear_rulebook(base, shop), ["shop"]).warnings)
    assert warning.startswith("key-width: is retired with what physics asks for")
