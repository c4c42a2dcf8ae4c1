"""Making findings from arrays: the numbers of one rule at one station, and the words that go with them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain

import numpy as np

from checker.findings.asking import contradicted
from checker.findings.context import Context, place_name
from checker.findings.decidable import needed_uncertainty
from checker.findings.edges import edges_at
from checker.findings.finding import MISSED, Finding
from checker.findings.gaps import gaps_at, gives_nothing
from checker.findings.permission import accepted_at
from checker.findings.remarks import judged_by_others, remarks_at, suspect_sheet_at, under_choices_at, warmth_at
from checker.findings.remedies import LOOK_AGAIN, remedy_at
from checker.findings.standpoint import Beside, Standpoint
from checker.judging.judge import Judged, Verdict
from checker.packs.limit_set import POSITIONS
from checker.records.instruments import COVERAGE

_VERDICTS = tuple(Verdict)
AT_FACE_VALUE = (
    "at face value: nearer to its limit than the usual uncertainty of such a reading; name the instrument to decide it"
)


def findings_of(judged: Judged, context: Context, wanted: frozenset[Verdict] | None = None) -> Iterator[Finding]:
    """The findings of one rule at its stations; only those with the verdicts wanted, if any are named."""
    codes = judged.codes[0].tolist()
    if wanted is None or not wanted.isdisjoint(codes):
        beside = Beside.of(judged, context)
        for station, code in enumerate(codes):
            if wanted is None or code in wanted:
                yield _finding(Standpoint(judged, station, _VERDICTS[code], context, beside))


def at_face_value(judged: Sequence[Judged], context: Context) -> Iterator[Finding]:
    """The findings that are within only if readings without an instrument are taken at face value."""
    for judged_rule in judged:
        is_so = None if context.face_value is None else context.face_value.of(judged_rule)
        for station in () if is_so is None else np.flatnonzero(is_so).tolist():
            yield _finding(Standpoint(judged_rule, station, Verdict.WITHIN, context, Beside.of(judged_rule, context)))


def disputed(judged: Sequence[Judged], context: Context) -> Iterator[Finding]:
    """The findings that are within, though a part sheet or another source would say something else."""
    for here, remarks in chain.from_iterable(_disputes(judged, context)):
        yield _finding(here)._replace(remarks=remarks)


def disputed_rules(judged: Sequence[Judged], context: Context) -> int:
    """Of how many rules those are."""
    return sum(any(stations) for stations in _disputes(judged, context))


def _disputes(judged: Sequence[Judged], context: Context) -> Iterator[Iterator[tuple[Standpoint, tuple[str, ...]]]]:
    """By rule the stations where it is within and others say something else, each with what they say."""
    for judged_rule in judged:
        rule, sheet = judged_rule.rule, context.part_sheet(judged_rule.rule)
        is_within = judged_rule.codes[0] == Verdict.WITHIN
        if not (rule.alternatives or sheet) or not is_within.any():
            continue
        beside = Beside.of(judged_rule, context)
        if sheet is None:
            beside.elsewhere.update(judged_by_others(rule, context))
            is_within &= np.any([other.codes[0] != Verdict.WITHIN for other in beside.elsewhere.values()], axis=0)
        if is_within.any():
            yield _disputed_at(np.flatnonzero(is_within).tolist(), judged_rule, context, beside)


def _disputed_at(
    stations: Iterable[int], judged: Judged, context: Context, beside: Beside
) -> Iterator[tuple[Standpoint, tuple[str, ...]]]:
    for station in stations:
        here = Standpoint(judged, station, Verdict.WITHIN, context, beside)
        if remarks := tuple(remarks_at(here)):
            yield here, remarks


def _finding(here: Standpoint) -> Finding:
    rule, verdict, judged = here.rule, here.verdict, here.judged
    position, margin = here.nearest()
    side = _side(here, position)
    under_choices = () if judged.choices is None else tuple(under_choices_at(here))
    missing = tuple(dict.fromkeys(gaps_at(here))) if verdict is Verdict.NOT_MEASURED else ()
    is_silent = verdict is Verdict.NOT_MEASURED and not missing and rule.judges.added
    is_at_face_value = here.is_at_face_value
    is_contradicted = verdict is Verdict.UNDECIDED and bool(contradicted(here))
    finding = Finding(
        rule=rule,
        stations=rule.stations,
        station=here.station,
        where=place_name(rule.stations, here.station, here.context),
        verdict=verdict,
        must_open=bool(judged.must_open[0, here.station]),
        side=side,
        value=math.nan if rule.is_demand else here.at(judged.measures.value),
        unit=here.unit,
        edges=() if rule.is_demand else edges_at(here),
        margin=margin,
        uncertainty=_uncertainty(here, position),
        needed_uncertainty=needed_uncertainty(here)
        if verdict is Verdict.UNDECIDED and not is_contradicted
        else math.nan,
        as_written=_as_written(here),
        missing=missing,
        remarks=(
            *under_choices,
            *([gives_nothing(rule.judges)] if is_silent else ()),
            *remarks_at(here),
            *([AT_FACE_VALUE] if is_at_face_value else ()),
        ),
        under_choices=under_choices,
        concession=accepted_at(here) if verdict in MISSED else "",
        at_face_value=is_at_face_value,
        remedy=LOOK_AGAIN if is_contradicted else "",
        suspect_sheet=suspect_sheet_at(here) if verdict is Verdict.UNDECIDED else "",
        warmth=warmth_at(here) if verdict is Verdict.UNDECIDED else "",
        failed=here.context.stopped.get(rule.name, "") if verdict is Verdict.UNDECIDED else "",
        due=here.context.milestones[rule.rule.before],
    )
    if contradiction := finding.contradiction:
        # Whatever is done about one of the limits, the other is missed.
        return finding._replace(remarks=(contradiction, *finding.remarks))
    return finding._replace(remedy=remedy_at(here, side)) if verdict in MISSED else finding


def _side(here: Standpoint, position: int) -> str:
    if here.verdict not in MISSED:
        return ""
    return "broken" if here.rule.is_demand else POSITIONS[position][1]


def _as_written(here: Standpoint) -> str:
    """The readings of a plain characteristic, where they are not simply its value in the unit shown."""
    column = here.rule.judges.column
    readings = here.context.written.get((column.name, here.station), ()) if column and not here.rule.is_demand else ()
    first = readings[0] if len(readings) == 1 else None
    is_plain = first is not None and first.unit == here.unit and first.low == first.high and not first.remarks
    return "" if is_plain else ", ".join(dict.fromkeys(reading.written for reading in readings))


def _uncertainty(here: Standpoint, position: int) -> float:
    doubt = here.judged.doubt
    return 0.0 if doubt is None else COVERAGE * here.at(doubt.standard[position])
