"""Real situations from workshops: what was written down, and what a careful checker must say of it.

A file holds one case. Each of its situations is a record, with the verdict of each rule that matters in it, by station
where they differ ("not measured" with what is missing), the words of flags, remedies and remarks, or those with which
the record is refused. Where the verdict is not the one a reader of the report might expect, a comment says why.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from judging import of_rule, record, rulebook

from checker import Finding, InputError, Report
from checker.documents.document import read_document
from checker.notation.read import read_quantity
from checker.units.units import unit

HERE = Path(__file__).parent
FILES = sorted(HERE.glob("f*.yaml"))


def situations() -> Iterator[Any]:
    for path in FILES:
        for situation in read_document(path).data["situations"]:
            yield pytest.param(situation, id=f"{path.stem[:3]}: {situation['is']}")


def judged(situation: dict[str, Any], application: str | None = None) -> Report:
    given = dict(situation["record"])
    packs = tuple(situation.get("packs", ["four-stroke"]))
    made = record(given.pop("application"), given.pop("readings"), **given)
    return rulebook(*packs).check(made, application)


def words(made: Finding, said: str) -> str:
    """What a finding says, as far as it is asked for: verdict, side, and what is missing."""
    verdict, _, missing = said.partition(": ")
    lacking = {gap.characteristic for gap in made.missing}
    named = [name for name in missing.split(", ") if name in lacking]
    side = f" {made.side}" if made.side and " " in verdict else ""
    return f"{made.verdict}{side}" + (f": {', '.join(named)}" if missing else "")


@pytest.mark.parametrize("situation", [case for case in situations() if "verdicts" in case.values[0]])
def test_each_rule_says_what_a_careful_checker_would(situation: dict[str, Any]) -> None:
    for application, rules in situation["verdicts"].items():
        report = judged(situation, application)
        for rule, said in rules.items():
            found = of_rule(report, rule)
            expected = list(said.values()) if isinstance(said, dict) else [said] * len(found)
            assert [words(*pair) for pair in zip(found, expected, strict=True)] == expected, (application, rule)


@pytest.mark.parametrize("situation", [case for case in situations() if "refused" in case.values[0]])
def test_what_can_be_two_things_is_refused(situation: dict[str, Any]) -> None:
    with pytest.raises(InputError, match=re.escape(situation["refused"])):
        judged(situation)


@pytest.mark.parametrize("situation", [case for case in situations() if "flags" in case.values[0]])
def test_what_looks_odd_is_named(situation: dict[str, Any]) -> None:
    report = judged(situation)
    flags = {flag.characteristic: flag.message for flag in (*report.notes, *report.flags)}
    for characteristic, message in situation["flags"].items():
        assert message in flags[characteristic]


@pytest.mark.parametrize("situation", [case for case in situations() if "values" in case.values[0]])
def test_values_come_out_as_worked(situation: dict[str, Any]) -> None:
    report = judged(situation)
    for rule, text in situation["values"].items():
        made = of_rule(report, rule)[0]
        wanted = read_quantity(str(text), made.rule.unit, unit(made.rule.unit.name)).spans[0].low
        digits = len(str(text).split()[0].partition(".")[2])
        assert made.value == pytest.approx(wanted, abs=0.51 * 10.0**-digits * made.rule.unit.factor)


@pytest.mark.parametrize("part", ["remedies", "remarks"])
@pytest.mark.parametrize("situation", [case for case in situations() if {"remedies", "remarks"} & set(case.values[0])])
def test_the_report_says_what_to_do(situation: dict[str, Any], part: str) -> None:
    report = judged(situation)
    for rule, text in situation.get(part, {}).items():
        made = of_rule(report, rule)[0]
        assert text in (made.remedy if part == "remedies" else " ".join(made.remarks))


def test_there_are_24_cases_and_each_states_its_source() -> None:
    assert [path.stem[:3] for path in FILES] == [f"f{number:02}" for number in range(1, 25)]
    assert all("Source: common practice" in path.read_text() for path in FILES)
