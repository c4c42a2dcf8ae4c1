"""Making flags from what was said of readings while they were understood."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import chain

from checker.expressions.expression import Expression
from checker.findings.context import Context, place_name
from checker.findings.finding import numbered
from checker.findings.flags_on_slips import lone_values_outside, told_of
from checker.grouping import grouped
from checker.judging.judge import Judged, Verdict
from checker.notation.write import write_quantity
from checker.packs.compiled import CompiledCharacteristic
from checker.records.entry import Reading
from checker.records.flag import Flag
from checker.records.temperature import unevenly_warm

MOST_SHOWN = 3


def flags_on(readings: Iterable[Reading], judged: Sequence[Judged], context: Context) -> Iterator[Flag]:
    """What does not count, then what to look at again: what is suspicious, and what would hold if it were a slip."""
    own = tuple(readings)
    refused = (reading for reading in own if reading.set_aside)
    yield from _flags(refused, lambda reading: (f"{reading.set_aside}; not judged",), context, are_refused=True)
    suspicious = (reading for reading in own if reading.suspicions)
    yield from _flags(
        suspicious, lambda reading: (told_of(reading, suspicion, context) for suspicion in reading.suspicions), context
    )
    lone = dict(lone_values_outside(judged, context))
    yield from _flags(lone, lambda reading: (lone[reading],), context)
    figures = {reading: words for reading in own if (words := _not_measured(reading))}
    within = {
        (column.name, station)
        for rule in (judged if figures else ())
        if (column := rule.rule.judges.column) is not None
        for station in (rule.codes[0] == Verdict.WITHIN).nonzero()[0].tolist()
    }
    alone = [reading for reading in figures if (reading.characteristic, reading.station) in within]
    yield from _flags(alone, lambda reading: (figures[reading],), context)


def _not_measured(reading: Reading) -> str:
    """What there is to say of a figure of the plan for what an instrument reads; empty where there is nothing."""
    if not (reading.is_fact and reading.uncertainty_is_unstated):
        return ""
    return f"a figure under facts, which nobody measured; measure it ({reading.read_with}) and write it under readings"


def flags_on_sheets(context: Context) -> Iterator[Flag]:
    """Part sheets that are suspect, as soon as a record is read: what each says, and what it may have been meant as."""
    for name, sheet in context.sheets.by_name.items():
        if sheet.suspicion:
            title = context.characteristics[name].characteristic.title
            written = f"{sheet.written}, {sheet}"
            message = f"{sheet.suspicion} Nothing is within by it until somebody fixes it, or confirms it by name."
            yield Flag(name, title, "", written, message, True, sheet.origin.place)


def flags_on_counts(context: Context) -> Iterator[Flag]:
    """Stations of which nobody says how many there are."""
    for name, (note, advice) in context.block.layout.uncounted.items():
        title = context.stations[name].title
        message = f"nothing says how many there are, so a missing one would go unnoticed: {advice}"
        yield Flag(note.characteristic, title, "", "", message, False, note.place)


def flags_on_warmth(
    computed: Iterable[tuple[CompiledCharacteristic, Expression]],
    judged: Iterable[Judged],
    readings: Sequence[Reading],
    context: Context,
) -> Iterator[Flag]:
    """Lengths that may be warm; and those compared by what was computed though measured at different temperatures."""
    asked = dict(_asked_of_warmth(readings))
    expressions = chain((derived for _, derived in computed), (judged_rule.rule.judges for judged_rule in judged))
    together = (frozenset(column.name for column in expression.columns) for expression in expressions)
    uneven = dict(unevenly_warm(readings, together))
    yield from _flags(asked, lambda reading: (asked[reading],), context)
    yield from _flags(uneven, lambda reading: (uneven[reading],), context)


def _asked_of_warmth(readings: Iterable[Reading]) -> Iterator[tuple[Reading, str]]:
    """What is to be found out of warm readings, each question once: of the one that it may matter most to."""
    warm = [(reading.warmth, reading) for reading in readings if reading.warmth and not reading.set_aside]
    for asks, alike in grouped((pair for pair in warm if pair[0].size), lambda pair: pair[0].asks).items():
        (warmth, most), others = max(alike, key=lambda pair: pair[0].size), {other.characteristic for _, other in alike}
        size = write_quantity(warmth.size, most.unit) if most.unit else ""
        more = f", of {len(others) - 1} other {'size' if len(others) == 2 else 'sizes'} less" if len(others) > 1 else ""
        yield most, f"{asks} Up to {size} of it may be warmth{more}."


def notes_on(readings: Iterable[Reading], context: Context) -> Iterator[Flag]:
    """How readings were understood, where that is not plain from how they are written."""
    return _flags(readings, lambda reading: reading.remarks, context)


def _flags(
    readings: Iterable[Reading],
    said_of: Callable[[Reading], Iterable[str]],
    context: Context,
    are_refused: bool = False,
) -> Iterator[Flag]:
    """One flag for all readings of a characteristic of which the same is said."""
    alike: dict[tuple[str, str], list[Reading]] = defaultdict(list)
    for reading in readings:
        for message in said_of(reading):
            alike[reading.characteristic, message].append(reading)
    for (name, message), saying_it in alike.items():
        item = context.characteristics[name].characteristic
        places = ((place_name(item.per, reading.station, context), reading.station + 1) for reading in saying_it)
        written = list(dict.fromkeys(reading.written for reading in saying_it))
        shown = ", ".join(written[:MOST_SHOWN]) + (", ..." if len(written) > MOST_SHOWN else "")
        yield Flag(name, item.title, numbered(places), shown, message, are_refused, saying_it[0].place)
