"""The limits of a rule, from words to bounds in SI."""

from __future__ import annotations

import re

from checker.errors import Place
from checker.expressions.expression import Expression
from checker.expressions.names import Scope
from checker.notation.read import NotationError
from checker.packs.limit_set import Bound, CompiledEntry, LimitSet
from checker.packs.limits import BELOW, Alternative, Entry, Limit
from checker.packs.texts import compile_at, exact_quantity
from checker.packs.unfinished import Unfinished, told
from checker.units.dimensions import DIMENSIONLESS
from checker.units.units import Unit

_WORD = re.compile(r"[a-z][a-z0-9_]*")
_QUANTITY = re.compile(
    r"[+-]?(?:\d+[ -]\d+/\d+|\d+/\d+|\d*\.?\d+(?:[eE][+-]?\d+)?) ?(?!.* [-+] |if )(?:[A-Za-z%\"°][^*()]*)?"
)


def limit_set(
    work: Unfinished, other: Alternative, judges: Expression, shown: Unit, size: Expression | None
) -> LimitSet:
    """The limits of one source, of which each entry is compiled when it is first asked for."""

    def compile_entry(entry: Entry) -> CompiledEntry:
        return work.sound(_entry(work, entry, judges, shown, size))

    return LimitSet(other.title, other.limits, compile_entry, other.basis, size)


def _entry(work: Unfinished, entry: Entry, judges: Expression, shown: Unit, size: Expression | None) -> CompiledEntry:
    def where() -> Place:
        return work.stands(entry.origin)

    when = work.condition(entry.when, where)
    for limit in (limit for limit in entry.stated if limit.is_removed):
        if entry.when is not None or limit.origin.path[0] != "amends" or limit.origin.path[2] != "limits":
            hint = "leave it out where there is no limit"
            work.fault("none removes a limit in an amendment, whatever holds", work.stands(limit.origin), hint)
    bounds = tuple(bound for limit in entry.limits if (bound := _bound(work, limit, judges, shown, size)) is not None)
    work.check_stations(when, judges, where)
    return CompiledEntry(entry.application, when, bounds, entry)


def _bound(work: Unfinished, limit: Limit, judges: Expression, shown: Unit, size: Expression | None) -> Bound | None:
    if limit.side == "broken":
        return _demand(work, limit, judges)
    if judges.nature != "number":
        work.fault("at_least and at_most are for numbers; use one_of, or must: true", work.stands(limit.origin))
        return None
    if limit.number is not None:
        if size is None and (shown.dimension != DIMENSIONLESS or shown.factor != 1.0):
            work.fault(f"{limit.written} has no unit", work.stands(limit.origin), f"write {limit.written} {shown.name}")
            return None
        return Bound(limit, limit.number, is_ratio=size is not None)
    return _amount(work, limit, judges, shown)


def _is_quantity(work: Unfinished, written: str) -> bool:
    """Whether a limit is one quantity as records write it, and nothing is calculated."""
    if not _QUANTITY.fullmatch(written):
        return False
    return not any(word in work.scope.symbols or word in work.scope.constants for word in _WORD.findall(written))


def _amount(work: Unfinished, limit: Limit, judges: Expression, shown: Unit) -> Bound | None:
    if not limit.is_on_top and _is_quantity(work, limit.written):
        try:
            return Bound(limit, exact_quantity(limit.written, shown))
        except NotationError as error:
            work.fault(str(error), work.stands(limit.origin))
            return None
    if limit.is_on_top and limit.origin.pack == work.rule.origin.pack:
        hint = f"only what an amendment states has a limit {BELOW} it"
        work.fault(f"nothing lies below {limit.written!r}", work.stands(limit.origin), hint)
        return None
    if limit.is_half_alone:
        hint = "state it in entries of their own, each with the condition under which it counts"
        work.fault(f"what counts of {limit.written!r} where no limit lies {BELOW}?", work.stands(limit.origin), hint)
        return None
    found = _expression_of(
        work, limit, judges, limit.written, work.scope_of(judges, BELOW) if limit.is_on_top else work.scope
    )
    alone = _expression_of(work, limit, judges, limit.alone, work.scope) if limit.alone else None
    return Bound(limit, expression=found, alone=alone) if found is not None else None


def _expression_of(work: Unfinished, limit: Limit, judges: Expression, text: str, scope: Scope) -> Expression | None:
    found = compile_at(text, scope, lambda: work.stands(limit.origin), work.problems)
    if found is None:
        return None
    if found.nature != "number" or found.dimension != judges.dimension:
        work.fault(f"this gives {told(found)} where {told(judges)} is judged", work.stands(limit.origin))
    work.check_stations(found, judges, lambda: work.stands(limit.origin))
    return found


def _demand(work: Unfinished, limit: Limit, judges: Expression) -> Bound | None:
    if not limit.choices:
        if judges.nature != "truth":
            work.fault(
                f"{limit.origin.path[-1]}: true is for a judged condition",
                work.stands(limit.origin),
                "give a number at_least or at_most, a choice one_of",
            )
        return Bound(limit, expression=judges)
    if judges.nature != "choice":
        work.fault("'one_of' is for a characteristic with choices", work.stands(limit.origin))
        return None
    text = " or ".join(f'{work.rule.judges} is "{choice}"' for choice in limit.choices)
    found = compile_at(text, work.scope, lambda: work.stands(limit.origin), work.problems)
    return Bound(limit, expression=found) if found else None
