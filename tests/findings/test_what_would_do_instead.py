"""An open check names what would close it: the reading that is asked for, and what would do in its place."""

from __future__ import annotations

from pathlib import Path

import pytest
from pack_tools import write_pack

from checker import load_rulebook, record_from_text

PACK = """
pack: shelves
version: 1.0.0
rule_language: 1
title: Shelves
applications: {hall: {title: Hall}}
milestones: [hung]
stations: {shelf: {title: Shelf}}
characteristics:
  measured_length: {title: Length measured, unit: mm, plausible: [1 mm, 900 mm], per: shelf}
  ordered_length: {title: Length ordered, unit: mm, plausible: [1 mm, 900 mm]}
  drawn_length: {title: Length drawn, unit: mm, plausible: [1 mm, 900 mm]}
  overhang: {title: Overhang, unit: mm, plausible: [0 mm, 90 mm], per: shelf}
  length: {title: Length, unit: mm, plausible: [1 mm, 900 mm], per: shelf, derived: "EXPRESSION"}
rules:
  length:
    title: Length
    before: hung
    judges: length
    limits: {any: {must: {at_most: 800 mm}}}
    basis: shop policy
    remedy: {high: Saw it off.}
"""


@pytest.mark.parametrize(
    ("expression", "given", "told"),
    [
        (
            "ordered_length if known(ordered_length) else measured_length",
            "",
            ["length measured, {} (or length ordered)"],
        ),
        ("measured_length if known(measured_length) else ordered_length", "", ["length ordered (or length measured)"]),
        # What is measured counts before what was ordered; either would do, and the first that is asked about is named.
        (
            "ordered_length if not known(measured_length) and known(ordered_length) else measured_length",
            "",
            ["length measured, {} (or length ordered)"],
        ),
        (
            "(measured_length + overhang)/2 if known(measured_length) and known(overhang)"
            " else (measured_length if known(measured_length) else overhang)",
            "",
            ["length measured, {} (or overhang)"],
        ),
        (
            "greatest_reading(measured_length) if known(measured(measured_length)) else measured_length",
            "",
            ["length measured, {}"],
        ),
        ("greatest_known(ordered_length, drawn_length)", "", ["length ordered (or length drawn)"]),
        # What is only added where it is known would close nothing.
        ("measured_length + (overhang if known(overhang) else 0 mm)", "", ["length measured, {}"]),
        # What only the branch needs that is not taken would close nothing.
        (
            "measured_length + (0 mm if known(drawn_length) else ordered_length)",
            "drawn_length: 700 mm",
            ["length measured, {}"],
        ),
        # Where one way lacks more than one thing, each would have to be known beside the other.
        (
            "ordered_length if known(ordered_length) else measured_length + overhang",
            "",
            ["length measured, {} (or length ordered)", "overhang, {} (or length ordered)"],
        ),
        (
            "ordered_length if known(ordered_length) else measured_length",
            "measured_length: {1: 700 mm}",
            ["length measured, shelf 2 (or length ordered)"],
        ),
    ],
)
def test_a_check_that_waits_names_every_way_to_close_it(
    expression: str, given: str, told: list[str], tmp_path: Path
) -> None:
    rulebook = load_rulebook(write_pack(tmp_path / "shelves", pack=PACK.replace("EXPRESSION", expression)))
    head = "record: 1\nassembly: Hall\napplication: hall\nrule_packs: {shelves: '>=1'}\nstations: {shelf: 2}\n"
    report = rulebook.check(record_from_text(f"{head}readings: {{{given}}}\n"))
    missing = {str(gap) for finding in report.findings for gap in finding.missing}
    assert missing == {words.format(f"shelf {station}") for station in (1, 2) for words in told}


def test_a_reading_needed_for_another_thing_too_has_nothing_in_its_place(tmp_path: Path) -> None:
    expression = "(ordered_length if known(ordered_length) else measured_length) - measured_length + overhang"
    rulebook = load_rulebook(write_pack(tmp_path / "shelves", pack=PACK.replace("EXPRESSION", expression)))
    head = "record: 1\nassembly: Hall\napplication: hall\nrule_packs: {shelves: '>=1'}\nstations: {shelf: 1}\n"
    report = rulebook.check(record_from_text(f"{head}readings: {{}}\n"))
    missing = [str(gap) for finding in report.findings for gap in finding.missing]
    assert missing == ["length measured", "overhang"]
