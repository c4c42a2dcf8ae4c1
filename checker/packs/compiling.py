"""Turning a rule's words into checked expressions and limits in SI."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import partial

from checker.errors import PackError, Problem
from checker.expressions.expression import Expression
from checker.expressions.names import Scope
from checker.frozen import FrozenMapping
from checker.graph import lineage
from checker.on_demand import OnDemand
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.compiling_limits import limit_set
from checker.packs.compiling_remedies import remedy
from checker.packs.inspection import sample_per
from checker.packs.layers import Layered
from checker.packs.limits import Alternative
from checker.packs.rule import ALWAYS, EACH, Rule
from checker.packs.rule_checks import band_problems, name_problems
from checker.packs.texts import unit_at
from checker.packs.unfinished import Unfinished, told
from checker.units.dimensions import DIMENSIONLESS, describe
from checker.units.units import Unit, unit


def compile_rules(
    layered: Layered,
    scope: Scope,
    characteristics: Mapping[str, CompiledCharacteristic],
    strict: bool,
) -> tuple[Mapping[str, CompiledRule], Iterable[Problem]]:
    """The rules of layered packs by name, and what is wrong with them.

    If strict, all are compiled and checked at once, and every key is named that is wrong. The rules of released packs
    were checked when those were released: each is compiled when first asked for, as far as it is asked for.
    """
    if not strict:
        return OnDemand(layered.rules.keys, lambda name: _compiled(layered.rules[name], scope, characteristics)), ()
    rules: dict[str, CompiledRule] = {}
    problems: list[Problem] = []
    for rule in layered.rules.values():
        compiling = _Compiling(rule, scope, characteristics, is_strict=True)
        compiled = compiling.compiled()
        problems += name_problems(rule, layered)
        if compiled is not None:
            compiling.complete(compiled)
            problems += band_problems(compiled, layered)
            rules[rule.name] = compiled
        problems += compiling.problems
    return FrozenMapping(rules), dict.fromkeys(problems)  # of limits that another rule takes as well they come twice


def _compiled(rule: Rule, scope: Scope, characteristics: Mapping[str, CompiledCharacteristic]) -> CompiledRule:
    compiling = _Compiling(rule, scope, characteristics, is_strict=False)
    found = compiling.compiled()
    if found is None:
        raise PackError(compiling.problems)
    return found


class _Compiling(Unfinished):
    """The rule itself: what it judges, when it applies and is asked for, in which unit it is shown."""

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
            from checker.expressions.compiling import where_neighbours_are  # few rules name neighbours

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
            limits=limit_set(self, Alternative("", self.rule.limits, self.rule.basis), judges, shown, size),
            alternatives=tuple(limit_set(self, other, judges, shown, size) for other in self.rule.alternatives),
            _compile_remedy=partial(remedy, self),
        )

    def complete(self, compiled: CompiledRule) -> None:
        """Compile and check what would else wait."""
        for limits in (compiled.limits, *compiled.alternatives):
            limits.entries  # noqa: B018 - compiling them is the check
        compiled.remedy  # noqa: B018 - likewise

    @property
    def occasion(self) -> str | None:
        stated = self.rule.inspection.occasion
        return None if stated == ALWAYS else stated

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
            given = f"{told(judges)} is judged, {told(size)} is its size"
            self.fault(f"limits cannot be ratios: {given}", self.rule.place("per_unit_of"))
