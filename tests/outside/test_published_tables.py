"""The fits and wear limits that manuals print for whole engines.

Each row of data/published_tables.csv is judged twice. As the part maker's sheet of a record it alone decides: new and
worn sizes hold, one step of its last digit beyond does not. Against the pack the row says how far the two agree:
`edge` the worn limit is the pack's own, `worn` the pack allows all that the table does, `new` it allows new parts,
`sheet` it asks for something else, and why.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from decimal import Decimal
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import pytest
from judging import record, rulebook, verdicts

from checker import Rulebook, Verdict

ROWS = list(csv.DictReader((Path(__file__).with_name("data") / "published_tables.csv").read_text().splitlines()))
NO_LIMITS = """
pack: no-limits
version: 1.0.0
rule_language: 1
title: Rules that state no limit of their own
builds_on: {four-stroke: ">=1,<2"}
rules:
"""
NO_LIMIT = """
  sheet-{number}:
    title: {name}
    before: hand-over
    judges: {name}
    limits: {{any: {{should: {{at_least: {name}}}}}}}
    basis: {{kind: shop policy}}
    remedy: {{low: None}}
"""
CHARACTERISTICS = sorted({row["characteristic"] for row in ROWS})


@cache
def without_limits() -> Rulebook:
    rules = "".join(NO_LIMIT.format(number=number, name=name) for number, name in enumerate(CHARACTERISTICS))
    folder = Path(mkdtemp())
    (folder / "pack.yaml").write_text(NO_LIMITS + rules)
    return rulebook("four-stroke", folder)


def by_the_sheet(row: dict[str, str]) -> list[str]:
    return [f"sheet-{CHARACTERISTICS.index(row['characteristic'])}"]


def by_the_pack(row: dict[str, str]) -> list[str]:
    return [
        rule.name for rule in rulebook("four-stroke").layered.rules.values() if rule.judges == row["characteristic"]
    ]


def in_another_unit(text: str, unit: str) -> str:
    """The same length, exactly."""
    factor, other = {"in": ("25.4", "mm"), "mm": ("1000", "um")}[unit]
    return f"{Decimal(text) * Decimal(factor)} {other}"


def as_printed(text: str, unit: str) -> str:
    return f"{text} {unit}"


def holding(row: dict[str, str], *names: str) -> list[str]:
    return [row[name] for name in names if row[name]]


def beyond(row: dict[str, str]) -> list[str]:
    """One step of its last digit past each end of a table, the upper end last."""
    low, high = row["new_low"], row["worn"] or row["new_high"]
    return [f"{Decimal(end) + sign * step(end)}" for end, sign in ((low, -1), (high, 1)) if end]


def step(text: str) -> Decimal:
    return Decimal(1).scaleb(-len(text.partition(".")[2]))


def judged(
    book: Rulebook, rules: list[str], row: dict[str, str], sizes: list[str], **sections: Any
) -> list[set[Verdict]]:
    """What each size is found: as stations of one assembly where there can be several, else one by one."""
    per = book.characteristics[row["characteristic"]].characteristic.per
    given, facts = json.loads(row["sizes"]), json.loads(row["facts"])
    if per is None:
        reports = [
            book.check(record(row["use"], {**given, row["characteristic"]: size}, facts=facts, **sections))
            for size in sizes
        ]
        return [verdicts(report, rules)[0] for report in reports]
    alike = {
        name: {"all": size} if book.characteristics[name].characteristic.per else size for name, size in given.items()
    }
    readings = {**alike, row["characteristic"]: dict(enumerate(sizes, 1))}
    report = book.check(record(row["use"], readings, facts=facts, stations={per: len(sizes)}, **sections))
    return verdicts(report, rules)


def name(row: dict[str, str]) -> str:
    return f"{row['engine']}: {row['characteristic']}"


def holds(found: set[Verdict]) -> bool:
    """Whether something was judged and no must broken."""
    return bool(found & {Verdict.WITHIN, Verdict.ADVISORY}) and Verdict.OUTSIDE not in found


@pytest.mark.parametrize("written", [as_printed, in_another_unit])
@pytest.mark.parametrize("row", [pytest.param(row, id=name(row)) for row in ROWS])
def test_as_the_part_makers_sheet_a_table_decides(row: dict[str, str], written: Callable[[str, str], str]) -> None:
    sheet = {"at_most": as_printed(row["worn"] or row["new_high"], row["unit"]), "source": row["source"]}
    if row["new_low"]:
        sheet["at_least"] = as_printed(row["new_low"], row["unit"])
    good, bad = holding(row, "new_low", "new_high", "worn"), beyond(row)
    sizes = [written(size, row["unit"]) for size in (*good, *bad)]
    found = judged(without_limits(), by_the_sheet(row), row, sizes, part_limits={row["characteristic"]: sheet})
    assert [holds(verdict) for verdict in found] == [True] * len(good) + [False] * len(bad)
    assert all(Verdict.OUTSIDE in verdict for verdict in found[len(good) :])


@pytest.mark.parametrize("row", [pytest.param(row, id=name(row)) for row in ROWS if row["pack"] != "sheet"])
def test_the_pack_agrees_with_a_table_as_far_as_it_says(row: dict[str, str]) -> None:
    allowed = holding(row, "new_low", "new_high", *(["worn"] if row["pack"] in ("edge", "worn") else []))
    *found, past = judged(
        rulebook("four-stroke"),
        by_the_pack(row),
        row,
        [as_printed(size, row["unit"]) for size in (*allowed, beyond(row)[-1])],
    )
    assert all(map(holds, found)), dict(zip(allowed, found, strict=True))
    assert row["pack"] != "edge" or Verdict.OUTSIDE in past


def test_where_the_pack_asks_for_something_else_a_reason_is_given() -> None:
    assert all(row["why"] for row in ROWS if row["pack"] == "sheet")
    assert len({row["engine"] for row in ROWS}) >= 4
