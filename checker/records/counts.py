"""How many stations there are of each kind: as a record states it, as its layout has it, or as it follows from others.

A number that follows in one way only is as good as a stated one, and what contradicts it is refused. Where there may be
several, the usual number is taken, and it stays open how many there are.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from checker.packs.characteristic import NamedLayout, Stations
from checker.packs.titles import in_series

MOST_NAMED = 3


class Demand(NamedTuple):
    """The numbers that there may be of one kind, the usual one first, and what says so."""

    numbers: tuple[int, ...]
    reason: str
    is_of_layout: bool = False

    def __str__(self) -> str:
        return f"{either(self.numbers)} ({self.reason})"


def either(numbers: Iterable[int]) -> str:
    """Numbers in words: 3, 4 or 5."""
    return in_series(map(str, sorted(numbers)), "or")


class Counting(NamedTuple):
    """What is known of an assembly's stations: `certain` is stated, or follows in one way only."""

    stations: Mapping[str, Stations]
    layouts: Mapping[str, NamedLayout]
    layout: NamedLayout | None
    certain: dict[str, int]
    uneven: frozenset[str]
    """Kinds of which the record says one by one what each belongs to, so that no number is shared out evenly."""

    def demands(self, name: str) -> Iterator[Demand]:
        """What the layout, and the kinds of which the number is certain, demand of another."""
        kind = self.stations[name]
        if self.layout is not None and name in self.layout.counts:
            yield Demand(self.layout.counts[name], f"layout {self.layout.name!r}", is_of_layout=True)
        if kind.as_many_as in self.certain:
            yield Demand((self.certain[kind.as_many_as],), f"as many as {kind.as_many_as}")
        if kind.of in self.certain and kind.each and name not in self.uneven:
            parents = self.certain[kind.of]
            reason = f"{either(kind.each)} for each of {parents} {kind.of}"
            yield Demand(tuple(number * parents for number in kind.each), reason)

    def broken(self, name: str) -> Iterator[Demand]:
        """The demands that the certain number of a kind does not meet."""
        return (demand for demand in self.demands(name) if self.certain[name] not in demand.numbers)

    def reason(self, name: str) -> str:
        """What the certain number of a kind follows from, where the record does not state it."""
        met = (demand.reason for demand in self.demands(name) if demand.numbers == (self.certain[name],))
        return next(met, "")

    def fitting(self) -> tuple[NamedLayout, ...]:
        """The layouts that share a count with what is certain, and contradict none."""
        return tuple(
            layout
            for layout in self.layouts.values()
            if any(name in self.certain for name in layout.counts)
            and all(self.certain.get(name, numbers[0]) in numbers for name, numbers in layout.counts.items())
        )

    def likely(self, name: str, fitting: Iterable[NamedLayout]) -> tuple[int, ...]:
        """The numbers there may be of a kind that nothing certain says, the one to go by first; perhaps none.

        Where stations belong to it, the greatest number: what is asked for in vain shows, what is left out does not.
        """
        for demand in self.demands(name):
            return demand.numbers
        agreed = {layout.counts.get(name, ()) for layout in fitting}
        if len(agreed) == 1 and (numbers := agreed.pop()):
            return numbers
        shared = [
            tuple(count // number for number in sorted(kind.each) if count % number == 0)
            for kind in self.stations.values()
            if kind.of == name and kind.each and (count := self.certain.get(kind.name, 0))
        ]
        return max(shared, default=())

    def advice(self, name: str, taken: int) -> str:
        """How a record can say how many there are of a kind; `taken` is the number gone by until it does."""
        for demand in self.demands(name):
            return f"{taken} are taken; state it, as in stations: {{{name}: {taken}}}, expected {demand}"
        layouts = [layout for layout in self.fitting() if name in layout.counts]
        if not layouts:
            return f"state it, as in stations: {{{name}: {taken}}} if that is all of them"
        numbers = sorted({number for layout in layouts for number in layout.counts[name]})
        names = " or ".join(layout.name for layout in layouts[:MOST_NAMED])
        stated = taken if taken in numbers else numbers[0]
        return f"name the layout, as in layout: {names}; or state it, as in stations: {{{name}: {stated}}}"


def counting(
    stated: Mapping[str, int],
    layout: NamedLayout | None,
    stations: Mapping[str, Stations],
    layouts: Mapping[str, NamedLayout],
    uneven: frozenset[str],
) -> Counting:
    """All that follows from what a record states, in one way only."""
    counts = Counting(stations, layouts, layout, dict(stated), uneven)
    grows = True
    while grows:
        sure = {
            name: demand.numbers[0]
            for name in stations
            if name not in counts.certain
            for demand in counts.demands(name)
            if len(demand.numbers) == 1
        }
        counts.certain.update(sure)
        grows = bool(sure)
    return counts
