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
from checker.graph import Inputs
from checker.judging.doubt import Doubts
from checker.judging.evidence import Evidence, evidence_of
from checker.judging.inputs import places_of
from checker.packs.compiled import CompiledCharacteristic
from checker.records.change import Change
from checker.records.entry import default_units
from checker.records.record import Record
from checker.rulebook import Rulebook
from checker.units.units import Unit


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
    """Two understood records, and what differs between them."""

    before: Evidence
    after: Evidence
    differences: tuple[Difference, ...]


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
    first, second = (evidence_of(rulebook, record, day) for record in (before, after))
    wanted = [item for name, item in rulebook.characteristics.items() if not names or name in names]
    return Builds(first, second, tuple(_differences(rulebook, wanted, first, second)))


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
                    renewed=_renewed(own, item, station, rulebook, before, after),
                )


def _renewed(
    inputs: Inputs,
    item: CompiledCharacteristic,
    station: int,
    rulebook: Rulebook,
    before: Evidence,
    after: Evidence,
) -> Change | None:
    """The last change of what a value rests on that came after the earlier readings of it."""
    places = list(places_of(inputs, item.characteristic.per, station, rulebook.characteristics, after.layout))
    days = [before.past.taken[place] for place in places if place in before.past.taken]
    changes = [after.past.changes[place] for place in places if place in after.past.changes]
    since = [change for change in changes if not days or change.fitted > min(days)]
    return max(since, key=lambda change: change.fitted, default=None)
