"""The remedies of a rule: words with amounts that are computed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from checker.expressions.expression import Expression
from checker.expressions.names import Scope
from checker.frozen import FrozenMapping
from checker.packs.compiled import CompiledRule, Phrase
from checker.packs.scope import OWN_OF_REMEDIES
from checker.packs.texts import Where, compile_at, unit_at
from checker.packs.unfinished import Unfinished, told
from checker.units.dimensions import describe
from checker.units.units import Unit

_AMOUNT = re.compile(r"\{([^{}]*)\}")
_SHOWN_IN = re.compile(r"(.*\S) in ([A-Za-z0-9%\u00b0][^()*+]*)")


def remedy(work: Unfinished, rule: CompiledRule) -> Mapping[str, Phrase]:
    """What to do, by the side on which the value misses."""
    scope = work.scope_of(rule.judges, *OWN_OF_REMEDIES) if rule.judges.nature == "number" else work.scope
    phrases: dict[str, Phrase] = {}
    for side, action in work.rule.remedy.by_side.items():
        where = work.where("remedy", side)
        parts: list[str | tuple[Expression, Unit]] = []
        for number, piece in enumerate(_AMOUNT.split(str(action))):
            if number % 2 == 0:
                if "{" in piece or "}" in piece:
                    work.fault("a brace stands alone", where())
                parts.append(piece)
            else:
                parts.extend(_amount_in_words(work, piece, scope, rule, where))
        phrases[side] = Phrase(tuple(part for part in parts if part != ""), bool(action.irreversible))
    return work.sound(FrozenMapping(phrases))


def _amount_in_words(
    work: Unfinished, piece: str, scope: Scope, rule: CompiledRule, where: Where
) -> Iterator[tuple[Expression, Unit]]:
    in_unit = _SHOWN_IN.fullmatch(piece)
    text, wanted = in_unit.groups() if in_unit else (piece, "")
    found = compile_at(text.strip(), scope, where, work.problems)
    shown = unit_at(wanted.strip(), where, work.problems) if wanted else _natural_unit(work, found, rule)
    if found is None or shown is None:
        return
    if found.dimension != shown.dimension:
        hint = "say which unit to show, as in {expression in unit}"
        given = f"{text.strip()!r} gives {told(found)}"
        work.fault(f"{given} where {describe(shown.dimension)} is to be shown", where(), hint)
        return
    work.check_stations(found, rule.judges, where)
    yield found, shown


def _natural_unit(work: Unfinished, expression: Expression | None, rule: CompiledRule) -> Unit:
    item = work.characteristics.get(expression.characteristic or "") if expression is not None else None
    return (item.unit if item is not None else None) or rule.unit
