"""Limits ready for judging: bounds in SI, and which of them count for an application."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple, TypeAlias

import numpy as np

from checker.expressions import compose
from checker.expressions.expression import Expression
from checker.packs.limits import ANY, BELOW, PHYSICS, Band, Basis, Entry, Limit
from checker.units.dimensions import Dimension

POSITIONS = (("must", "low"), ("should", "low"), ("should", "high"), ("must", "high"))
IS_LOW = tuple(side == "low" for _, side in POSITIONS)
ABSENT = tuple(-math.inf if is_low else math.inf for is_low in IS_LOW)
"""By position what stands for a limit that is not there."""
INWARD = tuple(1.0 if is_low else -1.0 for is_low in IS_LOW)
"""By position which way is away from the limit to where it is kept."""
DEMANDS = (("must", "broken"), ("should", "broken"))
OF_PHYSICS = ((PHYSICS, "low"), (PHYSICS, "high"), (PHYSICS, "broken"))
STATED = (*POSITIONS, *DEMANDS, *OF_PHYSICS)
"""Every band and side for which a pack may state a limit."""
_ALWAYS = ""
"""Stands for the text of no condition."""


class Bound(NamedTuple):
    """One limit in SI: a constant, a ratio of the rule's size, an expression, or a truth that must hold.

    Of one that is calculated from the limit below it, `alone` counts where there is none. Vetting moves a limit by its
    factor.
    """

    limit: Limit
    constant: float | None = None
    is_ratio: bool = False
    expression: Expression | None = None
    factor: float = 1.0
    alone: Expression | None = None

    @property
    def number(self) -> float | None:
        """What it comes to whatever is measured, of a ratio before it is taken of a size; none where readings tell."""
        is_fixed = self.expression is not None and self.expression.low == self.expression.high
        return self.expression.low if self.expression is not None and is_fixed else self.constant

    def reach(self, size: Expression | None) -> tuple[float, float]:
        """Between what it lies, in SI, while all that is plausible may be; `size` is that of its rule."""
        if self.expression is not None:
            return self.expression.low, self.expression.high
        constant = self.constant or 0.0
        ends = (
            (constant, constant) if not self.is_ratio or size is None else (constant * size.low, constant * size.high)
        )
        return min(ends), max(ends)


class CompiledEntry(NamedTuple):
    """The bounds stated for one application; as stated, unless they were made up."""

    application: str
    when: Expression | None
    bounds: tuple[Bound, ...]
    stated: Entry | None = None


class Candidate(NamedTuple):
    """A bound that counts when its condition holds; always, without one.

    What is calculated from a limit below it counts under the condition of that as well.
    """

    when: Expression | None
    bound: Bound
    stated: CompiledEntry


_Stated: TypeAlias = tuple[int, Bound | None]
"""The number of an entry and one of its bounds; none where it says that there is none any more."""


_Candidates: TypeAlias = Mapping[tuple[str, str], tuple[Candidate, ...]]
"""What may count, by band and side."""


class LimitSet:
    """All limits of a rule from one source; those of an application are compiled when first asked for.

    Bare numbers are ratios of the `size`.
    """

    def __init__(
        self,
        title: str,
        stated: Sequence[Entry],
        compile_entry: Callable[[Entry], CompiledEntry],
        basis: Basis | None = None,
        size: Expression | None = None,
    ) -> None:
        self.title = title
        self.basis = basis
        self.size = size
        self._stated = tuple(stated)
        self._numbers: dict[str, list[int]] = {}
        for number, entry in enumerate(self._stated):
            self._numbers.setdefault(entry.application, []).append(number)
        self._compile = compile_entry
        self._compiled: dict[int, CompiledEntry] = {}
        self._candidates: dict[tuple[str, ...], _Candidates] = {}
        self._candidates_speaking: dict[tuple[int, ...], _Candidates] = {}

    @property
    def entries(self) -> tuple[CompiledEntry, ...]:
        """Every entry, compiled."""
        return tuple(self._entry(number) for number in range(len(self._stated)))

    @property
    def applications(self) -> frozenset[str]:
        """Those for which something is stated."""
        return frozenset(self._numbers)

    def speaking(self, chain: tuple[str, ...]) -> tuple[int, ...]:
        """Which entries speak for an application and those it is like; where these are the same, so are its limits."""
        return tuple(number for name in (*chain, ANY) for number in self._numbers.get(name, ()))

    def with_entries(self, entries: Sequence[CompiledEntry]) -> LimitSet:
        """The same set with other limits."""
        like = self._stated[0]._replace(must=Band(), should=Band())
        stated = [entry.stated or like._replace(application=entry.application) for entry in entries]
        return _limit_set(self.title, entries, stated, self.basis, self.size)

    def __reduce__(self) -> tuple[Any, ...]:
        return _limit_set, (self.title, self.entries, self._stated, self.basis, self.size)

    def candidates(self, chain: tuple[str, ...], band: str, side: str) -> tuple[Candidate, ...]:
        """What may count at one position: nearest application first, up to the first that always counts.

        Of physics all count whose conditions hold: nothing nearer sets one aside.
        """
        return self._by_position(chain).get((band, side), ())

    def plain(self, chain: tuple[str, ...], band: str, side: str) -> Bound | None:
        """The limit that counts at one position whatever else is known, where no other may."""
        candidates = self.candidates(chain, band, side)
        return candidates[0].bound if len(candidates) == 1 and candidates[0].when is None else None

    def every_candidate(self, chain: tuple[str, ...]) -> Iterator[Candidate]:
        """What may count at any position, one after another."""
        found = self._by_position(chain)
        return (candidate for position in STATED for candidate in found.get(position, ()))

    def _by_position(self, chain: tuple[str, ...]) -> _Candidates:
        found = self._candidates.get(chain)
        if found is None:
            alike = self._candidates_speaking.get(speaking := self.speaking(chain))
            found = self._nearest_first(speaking) if alike is None else alike
            self._candidates[chain] = self._candidates_speaking[speaking] = found
        return found

    def _nearest_first(self, speaking: tuple[int, ...]) -> _Candidates:
        stating: dict[tuple[str, str], list[_Stated]] = defaultdict(list)
        for number in speaking:
            for bound in self._entry(number).bounds:
                stating[bound.limit.band, bound.limit.side].append((number, bound))
            for removed in (limit for limit in self._stated[number].stated if limit.is_removed):
                stating[removed.band, removed.side].append((number, None))
        return {
            position: tuple(self._each(found) if position[0] == PHYSICS else self._counting(self._upper_first(found)))
            for position, found in stating.items()
        }

    def _counting(self, stated: Sequence[_Stated]) -> Iterator[Candidate]:
        """Each condition once, for a nearer limit counts under the same or always; up to the first without any."""
        seen: set[str] = set()
        for candidate in self._each(stated):
            condition = candidate.when.text if candidate.when is not None else _ALWAYS
            if condition not in seen:
                seen.add(condition)
                yield candidate
            if candidate.when is None:
                return

    def _each(self, stated: Sequence[_Stated]) -> Iterator[Candidate]:
        """Those that are stated, up to where limits are removed.

        One that is calculated from the limit below it counts once for each that may be that.
        """
        for place, (number, bound) in enumerate(stated):
            if bound is None:
                return
            entry = self._entry(number)
            if not bound.limit.is_on_top:
                yield Candidate(entry.when, bound, entry)
                continue
            pack = self._stated[number].origin.pack
            others = [one for one in stated[place + 1 :] if self._stated[one[0]].origin.pack != pack]
            yield from (_on_top(entry, bound, below, self.size) for below in self._counting(others))
            if bound.alone is not None:
                limit = bound.limit._replace(written=bound.limit.alone)
                yield Candidate(entry.when, bound._replace(limit=limit, expression=bound.alone), entry)

    def _upper_first(self, stated: Sequence[_Stated]) -> Sequence[_Stated]:
        """Nearest first, but what an upper pack states of any use before what those below it state of one.

        What is calculated from the limit below it stands before all but the packs that build on its own.
        """
        if len(stated) < 2:
            return stated
        ordered: list[_Stated] = []
        for one in stated:
            before = [self._comes_before(one, nearer) for nearer in ordered]
            place = len(before) if _is_on_top(one) or True not in before else before.index(True)
            while place and _is_on_top(one) and before[place - 1]:
                place -= 1
            ordered.insert(place, one)
        return ordered

    def _comes_before(self, stated: _Stated, nearer: _Stated) -> bool:
        entry, other = self._stated[stated[0]], self._stated[nearer[0]]
        if _is_on_top(stated) and not _is_on_top(nearer):
            return entry.origin.pack not in (other.origin.pack, *other.above)
        return entry.application == ANY and other.application != ANY and other.origin.pack in entry.above

    def _entry(self, number: int) -> CompiledEntry:
        found = self._compiled.get(number)
        if found is None:
            found = self._compiled[number] = self._compile(self._stated[number])
        return found


def _is_on_top(stated: _Stated) -> bool:
    return stated[1] is not None and stated[1].limit.is_on_top


def _on_top(entry: CompiledEntry, bound: Bound, below: Candidate, size: Expression | None) -> Candidate:
    """A limit that is calculated from one below it, where that counts."""
    expression = bound.expression
    if expression is None:
        raise TypeError(f"{bound.limit.written!r} is calculated from no limit")
    at = next(column.at for column in expression.columns if column.name == BELOW)
    found = compose.in_place(expression, BELOW, _as_expression(below.bound, expression.dimension, size))
    limit = bound.limit._replace(written=found.text)
    return Candidate(compose.both(entry.when, below.when, at), bound._replace(limit=limit, expression=found), entry)


def _as_expression(bound: Bound, dimension: Dimension | None, size: Expression | None) -> Expression:
    """A limit as something to calculate with."""
    if bound.expression is not None:
        return bound.expression if bound.factor == 1.0 else compose.times(bound.expression, bound.factor)
    value = np.nan if bound.constant is None else bound.constant * bound.factor
    if bound.is_ratio and size is not None:
        return compose.times(size, value, bound.limit.written)
    return compose.amount(value, dimension, bound.limit.written)


def _limit_set(
    title: str,
    entries: Sequence[CompiledEntry],
    stated: Sequence[Entry],
    basis: Basis | None,
    size: Expression | None,
) -> LimitSet:
    """Limits that are compiled already."""
    compiled = {id(entry): made for entry, made in zip(stated, entries, strict=True)}
    return LimitSet(title, stated, lambda entry: compiled[id(entry)], basis, size)
