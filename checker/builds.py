"""Two dated builds of one assembly, or what was measured before and since: what has changed, station by station."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date

from checker.errors import Problem, UsageError, nearest
from checker.expressions.names import Column
from checker.expressions.truth import ABSOLUTE_TOLERANCE
from checker.findings.context import station_name
from checker.findings.display import shown_in
from checker.findings.text import PLAIN, Look, with_count
from checker.grouping import grouped
from checker.judging.doubt import Doubts
from checker.judging.evidence import Evidence, evidence_of
from checker.notation.write import write_apart, write_quantity
from checker.packs.compiled import CompiledCharacteristic, Inputs
from checker.records.change import Change
from checker.records.entry import default_units
from checker.records.record import Record
from checker.rulebook import Rulebook
from checker.units.units import Unit, difference


@dataclass(frozen=True, slots=True)
class Difference:
    """One value before and after, in SI; `doubt` is how far the change between them may be off.

    `renewed` is the part that was changed in between, so that the difference is no wear.
    """

    characteristic: str
    title: str
    station: int
    where: str
    unit: Unit
    before: float
    after: float
    doubt: float
    renewed: Change | None = None

    @property
    def change(self) -> float:
        return self.after - self.before

    @property
    def is_told(self) -> bool:
        """Whether the change is larger than its doubt."""
        return abs(self.change) > self.doubt + ABSOLUTE_TOLERANCE


@dataclass(frozen=True, slots=True)
class Builds:
    """Two understood records, what differs between them, and what was measured in one of them alone, in words."""

    before: Evidence
    after: Evidence
    differences: tuple[Difference, ...]
    alone: tuple[str, ...] = ()


def compare_builds(
    rulebook: Rulebook, before: Record, after: Record, names: Collection[str] = (), on: date | None = None
) -> Builds:
    """Every value known of both builds, or those of the characteristics named.

    Raises InputError for readings that cannot be understood, UsageError for unknown names.
    """
    for name in names:
        if name not in rulebook.characteristics:
            hint = nearest(name, rulebook.characteristics)
            raise UsageError(Problem(f"no characteristic {name!r} in {rulebook}", hint=hint))
    day = on or date.today()
    first, second = (evidence_of(rulebook.compiled, rulebook.blank, record, day) for record in (before, after))
    wanted = [item for name, item in rulebook.characteristics.items() if not names or name in names]
    alone = (
        *(f"not compared, nothing that counts after: {words}" for words in _alone(rulebook, wanted, first, second)),
        *(f"not compared, nothing that counts before: {words}" for words in _alone(rulebook, wanted, second, first)),
    )
    return Builds(first, second, tuple(_differences(rulebook, wanted, first, second)), alone)


def _alone(
    rulebook: Rulebook, wanted: Collection[CompiledCharacteristic], build: Evidence, other: Evidence
) -> Iterator[str]:
    """Where readings of one build stand that the other has none of that counts, all in one text if there are any."""
    lines = []
    for item in (item for item in wanted if item.unit is not None and item.name in build.columns.gathered):
        own, there = (
            {number for number, value in enumerate(of.block.measured[item.name][0]) if math.isfinite(value)}
            if item.name in of.columns.gathered
            else set()
            for of in (build, other)
        )
        alone, stated = sorted(own - there), item.characteristic
        if len(alone) == 1:
            where = station_name(stated.per, alone[0], rulebook.layered.stations, build.layout)
            lines.append(", ".join(filter(None, (stated.title, where))))
        elif alone:
            lines.append(with_count(stated.title, len(alone)))
    if lines:
        yield "; ".join(lines)


def _differences(
    rulebook: Rulebook, wanted: Collection[CompiledCharacteristic], before: Evidence, after: Evidence
) -> Iterator[Difference]:
    inputs = {
        item.name: inputs
        for item in wanted
        if item.unit is not None and not item.characteristic.series
        for inputs in (item.inputs._replace(names=item.inputs.names | {item.name}),)
        if all(not inputs.names.isdisjoint(build.columns.gathered) for build in (before, after))
    }
    doubts = [Doubts(build.block, build.columns, list(inputs.values())) for build in (before, after)]
    units = {kind: unit.name for kind, unit in default_units(after.record, []).items()}
    for item in (item for item in wanted if item.name in inputs):
        column, own = Column(item.name, at=item.characteristic.per), inputs[item.name]
        known = [doubt.about_values(column, own) for doubt in doubts]
        for station in range(min(values.shape[1] for values, _ in known)):
            first, second = (float(values[0, station]) for values, _ in known)
            if item.unit is not None and math.isfinite(first) and math.isfinite(second):
                yield Difference(
                    characteristic=item.name,
                    title=item.characteristic.title,
                    station=station,
                    where=station_name(item.characteristic.per, station, rulebook.layered.stations, after.layout),
                    unit=shown_in(item.unit, units),
                    before=first,
                    after=second,
                    doubt=math.hypot(*(float(off[0, station]) for _, off in known)),
                    renewed=_renewed(own, item, station, before, after),
                )


def _renewed(
    inputs: Inputs, item: CompiledCharacteristic, station: int, before: Evidence, after: Evidence
) -> Change | None:
    """The last change of what a value rests on that came after the earlier readings of it."""
    places = list(after.block.places_of(inputs, item.characteristic.per, station))
    days = [before.past.taken[place] for place in places if place in before.past.taken]
    changes = [after.past.changes[place] for place in places if place in after.past.changes]
    since = [change for change in changes if not days or change.fitted > min(days)]
    return max(since, key=lambda change: change.fitted, default=None)


def write_builds(builds: Builds, in_full: bool, look: Look = PLAIN) -> str:
    """What has changed, station by station; in full also what has not, or cannot be told, or was told of another name.

    A value that is worked out by taking over what was measured says the same once more.
    """
    lines = [
        builds.after.record.assembly,
        f"before: {_build(builds.before)}",
        f"after:  {_build(builds.after)}",
        *(line for words in _oddities(builds) for line in look.wrapped(words)),
        "",
    ]
    still: list[str] = []
    told: set[tuple[tuple[str, float, float], ...]] = set()
    for name, changes in grouped(builds.differences, lambda item: item.characteristic).items():
        sizes = tuple((item.where, item.before, item.after) for item in changes)
        is_measured = any(name in build.columns.gathered for build in (builds.before, builds.after))
        if sizes in told and not (is_measured or in_full):
            continue
        told.add(sizes)
        shown = changes if in_full else [item for item in changes if item.is_told or item.renewed]
        if shown:
            lines += [changes[0].title, *(line for item in shown for line in _line(item, look)), ""]
        if len(shown) < len(changes):
            still.append(with_count(changes[0].title, len(changes) - len(shown)))
    if still:
        lines += look.labelled("no measurable change", ", ".join(still))
    lines += (line for words in builds.alone for line in look.wrapped(words))
    if not builds.differences:
        lines.append("Nothing was measured in both builds.")
    return "\n".join(lines).rstrip() + "\n"


def builds_data(builds: Builds) -> list[dict[str, object]]:
    """The same for programs: numbers in SI, and as the text shows them."""
    return [
        {
            "characteristic": item.characteristic,
            "station": item.station + 1 if item.where else None,
            "before": item.before,
            "after": item.after,
            "change": item.change,
            "doubt": item.doubt,
            "told": item.is_told,
            "shown": _sizes(item),
            "renewed": str(item.renewed) if item.renewed else None,
        }
        for item in builds.differences
    ]


def _oddities(builds: Builds) -> Iterator[str]:
    """Why these may not be an earlier and a later state of one assembly."""
    before, after = builds.before, builds.after
    if before.record.assembly != after.record.assembly:
        yield f"check this: the earlier build is called {before.record.assembly!r}"
    numbers = before.record.serial_number, after.record.serial_number
    if all(numbers) and len(set(numbers)) == 2:
        yield f"check this: stamped {numbers[0]!r} before, and {numbers[1]!r} after"
    if max(before.past.taken.values(), default=date.min) > max(after.past.taken.values(), default=date.max):
        yield "check this: the build given as the earlier one was measured later"
    for called, build in (("before", before), ("after", after)):
        refused = [reading for reading in build.readings if reading.set_aside]
        for (name, why), alike in grouped(refused, lambda reading: (reading.characteristic, reading.set_aside)).items():
            title = build.block.characteristics[name].characteristic.title
            yield f"not compared, {called}: {with_count(title, len(alike))}: {alike[0].written}: {why}"


def _build(evidence: Evidence) -> str:
    days = sorted({day.isoformat() for day in evidence.past.taken.values()})
    dated = f", readings of {days[0]}" + (f" to {days[-1]}" if len(days) > 1 else "") if days else ", not dated"
    return f"{evidence.record.source}{dated}"


def _line(item: Difference, look: Look) -> Iterator[str]:
    words = [f"{_sizes(item)}: {_change(item)}"]
    if item.renewed:
        words.append(f"{item.renewed}, so this is no wear")
    yield from look.labelled(item.where, "; ".join(words))


def _sizes(item: Difference) -> str:
    """Both sizes with as many decimals as it takes to tell them apart."""
    sizes = (item.before, item.after)
    decimals = max(len(text.split(" ")[0].partition(".")[2]) for text in write_apart(item.unit, *sizes))
    return " -> ".join(write_quantity(size, item.unit, decimals) for size in sizes)


def _change(item: Difference) -> str:
    unit = difference(item.unit)
    doubt = (
        f"uncertainty {write_quantity(item.doubt, unit, round_up=True)}"
        if item.doubt < float("inf")
        else "uncertainty unknown"
    )
    if item.is_told:
        sign = "+" if item.change > 0 else ""
        by = f"{sign}{write_quantity(item.change, unit)}"
        return f"{by}, {doubt}" if item.doubt else f"{by}, uncertainty not stated"
    return f"no measurable change, {doubt}" if item.doubt else "no change"
