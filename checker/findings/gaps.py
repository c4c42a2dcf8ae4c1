"""What is missing: the readings without which a rule cannot be judged at one station."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple, TypeAlias

import numpy as np

from checker.expressions.expression import Expression
from checker.expressions.functions import KNOWN
from checker.expressions.names import COMPUTED, MEASURED, VALUE, Column
from checker.expressions.truth import FALSE, TRUE
from checker.findings.context import place_name
from checker.findings.finding import Gap
from checker.findings.standpoint import Standpoint
from checker.judging.block import Block
from checker.packs.compiled import CompiledCharacteristic, inputs_of
from checker.packs.limit_set import STATED
from checker.packs.titles import lowered

_Seen: TypeAlias = Mapping[str, Sequence[int]]
"""The stations of each characteristic that are seen from here."""


class _Place(NamedTuple):
    stations: str | None
    number: int


def gaps_at(here: Standpoint) -> Iterator[Gap]:
    """The direct readings that a rule lacks here, in the order in which a person would ask for them."""
    context, seen = here.context, defaultdict[str, list[int]](list)
    occasion = _open_occasion(here)
    own = _Place(here.rule.stations, here.station)
    needed = list(_needed(here)) if occasion is None else [occasion]
    inputs = here.inputs if occasion is None else inputs_of([occasion], context.characteristics)
    for name, index in context.block.places_of(inputs, *own):
        seen[name].append(index)
    gaps = [gap for expression in needed for gap in _gaps_of(here, expression, own, seen)]
    plain = {gap for gap in gaps if not gap.instead}
    gaps = [gap for gap in gaps if not gap.instead or gap._replace(instead="") not in plain]
    yield from gaps if occasion is None else _one_fact(here, gaps)


def _one_fact(here: Standpoint, gaps: Sequence[Gap]) -> Sequence[Gap]:
    """Of what would tell an occasion, the first fact with choices alone: it may tell by itself."""
    facts = [gap for gap in gaps if here.context.characteristics[gap.characteristic].unit is None]
    return facts[:1] or gaps


def _open_occasion(here: Standpoint) -> Expression | None:
    """The occasion of a rule, where nothing is measured and it is not known whether there is need to."""
    asked = here.judged.asked
    if asked is None or not math.isnan(here.at(here.judged.measures.value)) or here.at(asked) in (TRUE, FALSE):
        return None
    return here.rule.occasion


def _needed(here: Standpoint) -> Iterator[Expression]:
    rule = here.rule
    applies = here.at(here.judged.measures.applies)
    conditions = [c for c in (rule.when, rule.unless) if c is not None]
    if applies not in (TRUE, FALSE):
        yield from (c for c in conditions if here.truth(c) not in (TRUE, FALSE))
        return
    if not rule.is_demand:
        yield rule.judges
    if rule.per_unit_of is not None:
        yield rule.per_unit_of
    for band, side in STATED:
        for candidate in rule.limits.candidates(here.context.chain, band, side):
            yield from (e for e in (candidate.when, candidate.bound.expression) if e is not None)


def _asked(here: Standpoint, expression: Expression) -> Iterator[Column]:
    """The columns that an expression cannot do without: what it uses only where it is known is not asked for."""
    optional = {column.name: column.view for column in expression.columns if column.view.startswith(KNOWN)}
    for name, _ in here.context.refused:
        optional.pop(name, None)
    # Beside the question whether something was measured, its value stands in where it was not.
    return (
        column
        for column in expression.columns
        if column.name not in optional or (optional[column.name], column.view) == (KNOWN + MEASURED, VALUE)
    )


def _gaps_of(
    here: Standpoint, expression: Expression, place: _Place, seen: _Seen, asked: frozenset[Column] = frozenset()
) -> list[Gap]:
    """The direct readings that an expression lacks at a station, and what would do in place of them.

    Where it uses nothing but what is known, the first that would do is lacking.
    """
    gaps = [gap for column in _deciding(here, expression, place) for gap in _gaps(here, column, seen, asked)]
    ways = list(_ways(here, expression, place))
    if not gaps and ways:
        first, *ways = ways
        gaps = list(_gaps(here, first, seen, asked))
    titles = [lowered(here.context.characteristics[way.name].characteristic.title) for way in ways]
    return [gap._replace(instead=" ".join(filter(None, (gap.instead, *map("or {}".format, titles))))) for gap in gaps]


def _deciding(here: Standpoint, expression: Expression, place: _Place) -> Sequence[Column]:
    """The columns that an expression cannot do without as things stand: not those of a branch that is not taken."""
    columns = list(_asked(here, expression))
    if len(columns) == 1 or not any(column.view.startswith(KNOWN) for column in expression.columns):
        return columns
    block, items = here.context.block, here.context.characteristics
    lacking = {column.name for column in columns if np.isnan(block.fetch(column)).any()}
    if any(items[name].unit is None for name in lacking):
        return columns  # between choices lies none that could stand for what is not known
    idle = {name for name in lacking if not _is_lacking(block.knowing(*(lacking - {name})), expression, place)}
    return [column for column in columns if column.name not in idle] if idle != lacking else columns


def _ways(here: Standpoint, expression: Expression, place: _Place) -> Iterator[Column]:
    """The values used only where they are known of which any one would do, where an expression comes to nothing."""
    block, items = here.context.block, here.context.characteristics
    optional = [column for column in expression.columns if column.view in (KNOWN + VALUE, KNOWN + MEASURED)]
    if optional and _is_lacking(block, expression, place):
        for column in optional:
            if items[column.name].unit is not None and not _is_lacking(block.knowing(column.name), expression, place):
                yield column._replace(view=column.view.removeprefix(KNOWN))


def _is_lacking(block: Block, expression: Expression, place: _Place) -> bool:
    values = block.evaluate(expression, place.stations)[0]
    return math.isnan(values[place.number if len(values) > 1 else 0])


def _gaps(here: Standpoint, column: Column, seen: _Seen, asked: frozenset[Column]) -> Iterator[Gap]:
    """The direct readings that a column lacks at the stations that are seen from here; of a reduction, at all."""
    item = here.context.characteristics.get(column.name)
    if item is None or column in asked:
        return
    own = item.characteristic.per
    values = here.context.block.fetch(column._replace(at=own))
    for index in seen[item.name]:
        if not np.isnan(values[0, index]):
            continue
        set_aside, view = here.context.refused.get((item.name, index), ""), column.view.removeprefix(KNOWN)
        if item.derived is not None and not set_aside and view in (VALUE, COMPUTED):
            inner = _gaps_of(here, item.derived, _Place(own, index), seen, asked | {column})
            if item.characteristic.taken_directly and inner and not any(gap.remark for gap in inner):
                parts = (list(_gaps(here, part, seen, asked | {column})) for part in _asked(here, item.derived))
                is_begun = not all(parts)
                yield _gap(here, item, own, index)._replace(instead=_instead(inner) if is_begun else "")
            else:
                yield from inner or [_gap(here, item, own, index, _why_refused(here, item.derived, _Place(own, index)))]
        elif view not in (VALUE, COMPUTED, MEASURED) and not set_aside:
            yield _gap(here, item, own, index, "" if item.characteristic.series else "several readings there")
        elif set_aside or view != MEASURED or item.derived is None:
            yield _gap(here, item, own, index, set_aside)


def _why_refused(here: Standpoint, derived: Expression, place: _Place) -> str:
    """Why a value counts for nothing that can be worked out."""
    is_silent = derived.added and _is_lacking(here.context.block, derived, place)
    return gives_nothing(derived) if is_silent else "the readings behind it give an impossible value"


def gives_nothing(expression: Expression) -> str:
    """That functions of plugins say nothing of readings that are there."""
    named = dict.fromkeys(f"function {added.name} of plugin {added.plugin}" for added in expression.added)
    return f"{' and '.join(named)} gives no value for the readings behind it"


def _instead(lacking: Sequence[Gap]) -> str:
    """What would do in place of a reading that somebody has begun to work out."""
    return f"or {' and '.join(dict.fromkeys(gap.title for gap in lacking))}"


def _gap(here: Standpoint, item: CompiledCharacteristic, own: str | None, index: int, remark: str = "") -> Gap:
    stations = here.context.stations[own].title if own else ""
    numbered = own is not None and here.context.block.layout.count(own) > 1
    return Gap(
        item.name,
        lowered(item.characteristic.title),
        lowered(stations),
        index + 1 if numbered else None,
        remark,
        named=place_name(own, index, here.context) if numbered and own in here.context.block.layout.names else "",
    )
