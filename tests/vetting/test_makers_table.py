"""A maker's table of limits, as a shop types it, becomes a pack that judges by it and passes vetting."""

from __future__ import annotations

import csv
from decimal import Decimal
from pathlib import Path

import pytest
from factory_tools import engines
from pack_tools import GEAR_TRAIN, gear_record, gear_rulebook, plugins_with, write_pack

from checker import Verdict, load_rulebook
from checker.cli import main
from checker.errors import InputError
from checker.sheets.makers_table import read_makers_table
from checker.vetting.makers_pack import MakersLimits
from checker.vetting.vetting import vet

HEADINGS = "what,new least,new most,wear limit,unit,page\n"
GEARS = """\
Gap at the joint of the housing,,0.02,0.05,mm,7
shaft-end-float,0.10,0.20,0.35,mm,7
Shaft diameter,24.98,25.00,24.95,mm,8
"""


def typed(folder: Path, text: str, name: str = "table.csv") -> Path:
    path = folder / name
    path.write_text(text)
    return path


def read(folder: Path, text: str) -> tuple[MakersLimits, ...]:
    return read_makers_table(typed(folder, text), gear_rulebook())


def problems(folder: Path, text: str) -> list[str]:
    with pytest.raises(InputError) as refused:
        read(folder, text)
    return [str(problem).replace(str(folder), "") for problem in refused.value.problems]


def made(folder: Path, text: str, base: str | Path = GEAR_TRAIN) -> Path:
    arguments = ["--builds-on", str(base), "--from-sheet", str(typed(folder, text))]
    assert main(["new-pack", str(folder / "our_engine"), *arguments]) == 0
    return folder / "our_engine"


@pytest.mark.parametrize(
    ("reading", "rule", "verdict"),
    [
        ("joint_gap: 0.02 mm", "joint-gap", Verdict.WITHIN),
        ("joint_gap: 0.05 mm", "joint-gap", Verdict.ADVISORY),
        ("joint_gap: 0.051 mm", "joint-gap", Verdict.OUTSIDE),
        ("end_float: 0.09 mm", "shaft-end-float", Verdict.OUTSIDE),
        ("end_float: 0.10 mm", "shaft-end-float", Verdict.WITHIN),
        ("end_float: 0.20 mm", "shaft-end-float", Verdict.WITHIN),
        ("end_float: 0.35 mm", "shaft-end-float", Verdict.ADVISORY),
        ("end_float: 0.36 mm", "shaft-end-float", Verdict.OUTSIDE),
        ("shaft_diameter: 24.94 mm", "shaft-diameter", Verdict.OUTSIDE),
        ("shaft_diameter: 24.95 mm", "shaft-diameter", Verdict.ADVISORY),
        ("shaft_diameter: 24.98 mm", "shaft-diameter", Verdict.WITHIN),
        ("shaft_diameter: 25.01 mm", "shaft-diameter", Verdict.OUTSIDE),
    ],
)
@pytest.mark.parametrize("use", ["general", "heavy"])
def test_new_is_within_worn_is_advised_against_and_beyond_is_outside(
    reading: str, rule: str, verdict: Verdict, use: str, tmp_path: Path
) -> None:
    rulebook = gear_rulebook(made(tmp_path, HEADINGS + GEARS))
    report = rulebook.check(gear_record(f"  {reading}\n", use))
    found = {judged.rule.name: Verdict(judged.codes.flat[0]) for judged in report.judged}
    assert found[rule] is verdict


def test_it_passes_vetting_with_cases_at_every_limit(tmp_path: Path) -> None:
    folder = made(tmp_path, HEADINGS + GEARS)
    result = vet(gear_rulebook(folder), ["our-engine"])
    assert result.is_sound
    assert result.warnings == ()
    cases = (folder / "cases" / "limits.yaml").read_text()
    for limit in ("0.02 mm", "0.05 mm", "0.10 mm", "0.20 mm", "0.35 mm", "24.95 mm", "24.98 mm", "25.00 mm"):
        assert limit in cases
    assert "By hand" not in cases
    limits = (folder / "limits.yaml").read_text()
    assert 'read: "maker\'s table, page 7"' in limits


def test_a_table_of_one_line_makes_a_pack_too(tmp_path: Path) -> None:
    for number, line in enumerate(GEARS.strip().splitlines()):
        folder = tmp_path / str(number)
        folder.mkdir()
        assert vet(gear_rulebook(made(folder, f"{HEADINGS}{line}\n")), ["our-engine"]).is_sound, line


# The figures of US Army TM 9-2815-237-34, Table 2-3, as engines/published_ranges.csv has them; sizes left out.
def test_a_published_engine_is_within_at_both_ends_of_new(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    engine = next(engine for engine in engines() if engine.name == "L")
    rows = [
        [name, one.low or "", one.high or "", one.worn_high or "", one.unit, engine.source]
        for name, one in engine.ranges.items()
        if name.endswith(("_clearance", "_gap", "_end_play", "_runout")) and not name.startswith("pin_")
    ]
    path = tmp_path / "table.csv"
    with path.open("w", newline="") as file:
        csv.writer(file).writerows([HEADINGS.strip().split(","), *rows])
    folder = made(tmp_path, path.read_text(), "four-stroke")
    assert "titanium" not in capsys.readouterr().out
    rulebook = load_rulebook("four-stroke", folder)
    result = vet(rulebook, ["our-engine"])
    assert result.failures == ()
    assert result.unguarded == ()
    cases = (folder / "cases" / "limits.yaml").read_text().splitlines()
    for name, low, high, *_ in rows:
        within = next(line for line in cases if f"vary: {name}," in line and "within: " in line).rpartition("within: ")[
            2
        ]
        values = [Decimal(text.strip(" []}").split()[0]) for text in within.split(",")]
        assert (min(values), max(values)) == (low or min(values), high)


@pytest.mark.parametrize("headings", ["What,Min,Max,Service limit,Units", "NAME,New minimum,new_maximum,worn,unit"])
def test_headings_are_read_tolerantly(headings: str, tmp_path: Path) -> None:
    found = read(tmp_path, f"{headings}\n# a remark\n\nshaft end  FLOAT,0.1,0.2,0.3,mm\n")
    assert found == (MakersLimits("shaft-end-float", "0.1 mm", "0.2 mm", "", "0.3 mm", "maker's table"),)


def test_columns_stand_in_any_order_and_cells_may_have_units(tmp_path: Path) -> None:
    found = read(
        tmp_path, "page,wear limit,what\nTM 1 table 2,at most 4 thou,joint_gap\n,at least 24.9 mm,shaft_diameter\n"
    )
    assert found[0] == MakersLimits("joint-gap", "", "", "", "4 thou", "TM 1 table 2")
    assert found[1] == MakersLimits("shaft_diameter", "", "", "24.9 mm", "", "maker's table")


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("Gap at the joynt,,0.02,,mm,", "2:1: what: nothing is called 'Gap at the joynt'"),
        ("Oil,,0.02,,mm,", "2:1: what: 'Oil' is one of some choices, and no number"),
        ("joint_gap,,,,mm,", "2:1: what: no limit stands beside 'joint_gap' (for example"),
        ("joint_gap,,0.02,,kg,", "2:5: unit: 'kg' is no unit of 'Gap at the joint of the housing'"),
        ("joint_gap,,0.02,,,", "2:3: new most: "),
        ("joint_gap,,20,,mm,", "2:3: new most: 20 mm lies outside what is possible, 0 mm to 2 mm"),
        ("joint_gap,0.05,0.02,,mm,", "2:3: new most: 0.02 is less than the least, 0.05"),
        ("end_float,0.1,0.3,0.2,mm,", "2:4: wear limit: 0.2 lies within what is new, 0.1 to 0.3"),
        ("end_float,,,0.2,mm,", "(as in 'at most 0.2', or 'at least 0.2')"),
        ("joint_gap,,0.01-0.02,,mm,", "2:3: new most: '0.01-0.02' is more than one value"),
        ('joint_gap,,"0,02",,mm,', "2:3: new most: '0,02': "),
        ("joint_gap,,0.02,,mm,3,4", "2:7: '4' stands under no heading"),
        (",,0.02,,mm,", "2:1: what: nothing says what is measured"),
        ("joint_gap,,=1+1,,mm,", "2:3: holds a formula"),
        ("joint_gap,,0.02,,mm,\njoint-gap,,0.03,,mm,", "3:1: what: 'joint-gap' stands on line 2 already"),
    ],
)
def test_what_is_wrong_is_told_with_its_line_and_column(line: str, told: str, tmp_path: Path) -> None:
    assert any(told in problem for problem in problems(tmp_path, f"{HEADINGS}{line}\n"))


def test_everything_wrong_is_told_at_once(tmp_path: Path) -> None:
    found = problems(tmp_path, f"{HEADINGS}joint_gapp,,0.02,,mm,\nend_float,,,0.2,mm,\njoint_gap,,20,,mm,\n")
    assert len(found) == 3
    assert "did you mean 'joint gap'?" in found[0] or "did you mean 'joint_gap'?" in found[0]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "nothing is in it (begin with a line of headings: what,new least,"),
        (HEADINGS, "no line stands below the headings"),
        (
            "what;new most\njoint_gap;1\n",
            "the columns are parted by semicolons (save it with commas and decimal points)",
        ),
        ("what\tnew most\njoint_gap\t1\n", "the columns are parted by tabs (save it with commas and decimal points)"),
        ("what,newest most\n", "no column is called 'newest most' (did you mean 'new most'?)"),
        ("what,most,max\n", "'max' is a second column for 'new most'"),
    ],
)
def test_headings_that_say_nothing_are_refused(text: str, told: str, tmp_path: Path) -> None:
    assert any(told in problem for problem in problems(tmp_path, text))


def test_it_builds_on_a_pack(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = typed(tmp_path, HEADINGS + GEARS)
    assert main(["new-pack", str(tmp_path / "alone"), "--alone", "--from-sheet", str(path)]) == 2
    assert "cannot stand alone" in capsys.readouterr().err
    assert not (tmp_path / "alone").exists()


def test_nothing_is_written_for_a_table_with_mistakes(tmp_path: Path) -> None:
    path = typed(tmp_path, HEADINGS + "joint_gapp,,1,,mm,\n")
    arguments = ["--builds-on", str(GEAR_TRAIN), "--from-sheet", str(path)]
    assert main(["new-pack", str(tmp_path / "shop"), *arguments]) == 2
    assert not (tmp_path / "shop").exists()


HEAD = "pack: shop\nversion: 1.0.0\nrule_language: 1\ntitle: Shop\nbuilds_on: {gear-train: '>=1'}\n"
AMENDED = """
amends:
  shaft-end-float:
    because: The maker says so.
    limits: {any: {must: {at_least: 0.10 mm, at_most: MUST mm}, should: {at_least: 0.10 mm, at_most: SHOULD mm}}}
    basis: manual
    cases:
      - {application: general, given: {}, vary: end_float, outside: [0.09 mm, 0.36 mm],
         within: [0.11 mm, WITHIN mm]ADVISORY}
"""


@pytest.mark.parametrize(
    ("should", "within", "advisory", "left"),
    [("0.35", "0.34", "", 0), ("0.20", "0.19", "", 1), ("0.20", "0.19", ", advisory: [0.21 mm, 0.34 mm]", 0)],
    ids=["behind its must", "nearer than its must, unguarded", "nearer than its must, guarded"],
)
def test_a_recommendation_behind_its_must_needs_no_case(
    should: str, within: str, advisory: str, left: int, tmp_path: Path
) -> None:
    text = (
        AMENDED.replace("MUST", "0.35")
        .replace("SHOULD", should)
        .replace("ADVISORY", advisory)
        .replace("WITHIN", within)
    )
    folder = write_pack(tmp_path / "shop", pack=HEAD + text)
    result = vet(load_rulebook(GEAR_TRAIN, folder, plugins=plugins_with()), ["shop"])
    assert len([one for one in result.unguarded if "should high" in one.message]) == left


def test_a_use_like_one_below_is_not_warned_of_for_what_that_leaves_out(tmp_path: Path) -> None:
    one = write_pack(tmp_path / "like", pack=HEAD + "applications: {mill: {title: Mill, like: general}}\n")
    other = write_pack(tmp_path / "unlike", pack=HEAD + "applications: {mill: {title: Mill}}\n")
    told = {
        folder.name: [str(warning) for warning in vet(gear_rulebook(folder), ["shop"]).warnings]
        for folder in (one, other)
    }
    assert not any("has no limit for mill" in line for line in told["like"])
    assert any("has no limit for mill" in line for line in told["unlike"])
