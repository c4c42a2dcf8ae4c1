"""Every reading of a record as it was measured, for whoever judges the assembly again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from checker.findings.context import Context, place_name
from checker.findings.finding import numbered
from checker.html.markup import Content, Markup, element
from checker.html.words import count, folded, table
from checker.notation.write import write_interval
from checker.packs.compiled import CompiledCharacteristic
from checker.records.entry import Reading
from checker.reports.report import Report


def readings(report: Report) -> Markup:
    """What was measured, as it was written down; what could not be is named as such."""
    by_characteristic: dict[str, list[Reading]] = {}
    for reading in report.readings:
        by_characteristic.setdefault(reading.characteristic, []).append(reading)
    titles = {instrument.name: instrument.title or instrument.name for instrument in report.record.instruments}
    rows = [_measured(taken, report.context, titles) for taken in by_characteristic.values()]
    title = f"Every reading as it was measured: {count(len(rows), 'kind')}"
    shown = table("plain", ("What was measured", "Values", "With", "On"), rows, "What was measured")
    return element("section", folded(title, shown, name="readings"))


def _measured(readings: Sequence[Reading], context: Context, titles: Mapping[str, str]) -> tuple[Content, ...]:
    """One characteristic: its values, which instruments read them (by their titles), and when."""
    compiled = context.characteristics[readings[0].characteristic]
    item, reference = compiled.characteristic, _reference(compiled)
    by_station: dict[int, list[str]] = {}
    for reading in readings:
        by_station.setdefault(reading.station, []).append(_value(reading, reference))
    alike: dict[str, list[tuple[str, int]]] = {}
    for station, texts in by_station.items():
        alike.setdefault(", ".join(texts), []).append((place_name(item.per, station, context), station + 1))
    values: list[Content] = []
    for words, stations in alike.items():
        where = numbered(stations)
        values.append(["; " if values else None, element("b", f"{where}: ") if where else None, words])
    days = sorted({reading.taken.isoformat() for reading in readings if reading.taken})
    instruments = dict.fromkeys(titles[reading.instrument] for reading in readings if reading.instrument)
    return item.title, values, ", ".join(instruments), ", ".join(days)


def _value(reading: Reading, reference: str) -> str:
    if reading.set_aside:
        return f"{reading.written} (left out: {reading.set_aside})"
    if reading.unit is None:
        return reading.written
    return f"{write_interval(reading.low, reading.high, reading.unit)}{f' {reference}' if reference else ''}"


def _reference(item: CompiledCharacteristic) -> str:
    """The trade's word for what an angle is counted from and which way, such as "ahead"."""
    way = item.notation.ways.get(item.characteristic.counted or "")
    is_told = way is not None and way.is_direction and not way.names_it and not way.gives_the_sign
    return way.words[0] if way is not None and is_told and way.words else ""
