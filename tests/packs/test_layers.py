"""Layering: whatever packs are put together, in whatever order, each limit is what a plain model of layers says.

The model is a dictionary: the base states limits, amendments overwrite those they name, a use takes what it does not
state from the one it is like, and in the end from "any".
"""

from __future__ import annotations

import itertools
import random
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from pack_tools import GEAR_TRAIN, gear_record, gear_rulebook, plugins_with, write_pack

from checker.cli import main
from checker.errors import PackError
from checker.packs.layers import families
from checker.packs.pack import Pack
from checker.packs.reader import read_pack
from checker.rulebook import Rulebook, load_rulebook

SIDES = {
    ("must", "low"): "at_least",
    ("should", "low"): "at_least",
    ("should", "high"): "at_most",
    ("must", "high"): "at_most",
}
# Whatever is chosen, no low limit lies above a high one.
CENTRES = {("must", "low"): 10, ("should", "low"): 30, ("should", "high"): 60, ("must", "high"): 80}
BASE_USES = {"plain": None, "fine": "plain", "coarse": None}
RULES = ("rim", "hub", "web")
Position = tuple[str, str]
Stated = dict[tuple[str, str, Position], int]  # rule, use, position -> limit in mm


@dataclass
class Upper:
    """One pack on top of the base, as a test sees it."""

    name: str
    below: list[str]
    uses: dict[str, str | None] = field(default_factory=dict)
    amends: Stated = field(default_factory=dict)
    retires: list[str] = field(default_factory=list)


positions = st.sampled_from(list(SIDES))
offsets = st.integers(0, 9)


def stated(uses: list[str]) -> st.SearchStrategy[Stated]:
    keys = st.tuples(st.sampled_from(RULES), st.sampled_from([*uses, "any"]), positions)
    return st.dictionaries(keys, offsets, max_size=6).map(
        lambda chosen: {key: CENTRES[key[2]] + offset for key, offset in chosen.items()}
    )


@st.composite
def worlds(draw: st.DrawFn) -> tuple[Stated, list[Upper]]:
    """The limits of a base, and up to three packs that build on it and perhaps on each other."""
    base = draw(stated(list(BASE_USES)))
    for rule in RULES:
        base.setdefault((rule, "any", ("must", "high")), 89)
    uppers: list[Upper] = []
    uses = list(BASE_USES)
    for number in range(draw(st.integers(1, 3))):
        below = draw(st.lists(st.sampled_from(uppers), unique_by=id)) if uppers else []
        known = [*BASE_USES, *(use for pack in below for use in pack.uses)]
        own = {f"use-{number}": draw(st.sampled_from([*known, None]))} if draw(st.booleans()) else {}
        uses += own
        upper = Upper(f"upper-{number}", ["base", *(pack.name for pack in below)], own)
        upper.amends = draw(stated([*known, *own]))
        upper.retires = draw(st.lists(st.sampled_from(RULES), max_size=1)) if draw(st.integers(0, 4)) == 0 else []
        uppers.append(upper)
    return base, uppers


def limits_text(limits: Mapping[tuple[str, Position], int]) -> str:
    lines = ""
    for use, group in itertools.groupby(sorted(limits, key=lambda key: key[0]), key=lambda key: key[0]):
        found = {position: limits[use, position] for _, position in group}
        bands = [
            f"{band}: {{{', '.join(f'{SIDES[p]}: {value} mm' for p, value in found.items() if p[0] == band)}}}"
            for band in ("must", "should")
            if any(p[0] == band for p in found)
        ]
        lines += f"      {use}: {{{', '.join(bands)}}}\n"
    return lines


def of_rule(limits: Stated, rule: str) -> dict[tuple[str, Position], int]:
    return {(use, position): value for (name, use, position), value in limits.items() if name == rule}


def uses_text(uses: Mapping[str, str | None]) -> str:
    lines = [f"  {use}: {{title: {use}{f', like: {like}' if like else ''}}}" for use, like in uses.items()]
    return "applications:\n" + "\n".join(lines) + "\n" if lines else ""


def base_text(limits: Stated) -> str:
    text = "pack: base\nversion: 1.0.0\nrule_language: 1\ntitle: Base\nmilestones: [made]\n" + uses_text(BASE_USES)
    text += "characteristics:\n"
    text += "".join(f"  {rule}_width: {{title: Width, unit: mm, plausible: [1 mm, 100 mm]}}\n" for rule in RULES)
    text += "rules:\n"
    for rule in RULES:
        text += f"  {rule}:\n    title: {rule}\n    before: made\n    judges: {rule}_width\n"
        text += f"    basis: {{kind: shop policy}}\n    limits:\n{limits_text(of_rule(limits, rule))}"
    return text


def upper_text(upper: Upper) -> str:
    below = ", ".join(f'{name}: "==1.0.0"' for name in upper.below)
    text = f"pack: {upper.name}\nversion: 1.0.0\nrule_language: 1\ntitle: Upper\nbuilds_on: {{{below}}}\n"
    text += uses_text(upper.uses)
    amended = sorted({rule for rule, _, _ in upper.amends})
    if amended:
        text += "amends:\n"
    for rule in amended:
        text += f"  {rule}:\n    because: Tested.\n    basis: {{kind: shop policy}}\n"
        text += f"    limits:\n{limits_text(of_rule(upper.amends, rule))}"
    if upper.retires:
        text += "retires:\n" + "".join(f"  {rule}: {{because: Tested.}}\n" for rule in upper.retires)
    return text


def packs_of(base: Stated, uppers: list[Upper]) -> list[Pack]:
    with tempfile.TemporaryDirectory() as folder:
        texts = {"base": base_text(base), **{upper.name: upper_text(upper) for upper in uppers}}
        return [read_pack(write_pack(Path(folder) / name, pack=text)) for name, text in texts.items()]


def all_below(name: str, uppers: list[Upper]) -> set[str]:
    by_name = {upper.name: upper for upper in uppers}
    found: set[str] = set()
    waiting = list(by_name[name].below)
    while waiting:
        below = waiting.pop()
        if below not in found:
            found.add(below)
            waiting += by_name[below].below if below in by_name else []
    return found


def conflicting(uppers: list[Upper]) -> list[tuple[str, str]]:
    """Pairs of packs of which neither builds on the other, and which change one thing; or an amender and a retirer."""
    found = []
    for one, other in itertools.permutations(uppers, 2):
        related = one.name in all_below(other.name, uppers) or other.name in all_below(one.name, uppers)
        if not related and set(one.amends) & set(other.amends):
            found.append((one.name, other.name))
        amended = {rule for rule, _, _ in one.amends}
        if amended & set(other.retires) and one.name not in all_below(other.name, uppers):
            found.append((one.name, other.name))
    for upper in uppers:
        if {rule for rule, _, _ in upper.amends} & set(upper.retires):
            found.append((upper.name, upper.name))
    return found


def modelled(base: Stated, uppers: list[Upper]) -> dict[tuple[str, str, Position], int | None]:
    """Every effective limit, by the plain model."""
    limits, by = dict(base), dict.fromkeys(base, "base")
    for upper in uppers:  # a pack comes after all it builds on
        below = all_below(upper.name, uppers)
        for rule, use, position in limits:
            # What is said of any use is said of each use that a pack below names.
            if by[rule, use, position] in below and (rule, "any", position) in upper.amends:
                limits[rule, use, position] = upper.amends[rule, "any", position]
                by[rule, use, position] = upper.name
        limits |= upper.amends
        by |= dict.fromkeys(upper.amends, upper.name)
    uses = {**BASE_USES, **{use: like for upper in uppers for use, like in upper.uses.items()}}
    gone = {rule for upper in uppers for rule in upper.retires}
    found: dict[tuple[str, str, Position], int | None] = {}
    for rule, use, position in itertools.product(RULES, uses, SIDES):
        if rule in gone:
            continue
        chain = []
        current: str | None = use
        while current is not None:
            chain.append(current)
            current = uses[current]
        counting = (limits[rule, name, position] for name in (*chain, "any") if (rule, name, position) in limits)
        found[rule, use, position] = next(counting, None)
    return found


def effective(rulebook: Rulebook) -> dict[tuple[str, str, Position], int | None]:
    """Every effective limit, by the rulebook."""
    found: dict[tuple[str, str, Position], int | None] = {}
    for rule, use, position in itertools.product(rulebook.rules.values(), rulebook.applications, SIDES):
        candidates = rule.limits.candidates(rulebook.chain(use), *position)
        constant = candidates[0].bound.constant if candidates else None
        found[rule.name, use, position] = None if constant is None else round(constant * 1000)
    return found


@examples(150)
@given(worlds(), st.randoms(use_true_random=False))
def test_layers_do_what_the_model_says_in_any_order(world: tuple[Stated, list[Upper]], order: random.Random) -> None:
    base, uppers = world
    packs = packs_of(base, uppers)
    order.shuffle(packs)
    clashes = conflicting(uppers)
    if clashes:
        with pytest.raises(PackError) as caught:
            Rulebook(packs, plugins_with())
        told = str(caught.value)
        assert all(one in told and other in told for one, other in clashes), told
    else:
        assert effective(Rulebook(packs, plugins_with())) == modelled(base, uppers)


@examples(60)
@given(worlds())
def test_an_amendment_touches_only_what_it_names(world: tuple[Stated, list[Upper]]) -> None:
    base, uppers = world
    alone = [upper for upper in uppers if upper.below == ["base"] and not conflicting([upper])][:1]
    before = effective(Rulebook(packs_of(base, []), plugins_with()))
    after = effective(Rulebook(packs_of(base, alone), plugins_with()))
    named = {(rule, position) for upper in alone for rule, _, position in upper.amends}
    for key, limit in before.items():
        if key in after and after[key] != limit:
            assert (key[0], key[2]) in named
    if not alone:
        assert before == after


@examples(40)
@given(worlds())
def test_what_was_overruled_is_kept(world: tuple[Stated, list[Upper]]) -> None:
    base, uppers = world
    if conflicting(uppers):
        return
    rulebook = Rulebook(packs_of(base, uppers), plugins_with())
    for rule in rulebook.rules.values():
        amending = [upper for upper in uppers if of_rule(upper.amends, rule.name)]
        assert len(rule.rule.amended) == len(amending) == len(rule.alternatives)
        if amending:
            assert rule.alternatives[0].title == "base 1.0.0"
            kept = {bound.limit.written for entry in rule.alternatives[0].entries for bound in entry.bounds}
            assert kept == {f"{value} mm" for value in of_rule(base, rule.name).values()}


# --- what the random packs do not reach ---------------------------------------------------------------------------

HEAD = 'pack: {}\nversion: "{}"\nrule_language: 1\ntitle: Test\nbuilds_on: {{{}}}\n'
LOOSER = """
amends:
  backlash:
    because: Tested.
    limits: {general: {must: {at_most: 0.09}}}
    basis: shop policy
"""


def pack(folder: Path, name: str, below: str, text: str, version: str = "1.0.0") -> Path:
    return write_pack(folder / name, pack=HEAD.format(name, version, below) + text)


def test_a_diamond_may_change_one_thing_where_its_tip_does(tmp_path: Path) -> None:
    left = pack(tmp_path, "left", 'gear-train: ">=1"', LOOSER)
    right = pack(tmp_path, "right", 'gear-train: ">=1"', LOOSER.replace("general", "heavy"))
    tip = pack(tmp_path, "tip", 'left: ">=1", right: ">=1"', LOOSER.replace("0.09", "0.05"))
    for folders in itertools.permutations([left, right, tip]):
        rule = gear_rulebook(*folders).rules["backlash"]
        assert [amendment.origin.pack for amendment in rule.rule.amended] == ["left", "right", "tip"]
        assert rule.limits.candidates(("general",), "must", "high")[0].bound.constant == 0.05
        assert rule.limits.candidates(("heavy", "general"), "must", "high")[0].bound.constant == 0.09


def test_packs_that_do_not_know_each_other_cannot_change_one_limit(tmp_path: Path) -> None:
    left = pack(tmp_path, "left", 'gear-train: ">=1"', LOOSER)
    right = pack(tmp_path, "right", 'gear-train: ">=1"', LOOSER.replace("0.09", "0.10"))
    for folders in ((left, right), (right, left)):
        with pytest.raises(PackError) as caught:
            gear_rulebook(*folders)
        (problem,) = caught.value.problems
        assert "general must high is changed here and by left 1.0.0, left/pack.yaml:8" in problem.message
        assert problem.place and problem.place.file == "right/pack.yaml"


def test_the_limits_of_packs_that_do_not_agree_are_shown_one_after_the_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Both may be installed; each is shown with what it changes alone, and the pack below as it is."""
    uses = "applications: {{{0}: {{title: For {0}, like: general}}}}\n"
    folders = {
        "gear-train": GEAR_TRAIN,
        "left": pack(tmp_path, "left", 'gear-train: ">=1"', LOOSER + uses.format("left-hand")),
        "right": pack(
            tmp_path, "right", 'gear-train: ">=1"', LOOSER.replace("0.09", "0.10") + uses.format("right-hand")
        ),
        "more": pack(tmp_path, "more", 'gear-train: ">=1"', uses.format("more-of-it")),
    }
    packs = {name: read_pack(folder) for name, folder in folders.items()}
    assert list(families(packs)) == [("gear-train", "more"), ("left",), ("right",)]
    installed = plugins_with()._replace(rule_packs=folders)
    monkeypatch.setattr("checker.cli.limits_command.gather", lambda **_: installed)
    assert main(["limits", "backlash"]) == 0
    told = capsys.readouterr().out
    assert "amended by left" in told and "amended by right" in told
    assert "For more-of-it" in told
    assert main(["limits", "shaft", "clearance"]) == 0
    assert "left" not in capsys.readouterr().out


def test_an_amendment_of_a_rule_that_an_unrelated_pack_retires_names_both(tmp_path: Path) -> None:
    left = pack(tmp_path, "left", 'gear-train: ">=1"', LOOSER)
    right = pack(tmp_path, "right", 'gear-train: ">=1"', "retires: {backlash: {because: Not needed.}}\n")
    with pytest.raises(PackError, match=r"'backlash' is amended here and retired by right 1\.0\.0"):
        gear_rulebook(left, right)


def test_a_pack_may_retire_what_a_pack_below_amends(tmp_path: Path) -> None:
    left = pack(tmp_path, "left", 'gear-train: ">=1"', LOOSER)
    tip = pack(tmp_path, "tip", 'gear-train: ">=1", left: ">=1"', "retires: {backlash: {because: Not needed.}}\n")
    rulebook = gear_rulebook(tip, left)
    assert "backlash" not in rulebook.rules
    assert rulebook.layered.retired["backlash"].retirement.because == "Not needed."


@pytest.mark.parametrize(
    ("allowed", "version", "fits"),
    [
        (">=1,<2", "1.9.3", True),
        (">=1,<2", "2.0.0", False),
        ("==1.*", "1.4", True),
        ("~=1.4", "1.3", False),
        ("~=1.4", "1.10", True),
        ("!=1.2.0,>=1", "1.2.0", False),
        (">=1", "2.0.0rc1", True),
    ],
)
def test_versions_are_held_to_ranges_as_pep_440_has_them(
    allowed: str, version: str, fits: bool, tmp_path: Path
) -> None:
    below = pack(tmp_path, "below", 'gear-train: ">=1"', LOOSER, version)
    tip = pack(tmp_path, "tip", f'below: "{allowed}"', "cautions: [Mind the mesh.]\n")
    if fits:
        assert gear_rulebook(below, tip).layered.packs[-1].name == "tip"
    else:
        with pytest.raises(PackError, match=rf"which is {version} here"):
            gear_rulebook(below, tip)


def test_packs_in_a_circle_are_named(tmp_path: Path) -> None:
    left = pack(tmp_path, "left", 'right: ">=1"', "cautions: [a]\n")
    right = pack(tmp_path, "right", 'left: ">=1"', "cautions: [b]\n")
    with pytest.raises(PackError, match="packs build on each other in a circle: left, right"):
        load_rulebook(left, right, plugins=plugins_with())


def test_a_use_of_one_pack_gets_limits_in_the_rules_of_another(tmp_path: Path) -> None:
    shop = pack(
        tmp_path,
        "shop",
        'gear-train: ">=1"',
        "applications: {marine: {title: On board, like: heavy}}\n" + LOOSER.replace("general", "marine"),
    )
    rulebook = gear_rulebook(shop)
    assert rulebook.chain("marine") == ("marine", "heavy", "general")
    limits = rulebook.rules["backlash"].limits
    assert limits.candidates(rulebook.chain("marine"), "must", "high")[0].bound.constant == 0.09
    assert limits.candidates(rulebook.chain("marine"), "must", "low")[0].bound.constant == 0.03
    assert limits.candidates(rulebook.chain("heavy"), "must", "high")[0].bound.constant == 0.10


def test_a_folder_stands_in_for_an_installed_pack_whatever_the_order(tmp_path: Path) -> None:
    files = {file.stem: file.read_text() for file in GEAR_TRAIN.glob("*.yaml")}
    newer = write_pack(tmp_path / "newer", **{**files, "pack": files["pack"].replace("1.2.0", "1.3.0")})
    shop = pack(tmp_path, "shop", 'gear-train: ">=1"', LOOSER)
    for folders in ((newer, shop), (shop, newer)):
        rulebook = load_rulebook(*folders, plugins=plugins_with())
        assert str(rulebook.layered.packs[0]) == "gear-train 1.3.0"


def test_a_limit_may_be_removed_and_the_report_says_who_would_have_held_to_it(tmp_path: Path) -> None:
    head = "amends:\n  backlash:\n    because: Tested.\n    basis: shop policy\n"
    text = head + "    limits: {general: {must: {at_most: %s}, %s}}"
    none = pack(tmp_path, "none", 'gear-train: ">=1"', text % ("none", "should: {at_most: none}") + "\n")
    again = pack(tmp_path, "again", 'none: ">=1"', text % ("0.09", "should: {at_least: none}") + "\n")
    record = gear_record({"gear_module": "{1: 2 mm}", "backlash": "{1: 0.5 mm}"})
    found = [gear_rulebook(*packs).check(record) for packs in ((), (none,), (none, again))]
    made = [next(one for one in report.findings if one.name == "backlash") for report in found]
    assert [str(one.verdict) for one in made] == ["outside", "within", "outside"]
    assert "gear-train 1.2.0" in " ".join(made[1].remarks)
    tighter = gear_rulebook(none).check(record, application="precise")
    assert [str(one.verdict) for one in tighter.findings if one.name == "backlash"] == ["advisory"]


def test_whether_a_remedy_can_be_undone_goes_with_its_words(tmp_path: Path) -> None:
    text = "amends:\n  {rule}:\n    because: Tested.\n    remedy: {{high: {words}}}\n"
    cut = pack(tmp_path, "cut", 'gear-train: ">=1"', text.format(rule="backlash", words="{irreversible: Grind it.}"))
    fit = pack(tmp_path, "fit", 'cut: ">=1"', text.format(rule="backlash", words="Fit another."))
    marked = [gear_rulebook(*packs).rule("backlash").remedy["high"].is_irreversible for packs in ((cut,), (cut, fit))]
    assert marked == [True, False]


def test_amendments_change_only_the_keys_they_state(tmp_path: Path) -> None:
    text = (
        "amends:\n  backlash:\n    because: Tested.\n    caution: Mind the mesh.\n"
        "    remedy: {low: Shim it.}\n    not_for: {precise: Set by hand.}\n"
    )
    before = gear_rulebook().rules["backlash"].rule
    after = gear_rulebook(pack(tmp_path, "shop", 'gear-train: ">=1"', text)).rules["backlash"].rule
    assert (after.caution, str(after.remedy.low)) == ("Mind the mesh.", "Shim it.")
    assert dict(after.not_for) == {"precise": "Set by hand."}
    assert after.remedy.high == before.remedy.high
    for key in ("title", "before", "judges", "limits", "basis", "per_unit_of", "alternatives"):
        assert getattr(after, key) == getattr(before, key)
