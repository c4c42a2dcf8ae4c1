"""A released pack is compiled only as far as it is asked for; that must change nothing but the time it takes."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from pack_tools import GEAR_TRAIN, plugins_with, write_pack
from places import DATA

from checker.documents.document import parse_yaml, read_document
from checker.errors import PackError
from checker.packs.limits import BANDS
from checker.packs.pack import Pack
from checker.packs.reader import read_pack
from checker.packs.released import Standing
from checker.packs_asked import read_packs
from checker.plugins import gather
from checker.records.demo import demo_record
from checker.records.record import record_in
from checker.reports.json_report import report_data
from checker.reports.report_keys import PARTS
from checker.rulebook import Rulebook, load_rulebook

RECORD = record_in(read_document(DATA / "gear_train_record.yaml"))


def released(pack: Pack) -> Pack:
    return pack._replace(standing=Standing.RELEASED)


def without_standing(report: object) -> object:
    data = report_data(report, PARTS)  # type: ignore[arg-type]
    return {**data, "packs": [{**pack, "standing": ""} for pack in data["packs"]]}


def test_a_released_pack_judges_as_one_that_was_checked_at_once() -> None:
    pack = read_pack(GEAR_TRAIN)
    late, early = (Rulebook([each], plugins_with(), strict) for each, strict in ((released(pack), False), (pack, True)))
    for application in early.applications:
        assert without_standing(late.check(RECORD, application)) == without_standing(early.check(RECORD, application))


@pytest.mark.usefixtures("nothing_shared")
def test_so_it_is_with_the_shipped_packs() -> None:
    plugins, record = gather(), demo_record()
    packs = read_packs(("nitrous",), plugins)
    late = Rulebook([released(pack) for pack in packs], plugins)
    early = Rulebook(packs, plugins, strict=True)
    assert without_standing(late.check(record, "drag")) == without_standing(early.check(record, "drag"))


@pytest.mark.usefixtures("nothing_shared")
def test_threads_that_are_the_first_to_ask_get_the_same() -> None:
    """What is compiled and remembered on the way belongs to all of them."""
    plugins, record = gather(), demo_record()
    book = load_rulebook("nitrous", plugins=plugins)
    asked = ["drag", record.application, "drag"]
    with ThreadPoolExecutor(len(asked)) as pool:
        found = list(pool.map(lambda application: report_data(book.check(record, application)), asked))
    alone = load_rulebook("nitrous", plugins=plugins)
    expected = {application: report_data(alone.check(record, application)) for application in set(asked)}
    assert found == [expected[application] for application in asked]


def test_asking_for_everything_checks_everything() -> None:
    """Strict means that a mistake which slipped into a release is told at once."""
    with pytest.raises(PackError, match="has no unit"):
        Rulebook([released(wrong(read_pack(GEAR_TRAIN)))], plugins_with(), strict=True)


def wrong(pack: Pack) -> Pack:
    """The gear train with a limit that lacks its unit, which only compiling the limit can tell."""
    (rule,) = (rule for rule in pack.rules if rule.name == "joint-gap")
    entry = rule.limits[0]
    bands = {
        band: getattr(entry, band)._replace(
            **{
                key: limit._replace(written="0.05", number=0.05)
                for key, limit in getattr(entry, band)._asdict().items()
                if limit
            }
        )
        for band in BANDS
    }
    mended = rule._replace(limits=(entry._replace(**bands),))
    return pack._replace(rules=tuple(mended if each is rule else each for each in pack.rules))


def test_a_limit_found_wrong_late_is_told_and_never_left_out() -> None:
    book = Rulebook([released(wrong(read_pack(GEAR_TRAIN)))], plugins_with())
    with pytest.raises(PackError, match=r"0\.05 has no unit"):
        book.check(RECORD)


def test_values_derived_from_derived_values_are_computed_once_each(tmp_path: Path) -> None:
    """Forty that double each other: expanded as text they would be 2 to the 40th."""
    chain = "".join(
        f"  p{n}: {{title: P, unit: '1', plausible: [0, 1.0e+12], derived: p{n - 1} + p{n - 1}}}\n"
        for n in range(1, 40)
    )
    folder = write_pack(tmp_path / "chain", pack=CHAIN.format(chain))
    readings = b"record: 1\nassembly: A\napplication: plain\nrule_packs: {chain: '>=1'}\nreadings: {p0: 1}\n"
    record = record_in(parse_yaml(readings, "record.yaml"))
    (finding,) = Rulebook([read_pack(folder)], plugins_with()).check(record).findings
    assert finding.value == 2.0**39
    assert str(finding.verdict) == "within"


CHAIN = """
pack: chain
version: 1.0.0
rule_language: 1
title: A chain
applications: {{plain: {{title: Plain}}}}
milestones: [made]
characteristics:
  p0: {{title: P, unit: "1", plausible: [0, 10]}}
{}
rules:
  last:
    title: Last
    before: made
    judges: p39
    limits: {{any: {{must: {{at_most: 900000000000}}}}}}
    basis: {{kind: computed}}
"""
