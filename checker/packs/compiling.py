"""Turning a rule's words into checked expressions and limits in SI."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

from checker.documents.document import Origin
from checker.errors import PackError, Place, Problem
from checker.expressions.expression import Expression, Scope, Symbol, where_neighbours_are
from checker.frozen import FrozenMapping
from checker.graph import lineage
from checker.notation.read import NotationError
from checker.packs.compiled import Bound, CompiledCharacteristic, CompiledEntry, CompiledRule, LimitSet, Phrase
from checker.packs.inspection import sample_per
from checker.packs.layers import Layered
from checker.packs.limits import BELOW, Alternative, Entry, Limit
from checker.packs.rule import ALWAYS, EACH, Rule
from checker.packs.rule_checks import band_problems, name_problems
from checker.packs.scope import OWN_OF_REMEDIES
from checker.packs.texts import Where, compile_at, exact_quantity, unit_at
from checker.units.dimensions import DIMENSIONLESS, describe
from checker.units.units import Unit, unit

_Made = TypeVar("_Made")
_AMOUNT = re.compile(r"\{([^{}]*)\}")
_WORD = re.compile(r"[a-z][a-z0-9_]*")
_SHOWN_IN = re.compile(r"(.*\S) in ([A-Za-z0-9%\u00b0][^()*+]*)")
_QUANTITY = re.compile(
    r"[+-]?(?:\d+[ -]\d+/\d+|\d+/\d+|\d*\.?\d+(?:[eE][+-]?\d+)?) ?(?!.* [-+] |if )(?:[A-Za-z%\"°][^*()]*)?"
)


class CompiledRules(Mapping[str, CompiledRule]):
    """The rules of layered packs by name.

    If strict, all are compiled and checked at once, and `problems` names every key that is wrong. The rules of released
    packs were checked when those were released: each is compiled when first asked for, as far as it is asked for.
    """

    def __init__(
        self,
        layered: Layered,
        scope: Scope,
        characteristics: Mapping[str, CompiledCharacteristic],
        strict: bool,
    ) -> None:
        self._problems: list[Problem] = []
        self._layered = layered
        self._scope = scope
        self._characteristics = characteristics
        self._compiled: dict[str, CompiledRule] = {}
        if strict:
            for rule in layered.rules.values():
                self._check(rule)

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What is wrong with them, as far as they were checked."""
        return tuple(dict.fromkeys(self._problems))  # of limits that another rule takes as well they are found twice

    def __getitem__(self, name: str) -> CompiledRule:
        found = self._compiled.get(name)
        if found is None:
            compiling = self._compiling(self._layered.rules[name], is_strict=False)
            found = compiling.compiled()
            if found is None:
                raise PackError(compiling.problems)
            self._compiled[name] = found
        return found

    def __iter__(self) -> Iterator[str]:
        return iter(self._layered.rules)

    def __len__(self) -> int:
        return len(self._layered.rules)

    def _compiling(self, rule: Rule, is_strict: bool) -> _Compiling:
        return _Compiling(rule, self._scope, self._characteristics, is_strict)

    def _check(self, rule: Rule) -> None:
        compiling = self._compiling(rule, is_strict=True)
        compiled = compiling.compiled()
        self._problems.extend(name_problems(rule, self._layered))
        if compiled is not None:
            compiling.complete(compiled)
            self._problems.extend(band_problems(compiled, self._layered))
            self._compiled[rule.name] = compiled
        self._problems.extend(compiling.problems)


@dataclass(slots=True)
class _Compiling:
    """One rule on its way; problems collect as they are found."""

    rule: Rule
    scope: Scope
    characteristics: Mapping[str, CompiledCharacteristic]
    is_strict: bool
    problems: list[Problem] = field(default_factory=list)

    def compiled(self) -> CompiledRule | None:
        judges = self.expression("judges", self.rule.judges)
        when = self.condition(self.rule.when, self.where("when"))
        unless = self.condition(self.rule.unless, self.where("unless"))
        occasion = self.condition(self.occasion, self.where("inspection", "occasion"))
        size = self.expression("per_unit_of", self.rule.per_unit_of) if self.rule.per_unit_of else None
        if judges is None:
            return None
        shown = self.display_unit(judges)
        if shown is None:
            return None
        if judges.neighbours and not self.problems:
            when = where_neighbours_are(judges, self.rule.when, self.scope)
        self.check_size(judges, size)
        self.check_stations(when, judges, self.where("when"))
        self.check_stations(unless, judges, self.where("unless"))
        self.check_stations(occasion, judges, self.where("inspection", "occasion"))
        self.check_sample(judges)
        self.check_stations(size, judges, self.where("per_unit_of"))
        return CompiledRule(
            rule=self.rule,
            judges=judges,
            unit=shown,
            is_demand=judges.nature != "number",
            when=when,
            unless=unless,
            occasion=occasion,
            per_unit_of=size,
            limits=self.limit_set(Alternative("", self.rule.limits, self.rule.basis), judges, shown, size),
            alternatives=tuple(self.limit_set(other, judges, shown, size) for other in self.rule.alternatives),
            _compile_remedy=self.remedy,
        )

    def complete(self, compiled: CompiledRule) -> None:
        """Compile and check what would else wait."""
        for limits in (compiled.limits, *compiled.alternatives):
            limits.entries  # noqa: B018 - compiling them is the check
        compiled.remedy  # noqa: B018 - likewise

    def sound(self, made: _Made) -> _Made:
        """What was compiled late; a limit that turns out wrong only then must not be left out in silence."""
        if self.problems and not self.is_strict:
            raise PackError(self.problems)
        return made

    def fault(self, message: str, place: Place, hint: str = "") -> None:
        self.problems.append(Problem(message, place, hint))

    @property
    def occasion(self) -> str | None:
        stated = self.rule.inspection.occasion
        return None if stated == ALWAYS else stated

    def where(self, *steps: str) -> Where:
        return lambda: self.rule.place(*steps)

    def expression(self, key: str, text: str, scope: Scope | None = None) -> Expression | None:
        return compile_at(text, scope or self.scope, self.where(key), self.problems)

    def condition(self, text: str | None, where: Where) -> Expression | None:
        if text is None:
            return None
        found = compile_at(text, self.scope, where, self.problems)
        if found is not None and found.nature != "truth":
            self.fault(f"{text!r} is not a condition", where())
        return found

    def display_unit(self, judges: Expression) -> Unit | None:
        if judges.nature != "number":
            return unit("1")
        if self.rule.unit is not None:
            shown = unit_at(self.rule.unit, self.where("unit"), self.problems)
            if shown and shown.dimension == judges.dimension:
                return shown
            if shown:
                given = f"{self.rule.unit} gives {describe(shown.dimension)}"
                self.fault(f"{given} where {describe(judges.dimension)} is judged", self.rule.place("unit"))
        if judges.characteristic is not None:
            return self.characteristics[judges.characteristic].unit
        if judges.dimension == DIMENSIONLESS:
            return unit("1")
        behind = self.units_behind(judges)
        if len(behind) == 1:
            return behind.pop()
        if self.rule.unit is None:
            self.fault("say in which unit to show what is judged", self.rule.place("judges"))
        return None

    def units_behind(self, judges: Expression) -> set[Unit]:
        """The units of the same kind of quantity in which that is known from which it is worked out."""
        units = (self.characteristics[name].unit for name in judges.names if name in self.characteristics)
        return {each for each in units if each and each.dimension == judges.dimension and not each.offset}

    def check_sample(self, judges: Expression) -> None:
        """A sample is drawn from stations, or from those that belong to one of another kind."""
        sample = self.rule.inspection.sample
        parent = sample_per(sample)
        if sample != EACH and judges.stations is None:
            self.fault(f"{sample!r} is no sample of what is judged once", self.rule.place("inspection", "sample"))
        elif parent is not None and parent not in lineage(judges.stations, self.scope.parents)[1:]:
            known = ", ".join(lineage(judges.stations, self.scope.parents)[1:]) or "nothing"
            hint = f"{judges.stations} belongs to {known}"
            self.fault(
                f"{judges.stations} does not belong to {parent!r}", self.rule.place("inspection", "sample"), hint
            )

    def check_size(self, judges: Expression, size: Expression | None) -> None:
        if size is not None and (size.nature != "number" or size.dimension != judges.dimension):
            given = f"{_told(judges)} is judged, {_told(size)} is its size"
            self.fault(f"limits cannot be ratios: {given}", self.rule.place("per_unit_of"))

    def limit_set(self, other: Alternative, judges: Expression, shown: Unit, size: Expression | None) -> LimitSet:
        def compile_entry(entry: Entry) -> CompiledEntry:
            return self.sound(self.entry(entry, judges, shown, size))

        return LimitSet(other.title, other.limits, compile_entry, other.basis, size)

    def entry(self, entry: Entry, judges: Expression, shown: Unit, size: Expression | None) -> CompiledEntry:
        def where() -> Place:
            return self.stands(entry.origin)

        when = self.condition(entry.when, where)
        for limit in (limit for limit in entry.stated if limit.is_removed):
            if entry.when is not None or limit.origin.path[0] != "amends" or limit.origin.path[2] != "limits":
                hint = "leave it out where there is no limit"
                self.fault("none removes a limit in an amendment, whatever holds", self.stands(limit.origin), hint)
        bounds = tuple(bound for limit in entry.limits if (bound := self.bound(limit, judges, shown, size)) is not None)
        self.check_stations(when, judges, where)
        return CompiledEntry(entry.application, when, bounds, entry)

    def stands(self, origin: Origin) -> Place:
        """Where a limit stands for this rule: what another lends, where that is named."""
        return origin.place if origin.path[1] == self.rule.name else self.rule.place("limits_of")

    def bound(self, limit: Limit, judges: Expression, shown: Unit, size: Expression | None) -> Bound | None:
        if limit.side == "broken":
            return self.demand(limit, judges)
        if judges.nature != "number":
            self.fault("at_least and at_most are for numbers; use one_of, or must: true", self.stands(limit.origin))
            return None
        if limit.number is not None:
            if size is None and (shown.dimension != DIMENSIONLESS or shown.factor != 1.0):
                self.fault(
                    f"{limit.written} has no unit", self.stands(limit.origin), f"write {limit.written} {shown.name}"
                )
                return None
            return Bound(limit, limit.number, is_ratio=size is not None)
        return self.amount(limit, judges, shown)

    def is_quantity(self, written: str) -> bool:
        """Whether a limit is one quantity as records write it, and nothing is calculated."""
        if not _QUANTITY.fullmatch(written):
            return False
        return not any(word in self.scope.symbols or word in self.scope.constants for word in _WORD.findall(written))

    def amount(self, limit: Limit, judges: Expression, shown: Unit) -> Bound | None:
        if self.is_quantity(limit.written):
            try:
                return Bound(limit, exact_quantity(limit.written, shown))
            except NotationError as error:
                self.fault(str(error), self.stands(limit.origin))
                return None
        if limit.is_on_top and limit.origin.pack == self.rule.origin.pack:
            hint = f"only what an amendment states has a limit {BELOW} it"
            self.fault(f"nothing lies below {limit.written!r}", self.stands(limit.origin), hint)
            return None
        found = self.expression_of(
            limit, judges, limit.written, self.scope_of(judges, BELOW) if limit.is_on_top else self.scope
        )
        alone = self.expression_of(limit, judges, limit.alone, self.scope) if limit.alone else None
        return Bound(limit, expression=found, alone=alone) if found is not None else None

    def expression_of(self, limit: Limit, judges: Expression, text: str, scope: Scope) -> Expression | None:
        found = compile_at(text, scope, lambda: self.stands(limit.origin), self.problems)
        if found is None:
            return None
        if found.nature != "number" or found.dimension != judges.dimension:
            self.fault(f"this gives {_told(found)} where {_told(judges)} is judged", self.stands(limit.origin))
        self.check_stations(found, judges, lambda: self.stands(limit.origin))
        return found

    def check_stations(self, found: Expression | None, judges: Expression, where: Where) -> None:
        """A limit or condition must be known at the stations judged, or at those they belong to."""
        if found is None or found.stations is None:
            return
        if not set(found.neighbours) <= set(judges.neighbours):
            hint = "name the neighbour in what is judged, or in a reduction"
            self.fault(f"{found.text!r} has no value at the end of a line", where(), hint)
        if found.stations not in lineage(judges.stations, self.scope.parents):
            self.fault(f"{found.text!r} differs by {found.stations}, what is judged does not", where())

    def demand(self, limit: Limit, judges: Expression) -> Bound | None:
        if not limit.choices:
            if judges.nature != "truth":
                self.fault(
                    f"{limit.origin.path[-1]}: true is for a judged condition",
                    self.stands(limit.origin),
                    "give a number at_least or at_most, a choice one_of",
                )
            return Bound(limit, expression=judges)
        if judges.nature != "choice":
            self.fault("'one_of' is for a characteristic with choices", self.stands(limit.origin))
            return None
        text = " or ".join(f'{self.rule.judges} is "{choice}"' for choice in limit.choices)
        found = compile_at(text, self.scope, lambda: self.stands(limit.origin), self.problems)
        return Bound(limit, expression=found) if found else None

    def remedy(self, rule: CompiledRule) -> Mapping[str, Phrase]:
        scope = self.scope_of(rule.judges, *OWN_OF_REMEDIES) if rule.judges.nature == "number" else self.scope
        phrases: dict[str, Phrase] = {}
        for side, action in self.rule.remedy.by_side.items():
            where = self.where("remedy", side)
            parts: list[str | tuple[Expression, Unit]] = []
            for number, piece in enumerate(_AMOUNT.split(str(action))):
                if number % 2 == 0:
                    if "{" in piece or "}" in piece:
                        self.fault("a brace stands alone", where())
                    parts.append(piece)
                else:
                    parts.extend(self.amount_in_words(piece, scope, rule, where))
            phrases[side] = Phrase(tuple(part for part in parts if part != ""), bool(action.irreversible))
        return self.sound(FrozenMapping(phrases))

    def amount_in_words(
        self, piece: str, scope: Scope, rule: CompiledRule, where: Where
    ) -> Iterator[tuple[Expression, Unit]]:
        in_unit = _SHOWN_IN.fullmatch(piece)
        text, wanted = in_unit.groups() if in_unit else (piece, "")
        found = compile_at(text.strip(), scope, where, self.problems)
        shown = unit_at(wanted.strip(), where, self.problems) if wanted else self.natural_unit(found, rule)
        if found is None or shown is None:
            return
        if found.dimension != shown.dimension:
            hint = "say which unit to show, as in {expression in unit}"
            given = f"{text.strip()!r} gives {_told(found)}"
            self.fault(f"{given} where {describe(shown.dimension)} is to be shown", where(), hint)
            return
        self.check_stations(found, rule.judges, where)
        yield found, shown

    def natural_unit(self, found: Expression | None, rule: CompiledRule) -> Unit:
        item = self.characteristics.get(found.characteristic or "") if found is not None else None
        return (item.unit if item is not None else None) or rule.unit

    def scope_of(self, judges: Expression, *names: str) -> Scope:
        """The scope with names for more values of the kind that is judged."""
        extra = {name: Symbol(name, judges.dimension, judges.stations, judges.low, judges.high) for name in names}
        return replace(self.scope, symbols=FrozenMapping({**self.scope.symbols, **extra}))


def _told(found: Expression) -> str:
    """What an expression gives, in words."""
    return found.nature if found.dimension is None else describe(found.dimension)
