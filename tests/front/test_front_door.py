"""The library's front door: what it offers is listed, and a call that cannot be says what was expected."""

from __future__ import annotations

import copy
import json
import pydoc
import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from sheet_tools import HEAD, rulebook

import checker

RECORD = checker.record_from_text(HEAD + "readings: {backlash: [0.1 mm, 0.1 mm]}\n")


def judged(**terms: Any) -> checker.Report:
    """The record on these terms."""
    return rulebook().check(RECORD, **terms)


def uses(*named: Any) -> list[checker.Report]:
    """The record for each of these uses."""
    return list(rulebook().check_uses(RECORD, *named))


MISTAKES: dict[str, tuple[Callable[..., Any], tuple[Any, ...], str]] = {
    "data as a record": (
        checker.record_from_text,
        ({"record": 1},),
        "expected str or bytes, found dict.*record_from",
    ),
    "a path to check": (rulebook().check, ("engine.yaml",), "expected Record, found str: .*read_record"),
    "a path for a rulebook": (checker.rulebook_for, ("engine.yaml",), "expected Record, found str: .*read_record"),
    "a word for a decision": (
        partial(judged, decision="guarded"),
        (),
        r'found str: give one, as in .*Decision\("guarded"\)',
    ),
    "a text for a day": (partial(judged, on="2026-05-02"), (), r"found str: give a day, as in on=date\(2026"),
    "a list of uses": (uses, (["general", "heavy"],), "found list: give one name"),
    "a number for a milestone": (partial(judged, before=3), (), "found int: give one name.*milestones"),
    "a list of rules": (rulebook().only, (["backlash"],), "found list: give the names of rules one by one"),
    "a number for a unit": (checker.unit, (3,), r'found int: give the name of one, as in unit\("mm"\)'),
    "a name for a rulebook": (
        checker.vet,
        ("our-shop",),
        r'found str: load it first, as in load_rulebook\("our-shop"\)',
    ),
    "sizes without names": (rulebook().limits, ("backlash", "general", [2.0]), "found list: give sizes and facts by"),
    "sizes by number": (
        rulebook().limits,
        ("backlash", "general", {3: 2.0}),
        "found int: give sizes and facts by name",
    ),
    "a text for a station": (partial(rulebook().room, RECORD), ("backlash", "1"), "found str: .*counted from 1"),
    "a list of packs": (checker.load_rulebook, (["four-stroke"],), "one by one, as in load_rulebook"),
    "a word for a verdict": (judged().with_verdict, ("outside",), r"found str: give verdicts, as in Verdict\.OUTSIDE"),
    "a word for a system": (
        lambda word: list(judged().by_system(word)),
        ("outside",),
        r"found str: give verdicts, as in Verdict\.OUTSIDE",
    ),
    "a number for a verdict": (judged().rules_with, (8,), r"found int: give verdicts, as in Verdict\.OUTSIDE"),
    "text as a report": (checker.write_text, ("within",), "expected Report, found str: .*rulebook.check"),
    "nothing as a report": (checker.write_json, (None,), "expected Report, found NoneType"),
}


@pytest.mark.parametrize(("call", "given", "told"), MISTAKES.values(), ids=MISTAKES)
def test_a_wrong_argument_is_answered_with_the_right_call(
    call: Callable[..., Any], given: tuple[Any, ...], told: str
) -> None:
    with pytest.raises(TypeError, match=told):
        call(*given)


def test_what_the_advice_says_works() -> None:
    data = {"record": 1, "assembly": "E", "application": "general", "rule_packs": {"gear-train": ">=1"}, "readings": {}}
    assert checker.record_from(data).assembly == "E"
    assert checker.record_from_text(json.dumps(data), "record.json").assembly == "E"
    assert rulebook().check(checker.record_from_text(HEAD + "readings: {}\n")).must_open


def test_a_dimension_is_found_by_either_name_of_its_unit() -> None:
    assert checker.dimension_of("in") == checker.dimension_of("inch") == checker.dimension_of("mm") == (("length", 1),)
    with pytest.raises(checker.UsageError, match=r"no unit 'inhc' \(did you mean 'inch'\?\)"):
        checker.dimension_of("inhc")


def test_a_unit_that_there_is_not_is_a_mistake_like_any_other() -> None:
    with pytest.raises(checker.CheckerError, match=r"no unit 'inc' \(did you mean 'inch'\?\)") as error:
        checker.unit("inc")
    assert str(copy.copy(error.value)) == str(error.value)


def test_a_rulebook_says_what_it_is_made_of() -> None:
    assert repr(rulebook()) == "<Rulebook gear-train 1.2.0>"


def test_a_rulebook_is_read_only() -> None:
    for name in ("rules", "characteristics", "plugins", "judging", "packs", "strange"):
        with pytest.raises(AttributeError):
            setattr(rulebook(), name, {})
    with pytest.raises(TypeError, match="read-only"):
        rulebook().characteristics["backlash"] = None  # type: ignore[index]


def test_what_a_notebook_shows_of_a_result_fits_on_a_line() -> None:
    """A whole finding, with its rule and its limits, is 4000 signs, and what stands behind a report a million."""
    report = judged()
    session = rulebook().session(RECORD)
    assert repr(report.findings[-1]).startswith("<Finding ")
    shown = [report, report.findings[0], report.context, session, RECORD, rulebook(), report.judged[0].rule]
    assert max(len(repr(each)) for each in shown) < 120


def test_a_name_that_nearly_is_one_is_told_by_python() -> None:
    done = subprocess.run([sys.executable, "-c", "import checker; checker.read_recrd"], capture_output=True, text=True)
    assert "Did you mean: 'read_record'?" in done.stderr


def test_a_characteristic_that_there_is_not_is_no_error_of_python() -> None:
    with pytest.raises(checker.UsageError, match=r"no characteristic 'backlsh' \(did you mean 'backlash'\?\)"):
        judged().values("backlsh")


def test_what_the_library_returns_can_be_named() -> None:
    book = rulebook()
    room = book.room(RECORD, "backlash", 1)
    returned = [book.packs[0], book.characteristics["backlash"], *book.plugins.each, *room.already]
    returned += [checker.read_given({}, book.characteristics), checker.read_quantity("2 mm", checker.unit("in"))]
    assert all(type(each).__name__ in checker.__all__ for each in returned)
    assert {"Free", "Kind", "Details", "OutputError", "Already", "Concession", "Vetting"} <= set(checker.__all__)
    report = rulebook().check(checker.record_from_text(HEAD + "readings: {}\n"))
    found = next(finding for finding in report.findings if finding.missing and finding.unit)
    assert isinstance(found.missing[0], checker.Gap) and isinstance(found.unit, checker.Unit)
    assert isinstance(rulebook().check(RECORD).findings[0].edges, tuple) and checker.Edge and checker.TableReport


def test_a_record_that_asks_for_a_pack_that_is_not_loaded_is_not_judged_by_less() -> None:
    asked = checker.record_from_text(HEAD.replace("}", ', overload: ">=1"}', 1) + "readings: {backlash: [0.1 mm]}\n")
    for judge in (rulebook().check, rulebook().session, lambda record: list(rulebook().check_uses(record))):
        with pytest.raises(
            checker.UsageError, match=r"^record.yaml:4:33: .*asks for pack 'overload', here are gear-train.*load it"
        ):
            judge(asked)
    later = checker.record_from_text(HEAD.replace(">=1", ">=2", 1) + "readings: {backlash: [0.1 mm]}\n")
    with pytest.raises(checker.UsageError, match=r"asks for pack 'gear-train' >=2, here is 1.2.0"):
        rulebook().check(later)
    with pytest.raises(checker.UsageError, match="asks for pack 'overload'"):
        rulebook().check_table({"shaft_diameter@1": [30.0]}, {"rule_packs": {"overload": ">=1"}}, application="general")


def test_units_that_there_are_not_are_answered_with_those_that_there_are() -> None:
    stated = checker.record_from_text(HEAD + "units: {length: furlong, colour: red, temperature: hot}\nreadings: {}\n")
    with pytest.raises(checker.InputError) as error:
        rulebook().check(stated)
    said = [(problem.message, problem.hint) for problem in error.value.problems]
    assert said[0] == ("no unit 'furlong'", "known: in, mm, thou, tenths, um, uin, cm, m, ft")
    assert said[1][0] == "no kind of quantity 'colour'" and said[1][1].startswith("known: bare number, angle, time, ")
    assert said[2] == ("no unit 'hot'", "known: degF, degC, K")


def test_all_that_is_offered_is_listed_and_explained() -> None:
    assert dir(checker) == sorted(checker.__all__)
    told = pydoc.plain(pydoc.render_doc(checker))
    assert all(name in told for name in checker.__all__)
    assert all(getattr(checker, name).__doc__ for name in checker.__all__)


def test_a_record_of_another_kind_is_answered_with_the_readers_that_read_it(tmp_path: Path) -> None:
    sheet = tmp_path / "gauge.csv"
    sheet.write_text("characteristic,station,value,unit\nshaft_diameter,1,30.012,mm\n")
    with pytest.raises(
        checker.InputError, match=r"known kinds: \.yaml.*as in read_record\(path, gather\(\)\.record_readers\)"
    ):
        checker.read_record(sheet)
    assert checker.read_record(sheet, checker.gather().record_readers).readings


def test_a_pack_of_ones_own_asked_for_by_name_is_told_of_its_folder() -> None:
    with pytest.raises(
        checker.PackError, match=r"no rule pack 'our-shop' .installed packs: .*; or give a folder with a"
    ):
        checker.load_rulebook("our-shop")
    with pytest.raises(checker.PackError, match=r"no rule pack '4-stroke' \(did you mean 'four-stroke'\?\)"):
        checker.load_rulebook("4-stroke")


def test_a_rulebook_of_no_packs_is_refused() -> None:
    with pytest.raises(checker.UsageError, match="a rulebook needs a pack"):
        checker.load_rulebook()
