"""Packs on top of any use: limits calculated from the limit below them, and classes that follow from readings."""

from __future__ import annotations

import itertools
import pickle
from pathlib import Path

import pytest
from pack_tools import gear_record, gear_rulebook, write_pack

from checker import Decision, Finding, Rulebook, Verdict
from checker.errors import PackError
from checker.reports.json_report import report_data
from checker.reports.text import write_text

HEAD = "pack: {name}\nversion: 1.0.0\nrule_language: 1\ntitle: {name}\nbuilds_on: {{{below}}}\n"
SHOCKS = """\
system: Shocks
characteristics:
  shock_torque: {title: Shock torque, unit: N.m, plausible: [0 N.m, 500 N.m]}
  shock_class: {title: Class of the shocks, choices: [light, hard], derived: light if shock_torque <= 50 N.m else hard}
amends:
  backlash:
    because: Shocks close a mesh.
    limits:
      - application: any
        when: shock_class is hard
        must: {at_least: "larger_of(0.025*gear_module, below)"}
        should: {at_least: below + 0.02 mm}
      - {application: any, must: {at_most: "larger_of(0.09*gear_module, below)"}}
    basis: shop policy
"""
HEAT = """\
system: Heat
amends:
  backlash:
    because: Heat closes a mesh.
    limits: {any: {must: {at_least: "larger_of(0.028*gear_module, below)"}, should: {at_least: below + 0.01 mm}}}
    basis: shop policy
"""
MUST_LOW, SHOULD_LOW = ("must", "low"), ("should", "low")
MODULE = 2.0


def pack(folder: Path, name: str, text: str, below: str = 'gear-train: ">=1"', more: str = "") -> Path:
    return write_pack(folder / name, pack=HEAD.format(name=name, below=below) + more, text=text)


def limits(book: Rulebook, use: str, **facts: str) -> dict[tuple[str, str], float | None]:
    """The limits of the backlash of a mesh of 2 mm module, in millimetres."""
    (variant,) = book.limits("backlash", use, {"gear_module": MODULE, **facts}).variants
    return {(limit.band, limit.side): limit.value for limit in variant.limits}


def mesh(book: Rulebook, backlash: str, more: str = "") -> Finding:
    record = gear_record(f"  gear_module: 2 mm\n  backlash: {{1: {backlash}}}\n{more}")
    return next(found for found in book.check(record).findings if found.name == "backlash")


@pytest.fixture
def shocks(tmp_path: Path) -> Path:
    return pack(tmp_path, "shocks", SHOCKS)


def test_the_stricter_of_the_limit_and_that_below_counts_for_each_use(shocks: Path) -> None:
    """General asks 0.02 of the module at the least, heavy 0.03; the pack on top 0.025."""
    book = gear_rulebook(shocks)
    assert limits(book, "general", shock_class="hard")[MUST_LOW] == pytest.approx(0.025 * MODULE)
    assert limits(book, "heavy", shock_class="hard")[MUST_LOW] == pytest.approx(0.03 * MODULE)
    assert limits(book, "general", shock_class="light")[MUST_LOW] == pytest.approx(0.02 * MODULE)


@pytest.mark.parametrize(("torque", "least"), [("60 N.m", 0.025), ("40 N.m", 0.02)])
def test_a_class_that_follows_from_what_is_given_is_not_asked_for(shocks: Path, torque: str, least: float) -> None:
    book = gear_rulebook(shocks)
    assert limits(book, "general", shock_torque=torque)[MUST_LOW] == pytest.approx(least * MODULE)
    assert limits(book, "general", shock_torque=torque, shock_class="hard")[MUST_LOW] == pytest.approx(0.025 * MODULE)


@pytest.mark.parametrize(("use", "below"), [("general", 0.03), ("precise", 0.03), ("heavy", 0.04)])
def test_an_amount_is_added_to_what_each_use_asks(shocks: Path, use: str, below: float) -> None:
    found = limits(gear_rulebook(shocks), use, shock_class="hard")[SHOULD_LOW]
    assert found == pytest.approx(below * MODULE + 0.02)


def test_the_class_follows_from_what_was_measured_and_is_told(shocks: Path) -> None:
    book = gear_rulebook(shocks)
    report = book.check(gear_record("  shock_torque: 60 N.m\n"))
    assert report_data(report)["derived_facts"] == {"shock_class": "hard"}
    assert ", judged for General duty; class of the shocks: hard\n" in write_text(report)
    assert mesh(book, "0.045 mm", "  shock_torque: 60 N.m\n").verdict is Verdict.OUTSIDE
    assert mesh(book, "0.045 mm", "  shock_torque: 40 N.m\n").verdict is Verdict.ADVISORY


@pytest.mark.parametrize(
    ("torque", "told"),
    [
        ("50 N.m +- 5 N.m", " in doubt"),
        ("52 N.m +- 1 N.m", ": hard"),
        ("46 to 53 N.m", " in doubt"),
        ("50 N.m", ": light"),
    ],
)
def test_a_class_is_told_as_certain_only_where_it_is(shocks: Path, torque: str, told: str) -> None:
    report = gear_rulebook(shocks).check(gear_record(f"  shock_torque: {torque}\n"))
    assert write_text(report).splitlines()[0].endswith(f"; class of the shocks{told}")
    assert ("shock_class" in report_data(report)["derived_facts"]) is (told != " in doubt")


def test_where_readings_count_at_face_value_so_does_the_class(shocks: Path) -> None:
    record = gear_record("  shock_torque: 50 N.m +- 5 N.m\n")
    report = gear_rulebook(shocks).check(record, decision=Decision("simple"))
    assert report_data(report)["derived_facts"] == {"shock_class": "light"}


def test_where_the_class_is_not_known_each_is_tried_and_what_it_follows_from_is_asked_for(shocks: Path) -> None:
    book = gear_rulebook(shocks)
    open_ = mesh(book, "0.045 mm")
    assert open_.verdict is Verdict.NOT_MEASURED
    assert [gap.characteristic for gap in open_.missing] == ["shock_torque"]
    assert "advisory for light" in open_.under_choices[0] and "outside for hard" in open_.under_choices[0]
    assert mesh(book, "0.090 mm").verdict is Verdict.WITHIN
    assert mesh(book, "0.030 mm").verdict is Verdict.OUTSIDE


def test_a_class_that_its_reading_cannot_tell_decides_nothing(shocks: Path) -> None:
    record = gear_record(
        "  gear_module: 2 mm\n  backlash: {1: 0.070 mm}\n  shock_torque: {with: gauge, values: 49.9 N.m}\n",
        more="instruments: {gauge: {expanded_uncertainty: 0.5 N.m}}\n",
    )
    (found,) = (one for one in gear_rulebook(shocks).check(record).findings if one.name == "backlash")
    assert found.verdict not in (Verdict.WITHIN, Verdict.ADVISORY)


def test_two_packs_that_do_not_know_each_other_both_count_on_top(shocks: Path, tmp_path: Path) -> None:
    heat = pack(tmp_path, "heat", HEAT)
    for order in itertools.permutations([shocks, heat]):
        found = limits(gear_rulebook(*order), "general", shock_class="hard")
        assert found[MUST_LOW] == pytest.approx(0.028 * MODULE)
        assert found[SHOULD_LOW] == pytest.approx(0.03 * MODULE + 0.03)


@pytest.mark.parametrize("asked", [0.028, 0.035])
def test_a_second_pack_on_top_that_names_a_use_counts_for_those_like_it(
    shocks: Path, tmp_path: Path, asked: float
) -> None:
    """Heavy is like general and asks for 0.03 of the module itself: it is never judged softer than general."""
    limit = f'general: {{must: {{at_least: "larger_of({asked}*gear_module, below)"}}}}'
    text = f"amends:\n  backlash:\n    because: Heat closes a mesh.\n    limits: {{{limit}}}\n    basis: shop policy\n"
    for order in itertools.permutations((shocks, pack(tmp_path, "heat", text))):
        book = gear_rulebook(*order)
        found = {use: limits(book, use, shock_class="hard")[MUST_LOW] for use in ("general", "heavy")}
        assert found == pytest.approx({"general": asked * MODULE, "heavy": max(asked, 0.03) * MODULE})


SHOP = """\
system: Ours
amends:
  backlash:
    because: We like it wide.
    limits: {any: {must: {at_least: 0.022}}, heavy: {should: {at_least: 0.05}}}
    basis: shop policy
"""


@pytest.mark.parametrize("name", ["a-shop", "zshop"])
def test_a_shop_that_does_not_know_what_is_on_top_lies_below_it(shocks: Path, tmp_path: Path, name: str) -> None:
    book = gear_rulebook(shocks, pack(tmp_path, name, SHOP))
    assert limits(book, "general", shock_class="light")[MUST_LOW] == pytest.approx(0.022 * MODULE)
    assert limits(book, "general", shock_class="hard")[MUST_LOW] == pytest.approx(0.025 * MODULE)
    assert limits(book, "heavy", shock_class="hard")[SHOULD_LOW] == pytest.approx(0.05 * MODULE + 0.02)


def test_a_shop_that_builds_on_what_is_on_top_overrules_it(shocks: Path, tmp_path: Path) -> None:
    book = gear_rulebook(shocks, pack(tmp_path, "a-shop", SHOP, below='shocks: ">=1", gear-train: ">=1"'))
    found = limits(book, "heavy", shock_class="hard")
    assert found[MUST_LOW] == pytest.approx(0.022 * MODULE)
    assert found[SHOULD_LOW] == pytest.approx(0.05 * MODULE)


def test_it_goes_with_the_uses_of_a_pack_it_does_not_know(shocks: Path, tmp_path: Path) -> None:
    uses = "applications: {crane: {title: Crane, like: heavy}}\n"
    own = SHOP.replace("heavy:", "crane:")
    book = gear_rulebook(shocks, pack(tmp_path, "cranes", own, more=uses))
    assert limits(book, "crane", shock_class="hard")[SHOULD_LOW] == pytest.approx(0.05 * MODULE + 0.02)


@pytest.mark.parametrize(
    "written",
    [
        "larger_of(0.01 mm, below)",
        "larger_of(below, 0.01 mm)",
        "larger_of( 0.01 mm , below )",
        "larger_of(0.01 mm, below + 0.01 mm)",
        "larger_of(below, smaller_of(below, 0.01 mm))",
        "2*larger_of(below, 0.005 mm)",
    ],
)
def test_what_it_is_compared_with_counts_alone_where_nothing_lies_below(written: str, tmp_path: Path) -> None:
    text = f"""\
system: Joints
amends:
  lid-gap:
    because: Oil creeps.
    limits: {{any: {{must: {{at_least: "{written}"}}, should: {{at_least: below + 0.01 mm}}}}}}
    basis: shop policy
"""
    base = """\
system: Joints
rules:
  lid-gap:
    title: Joint
    before: housing-closed
    judges: joint_gap
    limits: {any: {must: {at_most: 0.1 mm}}}
    basis: shop policy
    remedy: {low: Open it., high: Close it.}
"""
    below = pack(tmp_path, "joints", base)
    book = gear_rulebook(below, pack(tmp_path, "oily", text, below='joints: ">=1"'))
    (variant,) = book.limits("lid-gap", "general").variants
    told = {(limit.band, limit.side): limit.value for limit in variant.limits}
    assert told == {MUST_LOW: pytest.approx(0.01), ("must", "high"): pytest.approx(0.1)}


def test_a_rulebook_that_went_to_another_program_judges_alike(shocks: Path) -> None:
    book = gear_rulebook(shocks)
    record = gear_record("  gear_module: 2 mm\n  backlash: {1: 0.045 mm}\n  shock_torque: 60 N.m\n")
    again = pickle.loads(pickle.dumps(book))  # noqa: S301 - our own
    assert report_data(again.check(record)) == report_data(book.check(record))


@pytest.mark.parametrize(
    ("wrong", "right", "message"),
    [
        ("below + 0.02 mm", "below + 0.02", "0.02"),
        ("light if shock_torque <= 50 N.m else hard", "light if shock_torque <= 50 N.m else heavy", "heavy"),
        ("light if shock_torque <= 50 N.m else hard", "light + hard", "does not give one of its choices"),
        (
            "larger_of(0.025*gear_module, below)",
            "below/2 + larger_of(0.01 mm, below)",
            "what counts of .* where no limit lies below",
        ),
    ],
)
def test_what_cannot_be_is_told(tmp_path: Path, wrong: str, right: str, message: str) -> None:
    with pytest.raises(PackError, match=message):
        gear_rulebook(pack(tmp_path, "shocks", SHOCKS.replace(wrong, right)))


@pytest.mark.parametrize(
    "written", ['0.5 mm if side is "below" else 0.6 mm', "0.6 mm if side in (above, beside) else 0.5 mm"]
)
def test_a_choice_may_be_called_as_the_limit_below_is(written: str, tmp_path: Path) -> None:
    text = f"""\
system: Joints
characteristics:
  side: {{title: Side, choices: [above, beside, below]}}
amends:
  joint-gap:
    because: Oil creeps.
    limits: {{any: {{must: {{at_most: none, at_least: '{written}'}}}}}}
    basis: shop policy
"""
    book = gear_rulebook(pack(tmp_path, "oily", text))
    (variant,) = book.limits("joint-gap", "general", {"side": "below"}).variants
    assert {(limit.band, limit.side): limit.value for limit in variant.limits}[MUST_LOW] == pytest.approx(0.5)


def test_a_rule_of_its_own_has_nothing_below(tmp_path: Path) -> None:
    text = """\
system: Joints
rules:
  lid-gap:
    title: Joint
    before: housing-closed
    judges: joint_gap
    limits: {any: {must: {at_most: below + 0.1 mm}}}
    basis: shop policy
    remedy: {high: Close it.}
"""
    with pytest.raises(PackError, match=r"nothing lies below 'below \+ 0.1 mm'"):
        gear_rulebook(pack(tmp_path, "joints", text))


NOTHING_BELOW = """\
system: Ours
amends:
  backlash:
    because: Set by ear.
    limits: {any: {must: {at_least: none}, should: {at_least: none}}}
    basis: shop policy
"""
MESHES = """\
system: Meshes
amends:
  backlash:
    because: Teeth that meet break.
    limits: {any: {must: {at_least: 0.004}}}
    basis: {kind: physics, note: the teeth meet}
"""


@pytest.mark.parametrize("name", ["a-shop", "zshop"])
def test_where_a_shop_removes_the_limit_nothing_lies_below(shocks: Path, tmp_path: Path, name: str) -> None:
    book = gear_rulebook(shocks, pack(tmp_path, name, NOTHING_BELOW))
    hard = limits(book, "heavy", shock_class="hard")
    assert hard[MUST_LOW] == pytest.approx(0.025 * MODULE)  # what is compared with the limit below counts alone
    assert SHOULD_LOW not in hard  # what is added to it does not
    assert limits(book, "heavy", shock_class="light").keys().isdisjoint((MUST_LOW, SHOULD_LOW))
    again = pickle.loads(pickle.dumps(book))  # noqa: S301 - our own
    assert limits(again, "heavy", shock_class="hard") == hard


def test_a_shop_that_builds_on_what_is_on_top_removes_that_as_well(shocks: Path, tmp_path: Path) -> None:
    shop = pack(tmp_path, "a-shop", NOTHING_BELOW, below='shocks: ">=1", gear-train: ">=1"')
    assert limits(gear_rulebook(shocks, shop), "heavy", shock_class="hard").keys().isdisjoint((MUST_LOW, SHOULD_LOW))


def test_what_physics_asks_for_is_not_removed(tmp_path: Path) -> None:
    meshes = pack(tmp_path, "meshes", MESHES)
    shop = pack(tmp_path, "a-shop", NOTHING_BELOW, below='meshes: ">=1"')
    book = gear_rulebook(meshes, shop)
    assert limits(book, "heavy")["physics", "low"] == pytest.approx(0.004 * MODULE)
    assert (mesh(book, "0.009 mm").verdict, mesh(book, "0.007 mm").verdict) == (Verdict.WITHIN, Verdict.OUTSIDE)
    wrong = NOTHING_BELOW.replace("shop policy", "{kind: physics, note: the teeth meet}").replace("should: ", "")
    wrong = wrong.replace(", {at_least: none}", "")
    with pytest.raises(PackError, match="physics removes no limit"):
        gear_rulebook(meshes, pack(tmp_path, "wrong", wrong, below='meshes: ">=1"'))


DEMANDED = """\
system: Meshes
rules:
  turns:
    title: The train turns
    before: housing-closed
    judges: backlash > 0 mm
    limits:
      - {application: any, LIMIT, basis: {BASIS}}
    remedy: {broken: "Move the centres apart."}
"""
PHYSICS = "kind: physics, note: the teeth meet"


def test_physics_may_demand_that_something_is_so(tmp_path: Path) -> None:
    text = DEMANDED.replace("LIMIT", "must: true").replace("BASIS", PHYSICS)
    book = gear_rulebook(pack(tmp_path, "meshes", text))
    (variant,) = book.limits("turns", "general", {}).variants
    assert [(limit.band, limit.side) for limit in variant.limits] == [("physics", "broken")]
    for backlash, verdict in (("0.00 mm", Verdict.OUTSIDE), ("0.05 mm", Verdict.WITHIN)):
        report = book.check(gear_record(f"  gear_module: 2 mm\n  backlash: {{1: {backlash}}}\n"))
        assert [one.verdict for one in report.findings if one.name == "turns"] == [verdict]


@pytest.mark.parametrize(
    ("limit", "basis", "message"),
    [
        ("should: true", PHYSICS, "physics is no advice"),
        ("must: true", "kind: physics", "limits of physics need a note"),
        ("must: false", PHYSICS, "what is judged is demanded, not forbidden"),
    ],
)
def test_a_demand_of_physics_is_held_to_what_its_limits_are(
    tmp_path: Path, limit: str, basis: str, message: str
) -> None:
    text = DEMANDED.replace("LIMIT", limit).replace("BASIS", basis)
    with pytest.raises(PackError, match=message):
        gear_rulebook(pack(tmp_path, "meshes", text))


BY_OIL = "derived: {oil: {grease: hard, else: light if shock_torque <= 50 N.m else hard}}"


def test_a_class_may_follow_from_a_fact(tmp_path: Path) -> None:
    text = SHOCKS.replace("derived: light if shock_torque <= 50 N.m else hard", BY_OIL)
    book = gear_rulebook(pack(tmp_path, "shocks", text))
    for oil, torque, told in (("grease", 10, "hard"), ("mineral", 10, "light"), ("mineral", 90, "hard")):
        readings = f"  gear_module: 2 mm\n  backlash: {{1: 0.07 mm}}\n  oil: {oil}\n  shock_torque: {torque} N.m\n"
        assert report_data(book.check(gear_record(readings)))["derived_facts"] == {"shock_class": told}
    wrong = text.replace("grease: hard", "grease: harsh")
    with pytest.raises(PackError, match="harsh"):
        gear_rulebook(pack(tmp_path, "wrong", wrong))
