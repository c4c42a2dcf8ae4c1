"""One definition for several kinds, and the limits of another rule: both judge as if everything were written out."""

from __future__ import annotations

from pathlib import Path

import pytest
from pack_tools import GEAR_TRAIN, gear_record, gear_rulebook, write_pack

from checker import Rulebook, Verdict
from checker.cli import main

HEAD = """
pack: shop
version: 1.0.0
rule_language: 1
title: Shop policy
builds_on: {gear-train: ">=1,<2"}
"""
ONCE = """
each_of:
  SIDE: [input, output]
  characteristics:
    SIDE_play: {title: SIDE play, unit: mm, plausible: [0 mm, {input: 2 mm, output: 3 mm}]}
  rules:
    SIDE-play:
      title: SIDE play
      before: {input: gears-on, output: gears-on}
      judges: SIDE_play
      limits:
        any: {must: {at_most: {input: 0.2 mm, output: 0.3 mm}}, should: {input: {at_most: 0.1 mm}, output: none}}
      basis: shop policy
      remedy: {high: "SIDE play is {value - limit} over. SIDE side first."}
"""
TWICE = """
characteristics:
  input_play: {title: Input play, unit: mm, plausible: [0 mm, 2 mm]}
  output_play: {title: Output play, unit: mm, plausible: [0 mm, 3 mm]}
rules:
  input-play:
    title: Input play
    before: gears-on
    judges: input_play
    limits: {any: {must: {at_most: 0.2 mm}, should: {at_most: 0.1 mm}}}
    basis: shop policy
    remedy: {high: "Input play is {value - limit} over. Input side first."}
  output-play:
    title: Output play
    before: gears-on
    judges: output_play
    limits: {any: {must: {at_most: 0.3 mm}}}
    basis: shop policy
    remedy: {high: "Output play is {value - limit} over. Output side first."}
"""
BORROWED = """
characteristics:
  spare_play: {title: Play of the spare, unit: mm, plausible: [0 mm, 3 mm]}
rules:
  spare-play:
    title: Play of the spare
    before: gears-on
    judges: spare_play
    limits_of: LENDER
    remedy: {low: Shim it., high: Shim it.}
"""
CASES = """
each_of:
  SIDE: [input, output]
  cases:
    SIDE-play:
      - {application: general, given: {SIDE_play: {input: 0.205 mm, output: 0.305 mm}}, verdict: outside, side: high}
      - {application: general, given: {SIDE_play: {input: 0.102 mm, output: 0.295 mm}},
         verdict: {input: advisory, output: within}}
      - {application: general, given: {SIDE_play: {input: 0.195 mm, output: 0.29 mm}},
         verdict: {input: advisory, output: within}}
      - {application: general, given: {SIDE_play: 0.098 mm}, verdict: within}
"""


def judged(rulebook: Rulebook, rule: str, readings: dict[str, str]) -> Verdict:
    found = next(one for one in rulebook.check(gear_record(readings)).judged if one.rule.name == rule)
    return Verdict(found.codes.flat[0])


@pytest.mark.parametrize("name", ["input-play", "output-play"])
@pytest.mark.parametrize("play", ["0.05 mm", "0.15 mm", "0.25 mm", "0.35 mm"])
def test_one_definition_judges_as_two(name: str, play: str, tmp_path: Path) -> None:
    once, twice = (gear_rulebook(write_pack(tmp_path / str(len(text)), pack=HEAD + text)) for text in (ONCE, TWICE))
    readings = {name.replace("-", "_"): play}
    assert judged(once, name, readings) is judged(twice, name, readings)
    assert once.rule(name).rule.title == twice.rule(name).rule.title
    assert once.rule(name).rule.remedy == twice.rule(name).rule.remedy


def test_each_stands_at_the_lines_of_the_one(tmp_path: Path) -> None:
    rulebook = gear_rulebook(write_pack(tmp_path / "shop", pack=HEAD + ONCE))
    lines = {name: rulebook.rule(name).place.line for name in ("input-play", "output-play")}
    line = (HEAD + ONCE).splitlines().index("    SIDE-play:") + 1
    assert lines == {"input-play": line, "output-play": line}


def test_cases_are_written_once_as_well(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = write_pack(tmp_path / "shop", pack=HEAD + ONCE, cases=CASES)
    code = main(["test-pack", str(GEAR_TRAIN), str(folder)])
    assert (code, "failed" in capsys.readouterr().out) == (0, False)


def lender(name: str, limits: str) -> str:
    return f"""
  {name}:
    title: Play of the main one
    before: gears-on
    judges: main_play
    limits: {limits}
    basis: shop policy
    remedy: {{low: Shim it., high: Shim it.}}
"""


MAIN = BORROWED.replace(
    "characteristics:", "characteristics:\n  main_play: {title: Play, unit: mm, plausible: [0 mm, 3 mm]}"
)
LENT = MAIN + lender("main-play", "{any: {must: {at_most: 0.3 mm}, should: {at_most: 0.2 mm}}}")


@pytest.mark.parametrize(
    ("named", "play", "verdict"),
    [
        ("main-play", "0.15 mm", Verdict.WITHIN),
        ("main-play", "0.25 mm", Verdict.ADVISORY),
        ("main-play", "0.35 mm", Verdict.OUTSIDE),
        ("must of main-play", "0.25 mm", Verdict.WITHIN),
        ("must of main-play", "0.35 mm", Verdict.OUTSIDE),
        ("should of main-play", "0.35 mm", Verdict.ADVISORY),
    ],
)
def test_the_limits_of_another_rule_count(named: str, play: str, verdict: Verdict, tmp_path: Path) -> None:
    rulebook = gear_rulebook(write_pack(tmp_path / "shop", pack=HEAD + LENT.replace("LENDER", named)))
    assert judged(rulebook, "spare-play", {"spare_play": play}) is verdict


def test_what_amends_the_one_amends_all(tmp_path: Path) -> None:
    below = write_pack(tmp_path / "shop", pack=HEAD + LENT.replace("LENDER", "main-play"))
    above = write_pack(
        tmp_path / "upper",
        pack=HEAD.replace("shop", "upper").replace("gear-train", "shop").replace("Shop", "Upper")
        + "amends:\n  main-play:\n    because: So.\n    basis: shop policy\n"
        "    limits: {any: {must: {at_most: 0.22 mm}}}\n",
    )
    assert judged(gear_rulebook(below), "spare-play", {"spare_play": "0.25 mm"}) is Verdict.ADVISORY
    assert judged(gear_rulebook(below, above), "spare-play", {"spare_play": "0.25 mm"}) is Verdict.OUTSIDE


def test_limits_of_its_own_come_before_those_lent(tmp_path: Path) -> None:
    text = LENT.replace(
        "limits_of: LENDER",
        "limits_of: main-play\n    limits: {any: {must: {at_most: 0.5 mm}}}\n    basis: shop policy",
    )
    rulebook = gear_rulebook(write_pack(tmp_path / "shop", pack=HEAD + text))
    assert judged(rulebook, "spare-play", {"spare_play": "0.35 mm"}) is Verdict.ADVISORY
    assert judged(rulebook, "spare-play", {"spare_play": "0.55 mm"}) is Verdict.OUTSIDE


def test_the_limits_page_names_the_rule_that_lends(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = write_pack(tmp_path / "shop", pack=HEAD + LENT.replace("LENDER", "must of main-play"))
    assert main(["limits", "spare-play", "--pack", str(GEAR_TRAIN), "--pack", str(folder)]) == 0
    assert "required limits taken from: Play of the main" in capsys.readouterr().out
