"""Which decision rule counts, and who chose it: the command before the record, the record before the packs."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from fits_tools import FITS, finding, fits, gathered, record
from pack_tools import gear_record, gear_rulebook

from checker import Decision, PackError, Verdict, load_rulebook
from checker.cli.arguments import parse
from checker.cli.check_command import decision_asked_for
from checker.plugins import gather
from checker.reports.json_report import report_data
from checker.reports.text import write_text

# 0.025 mm with U = 0.010 mm: at least 0.020 mm is asked for.
READINGS = "clearance: {1: {value: 0.025 mm, with: gauge}}"
MORE = "stations: {seat: 1}\ninstruments: {gauge: {expanded_uncertainty: 0.010 mm}}\n"


def shop(folder: Path, decision: str, name: str = "shop", below: str = "fits") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    head = f"pack: {name}\nversion: 1.0.0\nrule_language: 1\ntitle: Shop\nbuilds_on: {{{below}: '>=1'}}\n"
    (folder / "pack.yaml").write_text(f"{head}{decision}\n")
    return folder


def test_readings_are_usually_guarded_where_their_uncertainty_is_known() -> None:
    decision = fits().check(record(READINGS, MORE)).context.decision
    assert (decision.rule, decision.chosen_by) == ("where-known", "")
    # 0.025 mm with U = 0.010 mm cannot be told from 0.020 mm, the least that must be; at face value it can.
    assert finding(fits().check(record(READINGS, MORE)), "clearance").verdict is Verdict.UNDECIDED
    assert finding(fits().check(record("clearance: {1: 0.025 mm}", MORE)), "clearance").verdict is Verdict.ADVISORY


@pytest.mark.parametrize("decision", [Decision("guarded"), Decision("probability", 0.5)])
@pytest.mark.parametrize("size", ["0.040 mm", "0.019 mm"])
def test_by_a_stated_rule_a_reading_without_instrument_decides_nothing(decision: Decision, size: str) -> None:
    found = fits().check(record(f"clearance: {{1: {size}}}", MORE), decision=decision)
    assert finding(found, "clearance").verdict is Verdict.UNDECIDED
    words = "its uncertainty is unknown: no instrument is named for clearance"
    assert finding(found, "clearance").remarks == (words,)
    assert "1 of 1 readings name no instrument: what rests on them is undecided" in write_text(found, whole=True)
    assert found.status == 3


@pytest.mark.parametrize("decision", [Decision("guarded"), Decision("probability", 0.5)])
def test_nor_does_what_is_computed_from_one(decision: Decision) -> None:
    readings = "bore: {1: {value: 50.040 mm, with: gauge}}\nshaft: {1: 50.000 mm}"
    found = finding(fits().check(record(readings, MORE), decision=decision), "clearance")
    assert found.verdict is Verdict.UNDECIDED
    assert found.remarks[0].endswith("no instrument is named for shaft")


@pytest.mark.parametrize("decision", [Decision("guarded"), Decision("probability", 0.5)])
@pytest.mark.parametrize("sizes", ["{1: 50.050 mm}", "{1: {value: 50.050 mm, with: gauge}}"])
def test_nor_does_one_that_could_be_computed_too(decision: Decision, sizes: str) -> None:
    """What the sizes come to says nothing of a clearance that was read with nobody knows what."""
    readings = f"clearance: {{1: 0.050 mm}}\nbore: {sizes}\nshaft: {sizes.replace('50.050', '50.000')}"
    found = finding(fits().check(record(readings, MORE), decision=decision), "clearance")
    assert found.verdict is Verdict.UNDECIDED
    assert "no instrument is named for" in found.remarks[0]


def test_facts_need_no_instrument() -> None:
    """What nobody measures is known without one: a nominal size, a maker's figure."""
    facts = f"facts: {{width: 30 mm, load: 9000 N}}\n{MORE}"
    found = fits().check(record("shaft: {1: {value: 50.040 mm, with: gauge}}", facts), decision=Decision("guarded"))
    assert finding(found, "bush-load").verdict is Verdict.WITHIN
    assert found.without_uncertainty == (0, 1)


@pytest.mark.parametrize("decision", [Decision("guarded"), Decision("probability", 0.5)])
def test_a_figure_of_what_a_gauge_reads_decides_nothing_by_a_stated_rule(decision: Decision) -> None:
    """The bore was measured, but of the shaft there is what it should be."""
    facts = f"facts: {{shaft: {{1: SHAFT}}}}\n{MORE}"
    bore = "bore: {1: {value: 50.040 mm, with: gauge}}"
    found = finding(fits().check(record(bore, facts.replace("SHAFT", "50.000 mm")), decision=decision), "clearance")
    assert found.verdict is Verdict.UNDECIDED
    assert found.remarks[0].endswith("no instrument is named for shaft")
    named = facts.replace("SHAFT", "{value: 50.000 mm, with: gauge}")
    assert fits().check(record(bore, named), decision=decision).outside == ()
    assert finding(fits().check(record(bore, named)), "clearance").remarks != found.remarks


@pytest.mark.parametrize(
    ("more", "readings", "is_told"),
    [
        ("facts: {joint_gap: 0.02 mm}\n", "  {}\n", True),  # within, and nobody has measured it
        ("facts: {joint_gap: {value: 0.02 mm, with: blades}}\n", "  {}\n", False),
        ("", "  joint_gap: 0.02 mm\n", False),
        ("facts: {joint_gap: 0.06 mm}\n", "  {}\n", False),
    ],
)
def test_a_figure_in_place_of_what_a_gauge_reads_is_told(more: str, readings: str, is_told: bool) -> None:
    blades = "instruments: {blades: {expanded_uncertainty: 0.005 mm}}\n"
    found = gear_rulebook().check(gear_record(readings, more=f"{more}{blades}"))
    words = "a figure under facts, which nobody measured; measure it (feeler gauge) and write it under readings"
    assert (words in [flag.message for flag in found.flags]) is is_told


def test_a_pack_may_choose(tmp_path: Path) -> None:
    rulebook = fits(shop(tmp_path / "shop", "decision: probability\nprobability: 0.9"))
    found = rulebook.check(record(READINGS, MORE))
    assert found.context.decision == Decision("probability", 0.9, "pack shop")
    words = "conformity with a probability of at least 0.9 (JCGM 106), chosen by pack shop"
    assert f"decision: {words}" in " ".join(write_text(found, whole=True).split())
    assert report_data(found)["decision"] == {"rule": "probability", "words": words}


def test_the_topmost_pack_that_chooses_counts(tmp_path: Path) -> None:
    lower = shop(tmp_path / "lower", "decision: simple", "lower")
    upper = shop(tmp_path / "upper", "decision: guarded", "upper", "lower")
    silent = shop(tmp_path / "silent", "", "silent", "upper")
    assert fits(lower, upper, silent).check(record(READINGS, MORE)).context.decision.chosen_by == "pack upper"


def test_the_record_comes_before_the_packs_and_the_command_before_both(tmp_path: Path) -> None:
    rulebook = fits(shop(tmp_path / "shop", "decision: probability"))
    own = record(READINGS, MORE + "decision: simple\n")
    assert rulebook.check(own).context.decision.chosen_by == "the record"
    asked = Decision("guarded", chosen_by="the command")
    assert rulebook.check(own, decision=asked).context.decision is asked


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        ([], None),
        (["--decision", "simple"], Decision("simple", 0.95, "the command")),
        (["--probability", "0.8"], Decision("probability", 0.8, "the command")),
        (["--decision", "probability", "--probability", "0.99"], Decision("probability", 0.99, "the command")),
    ],
)
def test_the_command_asks_for_one(arguments: list[str], expected: Decision | None) -> None:
    assert decision_asked_for(parse(["check", "record.yaml", *arguments])) == expected


@pytest.mark.parametrize(
    ("head", "more", "says"),
    [
        ("decision: strict", "", "expected simple or where-known or guarded or probability"),
        ("probability: 0.4", "", "at least 0.5"),
        ("", "decision: simple\n", "belongs in pack.yaml"),
    ],
)
def test_a_pack_cannot_choose_what_is_no_rule(head: str, more: str, says: str, tmp_path: Path) -> None:
    folder = shop(tmp_path / "shop", head)
    if more:
        (folder / "more.yaml").write_text(more)
    with pytest.raises(PackError) as error:
        load_rulebook(FITS, folder, plugins=gathered())
    assert says in str(error.value)


def test_what_reads_without_uncertainty_is_counted_in_the_report() -> None:
    found = fits().check(record(f"{READINGS}\nshaft: {{1: 50 mm}}", MORE))
    assert found.without_uncertainty == (1, 2)
    assert "1 of 2 readings name no instrument and count at face value" in write_text(found, whole=True)


@pytest.mark.parametrize("form", gather().report_writers)
def test_every_form_can_say_that_an_uncertainty_is_unknown(form: str) -> None:
    found = fits().check(record("clearance: {1: 0.040 mm}\nend_float: 0.15 mm", MORE), decision=Decision("guarded"))
    assert math.isnan(finding(found, "clearance").uncertainty)
    text = gather().report_writers[form](found)
    assert not re.search(r"\bnan\b", text, re.IGNORECASE)
    assert "undecided" in text
    assert form != "html" or "\u00b1 unknown" in text
