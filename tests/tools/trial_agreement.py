"""Random readings judged in every way there is: as one block, record by record, twice, one by one, and from sheets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from trial_packs import ANGLES, MEASURED, rulebook
from trial_records import OF_EACH_KIND, Reading, Written, unit_of, written

from checker import InputError, Record, Report, Rulebook, Verdict, record_from
from checker.documents.document import parse_yaml
from checker.judging.conformity import Decision
from checker.records.record import record_in
from checker.sheets.plan import plan
from checker.sheets.read_csv import read_csv
from checker.sheets.write_csv import write_csv
from checker.sheets.write_yaml import write_yaml

DAY = date(2026, 6, 1)
DECISIONS = (Decision(), Decision("guarded"), Decision("probability", 0.95), Decision("simple"))
ALL = tuple(Verdict)


def disagreements(seed: int, folder: Path, rules: int = 6, rows: int = 4) -> Iterator[str]:
    """Where one random pack says otherwise of the same readings when asked in another way."""
    import pyarrow

    random = np.random.default_rng([seed, 1])
    book = rulebook(random, folder, rules)
    heads = written(random, list(book.rules), ())
    base = {key: value for key, value in heads.more.items() if key not in ("parts", "concessions")}
    named = {name: heads.gauge_of(name) for name in (*MEASURED, *ANGLES) if random.random() < 0.7}
    head = {
        "application": str(random.choice(["any-use", "hard-use"])),
        "stations": OF_EACH_KIND,
        "instruments": heads.instruments(),
        "units": {"length": "mm", "angle": "deg"},
        "facts": dict(heads.facts),
        **heads.temperatures(),
        **base,
    }
    table = _table(random, heads, rows)
    in_table = {label.partition("@")[0] for label in table}
    named = {name: gauge for name, gauge in named.items() if name in in_table}
    head["readings"] = {name: noted for name, noted in heads.noted().items() if name not in in_table}
    for decision in random.permutation(np.array(DECISIONS))[:2]:
        how: dict[str, Any] = {"instruments": named, "decision": decision, "on": DAY}
        told = book.check_table(pyarrow.table(table), head, verdicts=ALL, **how)
        if book.check_table(pyarrow.table(table), head, verdicts=(), **how).counts != told.counts:
            yield f"counts of {seed}, {decision.rule}: others where no finding is asked for"
        by_row: dict[int, dict[tuple[str, int | None], str]] = {row: {} for row in range(rows)}
        for line in told.findings.to_pylist():
            by_row[line["row"]][line["rule"], line["station"]] = line["verdict"]
        records = [record_from(_row(head, table, named, row)) for row in range(rows)]
        reports = [book.check(record, decision=decision, on=DAY) for record in records]
        many = [*book.check_many(records, decision=decision, on=DAY)]
        for row, (report, again) in enumerate(zip(reports, many, strict=True)):
            for way, other in (("table", by_row[row]), ("again", verdicts(again))):
                for place, verdict in verdicts(report).items():
                    if other.get(place) != verdict:
                        said = f"{verdict} alone, {other.get(place)} by {way}"
                        yield f"{place} of {seed}, row {row}, {decision.rule}: {said}; {_row(head, table, named, row)}"
    yield from _by_readings(book, _row(head, table, named, 0), seed)
    by_eye = [name for name, rule in book.rules.items() if rule.rule.inspection.by_eye]
    record = written(random, list(book.rules), by_eye).record()
    yield from _by_sheet(book, record, folder, seed)
    yield from _by_use(book, record, seed)


def _by_readings(book: Rulebook, data: Mapping[str, Any], seed: int) -> Iterator[str]:
    """The same taken reading by reading, each report made from the one before."""
    session = book.session(record_from({**data, "readings": {}}), on=DAY)
    for name, noted in data["readings"].items():
        for station, cell in noted["values"].items():
            try:
                session.take(name, int(station), cell, **_details(noted))
            except InputError:
                continue
            fresh = verdicts(book.check(session.record, on=DAY))
            kept = verdicts(session.report)
            for place, verdict in fresh.items():
                if kept[place] != verdict:
                    yield f"{place} of {seed}, after {name} {station}: {verdict} alone, {kept[place]} in a session"


def _by_sheet(book: Rulebook, record: Record, folder: Path, seed: int) -> Iterator[str]:
    """The same written on a sheet, and read back from it."""
    report = book.check(record, on=DAY)
    sheet = plan(book, report)
    (folder / "sheet.csv").write_text(write_csv(sheet), newline="")
    as_yaml = record_in(parse_yaml(write_yaml(sheet).encode(), "record.yaml"))
    for form, filled in (("csv", read_csv(folder / "sheet.csv")), ("yaml", as_yaml)):
        other = verdicts(book.check(filled, on=DAY))
        for place, verdict in verdicts(report).items():
            if other[place] != verdict:
                yield f"{place} of {seed}: {verdict} alone, {other[place]} from a sheet in {form}"


def _by_use(book: Rulebook, record: Record, seed: int) -> Iterator[str]:
    """The same for every use at once."""
    for report in book.check_uses(record, on=DAY):
        other, use = verdicts(report), report.application
        alone = book.check(record, use, on=DAY)
        if not set(alone.flags) <= set(report.flags):
            yield f"flags of {seed}: {alone.flags} alone, {report.flags} among all uses, {use}"
        for place, verdict in verdicts(alone).items():
            if other[place] != verdict:
                yield f"{place} of {seed}: {verdict} alone, {other[place]} among all uses, {use}"


def _details(noted: Mapping[str, Any]) -> dict[str, Any]:
    return {"instrument": noted["with"]} if "with" in noted else {}


def verdicts(report: Report) -> dict[tuple[str, int | None], str]:
    """What a report says of each rule at each station from 1."""
    return {
        (judged.rule.name, None if judged.rule.stations is None else station + 1): str(Verdict(code))
        for judged in report.judged
        for station, code in enumerate(judged.codes[0])
    }


def _table(random: np.random.Generator, heads: Written, rows: int) -> dict[str, list[float | None]]:
    """Numbers in a column for most places: about those of the record, lacking, or not possible."""
    found: dict[str, list[float | None]] = {}
    for number, (name, items) in enumerate(heads.readings.items()):
        is_wanted = number == 0 or random.random() < 0.7
        for station, item in enumerate(items, 1):
            if is_wanted and (station == 1 or random.random() < 0.9):
                found[f"{name}@{station}"] = [_cell(random, item) for _ in range(rows)]
    return found


def _cell(random: np.random.Generator, item: Reading) -> float | None:
    if item.is_lacking or random.random() < 0.06:
        return None
    if random.random() < 0.06:
        return float(random.choice([-250.0, -700.0, 900.0, 0.0]))
    return round(float(random.normal(item.low, 4.0)), 2)


def _row(
    head: Mapping[str, Any], table: Mapping[str, list[float | None]], named: Mapping[str, str], row: int
) -> dict[str, Any]:
    """The record that says what a row says."""
    readings: dict[str, Any] = dict(head["readings"])
    for label, column in table.items():
        name, _, station = label.partition("@")
        if column[row] is not None:
            own = readings.setdefault(name, {"values": {}, **({"with": named[name]} if name in named else {})})
            own["values"][station] = f"{column[row]} {unit_of(name)}"
    return {"assembly": "one", **head, "readings": readings}
