"""The context of a judgement: what findings tell of a record besides its verdicts."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from functools import cache, partial

from checker.checking.book import Book
from checker.expressions.names import Column
from checker.findings.context import Context
from checker.frozen import FrozenMapping
from checker.grouping import grouped
from checker.judging.conformity import Decision
from checker.judging.doubt import Doubts
from checker.judging.evidence import Evidence
from checker.judging.judge import Judged
from checker.judging.sheet_limits import sheets_at_hand
from checker.packs.characteristic import Characteristic
from checker.packs.compiled import CompiledRule, Inputs, inputs_of
from checker.packs.inspection import Plan
from checker.packs.titles import Titles, lowered
from checker.records.entry import Reading
from checker.units.units import UNITS


def context_of(book: Book, evidence: Evidence, decision: Decision) -> Context:
    """The context before anything is judged, whatever the use."""
    return Context(
        block=evidence.block,
        characteristics=book.characteristics,
        stations=book.layered.stations,
        chain=(),
        application_title="",
        units=FrozenMapping({kind: UNITS[name].name for kind, name in evidence.record.units.items()}),
        decision=decision,
        sheets=sheets_at_hand(evidence.part_sheets, book.layered),
        written=_written(evidence),
        refused=FrozenMapping(_refused(evidence)),
        concessions=evidence.concessions,
        past=evidence.past,
        inputs=partial(book.inputs, chain=()),
        seen=evidence.seen,
        undivided=frozenset(
            gauge.name for gauge in evidence.record.instruments if gauge.expanded_uncertainty and not gauge.shared
        ),
        milestones=book.layered.milestone_titles,
        said=cache(Titles(book.layered).said),  # alike at every station of a rule
    )


def for_use(
    context: Context, book: Book, chain: tuple[str, ...], plan: Plan, alone: Mapping[str, CompiledRule]
) -> Context:
    """The same for a use and those it is like; `alone` are the rules that part sheets bring, by name."""
    of_sheets = {name: inputs_of([rule.judges], book.characteristics) for name, rule in alone.items()}

    def inputs(rule: str) -> Inputs:
        return of_sheets[rule] if rule in of_sheets else book.inputs(rule, chain)

    title = book.layered.applications[chain[0]].title
    return context._replace(chain=chain, application_title=title, plan=plan, inputs=inputs)


def with_derived_facts(context: Context, facts: Iterable[Characteristic], doubts: Doubts) -> Context:
    """The same, told also the facts that follow from readings, as far as they are known.

    The title of the use says besides which of them are in doubt.
    """
    told, derived = [context.application_title], {}
    for stated in facts:
        column = Column(stated.name)
        position = float(context.block.fetch(column)[0, 0])
        if not math.isfinite(position):
            continue
        if doubts.bears_on(column, context.decision):
            told.append(f"{lowered(stated.title)} in doubt")
        else:
            derived[stated.name] = stated.choices[int(position)]
            told.append(f"{lowered(stated.title)}: {derived[stated.name]}")
    return context._replace(application_title="; ".join(told), derived_facts=FrozenMapping(derived))


def rules_beside(judged: Iterable[Judged]) -> Mapping[str, tuple[Judged, ...]]:
    """The rules of each characteristic that is judged as it is."""
    found = grouped(judged, lambda one: None if one.rule.is_demand else one.rule.judges.characteristic)
    return FrozenMapping({name: tuple(rules) for name, rules in found.items() if name is not None})


def _written(evidence: Evidence) -> Mapping[tuple[str, int], tuple[Reading, ...]]:
    """The readings that count, by characteristic and station."""
    counting = (reading for reading in evidence.readings if not reading.set_aside)
    by_place = grouped(counting, lambda reading: (reading.characteristic, reading.station))
    return FrozenMapping({place: tuple(readings) for place, readings in by_place.items()})


def _refused(evidence: Evidence) -> Iterator[tuple[tuple[str, int], str]]:
    """Why what was written for a station does not count as measured, or what is worked out for it."""
    yield from evidence.outlived.items()
    for reading in evidence.readings:
        if reading.set_aside:
            yield (reading.characteristic, reading.station), f"written {reading.written}, {reading.set_aside}"
