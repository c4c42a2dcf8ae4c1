"""Running cases: all cases of a rule for one application are judged as one block."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import TypeVar

import numpy as np

from checker.errors import PackError, Place, Problem, nearest
from checker.expressions.faults import noting
from checker.expressions.truth import Array, are_equal
from checker.findings.context import Context
from checker.findings.remedies import stated_remedy
from checker.findings.standpoint import Beside, Standpoint
from checker.graph import lineage
from checker.judging.block import Block
from checker.judging.columns import Columns
from checker.judging.conformity import Decision
from checker.judging.gathering import columns_of
from checker.judging.judge import Judged, Verdict, judge
from checker.judging.measures import measure
from checker.judging.sheet_limits import SheetsAtHand
from checker.notation.read import NotationError, read_quantity
from checker.on_demand import OnDemand
from checker.packs.case import Case
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.titles import Titles
from checker.records.concessions import Past
from checker.records.entry import Reading, last_digit
from checker.records.layout import Layout, station_number
from checker.records.part_sheet import PartLimit
from checker.records.slips import is_impossible
from checker.records.values import Asked
from checker.rulebook import Rulebook

_Key = TypeVar("_Key")
_FACE_VALUE = Decision("simple")


@dataclass(frozen=True, slots=True)
class CaseGroup:
    """Cases of one rule, application and layout, with their values as one block."""

    rule: str
    chain: tuple[str, ...]
    cases: tuple[Case, ...]
    block: Block
    context: Context
    part: PartLimit | None


@dataclass(frozen=True, slots=True)
class Failure:
    """A case that did not come out as it says."""

    case: Case
    message: str

    def __str__(self) -> str:
        source = f" ({self.case.source})" if self.case.source else ""
        return f"{self.case.place}: {self.case.rule}, {self.case.application}: {self.message}{source}"


def group_cases(rulebook: Rulebook, cases: Iterable[Case]) -> tuple[CaseGroup, ...]:
    """Understand cases and gather them into blocks; raises PackError naming all that cannot be read."""
    problems: list[Problem] = []
    gathered: dict[tuple[str, str, object], list[tuple[Case, Layout, Columns]]] = defaultdict(list)
    for case in cases:
        if misnamed := list(_misnamed(case, rulebook)):
            problems += misnamed
            continue
        layout = _layout(case, rulebook)
        readings = list(_readings(case, rulebook, layout, problems))
        columns = columns_of(readings, rulebook.characteristics, layout, {})
        alone = case.place if case.remedy else None  # words are made for the first row of a block only
        gathered[(case.rule, case.application, (layout, alone))].append((case, layout, columns))
    if not problems:
        groups = tuple(_group(rulebook, *key[:2], cases, problems) for key, cases in gathered.items())
    if problems:
        raise PackError(problems)
    return groups


def failures_in(rule: CompiledRule, group: CaseGroup) -> Iterator[Failure]:
    """The cases of a group that a rule, perhaps a changed one, does not answer as they say."""
    with noting() as faults:
        measures = measure(rule, group.block, group.chain, group.part)
        judged = judge(rule, measures, _FACE_VALUE)
    for row, case in enumerate(group.cases):
        difference = _difference(case, judged, row % judged.codes.shape[0], group)
        message = f"cannot be judged: {'; '.join(faults.values())}" if faults else difference
        if message:
            yield Failure(case, message)


def _misnamed(case: Case, rulebook: Rulebook) -> Iterator[Problem]:
    """What a case names that there is not."""

    path = case.origin.path
    entry = case.origin._replace(path=path[:-2]).place if case.vary else case.place  # once, for all that it varies

    def unknown(words: str, name: str, known: Collection[str], place: Place = entry) -> Iterator[Problem]:
        if name not in known:
            yield Problem(f"{words} {name!r}", place, nearest(name, known))

    yield from unknown("no rule", case.rule, rulebook.rules, case.origin._replace(path=path[:2]).place)
    yield from unknown("no application", case.application, rulebook.applications)
    for name, by_station in case.given.items():
        for station in by_station:
            if station and station_number(station) is None:
                yield Problem(f"{name}: {station!r} is no number of a station", case.place)
        yield from unknown("unknown characteristic", name, rulebook.characteristics)
    for name in case.stations:
        yield from unknown("no stations", name, rulebook.layered.stations)


def _layout(case: Case, rulebook: Rulebook) -> Layout:
    """The stations a case states; where it is silent, as many as its values name."""
    parents = rulebook.layered.parents
    counts = dict.fromkeys(parents, 1)
    for name, by_station in case.given.items():
        per = rulebook.characteristics[name].characteristic.per
        if per is not None:
            counts[per] = max(counts[per], *(station_number(station) or 1 for station in by_station))
    counts.update(case.stations)
    for name in parents:
        counts[name] = max(counts[kind] for kind in lineage(name, parents))
    return Layout(counts, parents)


def _readings(case: Case, rulebook: Rulebook, layout: Layout, problems: list[Problem]) -> Iterator[Reading]:
    for name, by_station in case.given.items():
        item = rulebook.characteristics[name]
        count = layout.count(item.characteristic.per)
        for station, texts in by_station.items():
            number = station_number(station)
            stations = range(count) if number is None else range(number - 1, number)
            for text in texts:
                yield from _reading(case, item, text, stations, problems)


def _reading(
    case: Case, item: CompiledCharacteristic, text: str, stations: Iterable[int], problems: list[Problem]
) -> Iterator[Reading]:
    if item.unit is None:
        choices = item.characteristic.choices
        if text not in choices:
            hint = nearest(text, choices) or f"one of {', '.join(choices)}"
            problems.append(Problem(f"{item.name} cannot be {text!r}", case.place, hint))
            return
        code = float(choices.index(text))
        spans = [(code, code)]
    else:
        try:
            written = read_quantity(text, item.unit, None)
        except NotationError as error:
            problems.append(Problem(f"{item.name}: {error}", case.place))
            return
        if written.meaning:
            problems.append(Problem(f"{item.name}: write the value itself, not {text!r}", case.place))
        spans = [(span.low, span.high) for span in written.spans]
    for station in stations:
        for low, high in spans:
            reading = Reading(item.name, station, low, high, text, item.unit, case.place)
            yield reading._replace(is_possible=not is_impossible(reading, item))


def _group(
    rulebook: Rulebook,
    rule: str,
    application: str,
    located: Sequence[tuple[Case, Layout, Columns]],
    problems: list[Problem],
) -> CaseGroup:
    layout = located[0][1]
    measured = [columns.measured for _, _, columns in located]
    views = [columns.views for _, _, columns in located]
    block = Block(rulebook.characteristics, layout, _stacked(measured), _stacked(views))
    chain = rulebook.chain(application)
    context = Context(
        block=block,
        characteristics=rulebook.characteristics,
        stations=rulebook.layered.stations,
        chain=chain,
        application_title=application,
        units={},
        decision=_FACE_VALUE,
        sheets=SheetsAtHand(),
        written={},
        refused={},
        concessions=(),
        past=Past({}, {}, date.today()),
        inputs=partial(rulebook.inputs, chain=chain),
        milestones=rulebook.layered.milestone_titles,
        said=Titles(rulebook.layered).said,
    )
    cases = tuple(case for case, _, _ in located)
    return CaseGroup(rule, chain, cases, block, context, _sheets(cases, rulebook.rules[rule], problems))


def _sheets(cases: Sequence[Case], rule: CompiledRule, problems: list[Problem]) -> PartLimit | None:
    """The limits of the part sheets that cases state, a row for each case."""
    if all(case.sheet is None for case in cases):
        return None

    def ends(key: str, silent: float) -> Array:
        texts = (getattr(case.sheet, key, "") for case in cases)
        asked = (Asked(rule.unit, None, case.place, problems) for case in cases)
        return np.array([[item.value(text) if text else silent] for item, text in zip(asked, texts, strict=True)])

    return PartLimit(ends("at_least", -np.inf), ends("at_most", np.inf))


def _stacked(rows: Sequence[Mapping[_Key, Array]]) -> Mapping[_Key, Array]:
    """One array for all rows; a row that lacks a key is missing there."""

    def stacked(key: _Key) -> Array:
        own = [row.get(key) for row in rows]
        shapes = {values.shape for values in own if values is not None}
        if not shapes:
            raise KeyError(key)
        missing = np.full(shapes.pop(), np.nan)
        return np.concatenate([missing if values is None else values for values in own])

    return OnDemand(lambda: dict.fromkeys(key for row in rows for key in row), stacked)


def _difference(case: Case, judged: Judged, row: int, group: CaseGroup) -> str:
    """What differs from the case, in words; empty when nothing does."""
    codes = judged.codes[row]
    number = station_number(case.station)
    station = int(np.argmax(codes)) if number is None else number - 1
    if not 0 <= station < len(codes):
        return f"there is no station {case.station}"
    verdict = Verdict(codes[station])
    value = float(judged.measures.value[row, station])
    if str(verdict) != case.verdict:
        return f"{case.verdict} expected, {verdict} found"
    side = _side(judged, row, station, verdict) if case.side or case.remedy else ""
    if case.side and side != case.side:
        return f"too {case.side} expected, too {side} found"
    if case.value and not _is_about(value, case.value, judged.rule):
        return f"a value of {case.value} expected, {judged.rule.unit.from_si(value):.6g} {judged.rule.unit.name} found"
    if not case.remedy:
        return ""
    here = Standpoint(judged, station, verdict, group.context, Beside.of(judged, group.context))
    remedy, _ = stated_remedy(here, side)
    return f"{case.remedy!r} expected in the remedy, found {remedy!r}" if case.remedy not in remedy else ""


def _side(judged: Judged, row: int, station: int, verdict: Verdict) -> str:
    if judged.rule.is_demand:
        return "broken"
    margins = judged.measures.margins[:, row, station]
    low_must, low_should, high_should, high_must = np.where(np.isfinite(margins), margins, np.inf)
    low, high = (low_must, high_must) if verdict is Verdict.OUTSIDE else (low_should, high_should)
    return "low" if low < high else "high"


def _is_about(value: float, text: str, rule: CompiledRule) -> bool:
    """Equal within half of the last digit written."""
    try:
        written = read_quantity(text, rule.unit, rule.unit)
    except NotationError:
        return False
    stated, half = written.spans[0].low, last_digit(text, written.unit) / 2
    return math.isfinite(value) and (are_equal(value, stated) or abs(value - stated) <= half * (1 + 1e-6))
