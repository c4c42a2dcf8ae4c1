"""What does not fit together in rule packs that load and whose cases pass."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache, partial
from itertools import chain as one_after_another
from itertools import combinations, islice, product

from checker.documents.document import Origin
from checker.errors import Place
from checker.expressions.expression import Expression
from checker.expressions.intervals import Interval
from checker.expressions.names import VALUE
from checker.expressions.steps import are_alike
from checker.expressions.truth import TRUE
from checker.judging.block import Block
from checker.packs.compiled import CompiledRule, inputs_of
from checker.packs.files import CASES, shown_path, unread_files
from checker.packs.limit_set import POSITIONS, STATED, Bound
from checker.packs.limits import PHYSICS
from checker.packs.pack import HEAD
from checker.rulebook import Rulebook
from checker.vetting.amendments import far_away, uses_of
from checker.vetting.case_runs import CaseGroup
from checker.vetting.strength import Weakness, expressions_of, stated_by, stating
from checker.vetting.trial import trial_block


def warnings_about(
    rulebook: Rulebook, groups: Mapping[str, Sequence[CaseGroup]], packs: frozenset[str]
) -> Iterator[Weakness]:
    """Warnings about what these packs state or amend, and about rules below for the applications they add."""
    trial = cache(partial(trial_block, rulebook))
    for rule in rulebook.rules.values():
        is_ours = not packs.isdisjoint(stating(rule))
        own = [name for name, stated in rulebook.layered.applications.items() if stated.origin.pack in packs]
        is_for_own = rule.rule.origin.pack not in packs or rule.limits.applications <= set(own)
        is_theirs = rule.rule.origin.pack not in packs
        new = [name for name in own if not is_theirs or set(rulebook.chain(name)) <= set(own)]  # else it is like theirs
        yield from _uncovered(rule, rulebook, new if is_for_own else rulebook.applications)
        yield from _impossible_bands(rule, rulebook, rulebook.applications if is_ours else own)
        if is_ours:
            yield from _remedies(rule)
            yield from far_away(rule, rulebook, packs)
            yield from _never_met(rule, groups.get(rule.name, ()), trial)
    yield from _contradictions(rulebook, packs)
    yield from _retired_physics(rulebook, packs)
    yield from _unread(rulebook, packs)
    yield from _unused(rulebook, packs)


def _retired_physics(rulebook: Rulebook, packs: frozenset[str]) -> Iterator[Weakness]:
    """Nothing loosens what physics asks for, but a rule that is dropped asks for nothing."""
    for name, retired in rulebook.layered.retired.items():
        bands = {limit.band for entry in retired.rule.limits for limit in entry.limits}
        if retired.retirement.origin.pack in packs and PHYSICS in bands:
            what = "is retired with what physics asks for: amend it, or ask for that in a rule of your own"
            yield Weakness(name, what, retired.retirement.origin.place)


def _unread(rulebook: Rulebook, packs: frozenset[str]) -> Iterator[Weakness]:
    for pack in rulebook.packs:
        if pack.name in packs:
            for path in unread_files(pack.folder):
                place = Place(shown_path(pack.folder, path.relative_to(pack.folder).as_posix()), 1)
                yield Weakness(pack.name, f"this is not read: move it beside {HEAD}, or cases into {CASES}/", place)


def _unused(rulebook: Rulebook, packs: frozenset[str]) -> Iterator[Weakness]:
    """Constants and characteristics that nothing rests on; what is derived, or stated for packs above, may be told."""
    layered = rulebook.layered
    stands_alone = {pack.name for pack in rulebook.packs if not pack.builds_on}
    expressions = [each for rule in rulebook.rules.values() for each in _told_by(rule)]
    for picture in rulebook.pictures.values():
        expressions += [*one_after_another.from_iterable(picture.angles.values()), *picture.marks.values()]
    expressions += [item.derived for item in rulebook.characteristics.values() if item.derived is not None]
    inputs = inputs_of(expressions, rulebook.characteristics)
    followed = (name for item in layered.characteristics.values() for name in (*item.made_of, *item.follows))
    used = {*inputs.names, *inputs.named, *followed, *layered.part_limits}
    used |= {material.expansion for material in layered.materials.values()}
    for constant in layered.constants.values():
        if constant.origin.pack in packs and constant.name not in used:
            yield Weakness(constant.name, "nothing uses this constant", constant.origin.place)
    for item in layered.characteristics.values():
        if item.origin.pack in packs - stands_alone and item.derived is None and item.name not in used:
            yield Weakness(item.name, "no rule uses this characteristic", item.origin.place)


def _told_by(rule: CompiledRule) -> Iterator[Expression]:
    """All that a rule judges, asks and says by."""
    yield from expressions_of(rule)
    for entry in one_after_another.from_iterable(limits.entries for limits in rule.alternatives):
        yield from filter(None, (entry.when, *(bound.expression for bound in entry.bounds)))
    for phrase in rule.remedy.values():
        yield from (part[0] for part in phrase.parts if not isinstance(part, str))
    if rule.occasion is not None:
        yield rule.occasion


def _uncovered(rule: CompiledRule, rulebook: Rulebook, applications: Sequence[str]) -> Iterator[Weakness]:
    missing = [
        name
        for name, chain in uses_of(rule, rulebook)
        if name in applications and not any(rule.limits.candidates(chain, band, side) for band, side in STATED)
    ]
    if missing:
        yield Weakness(rule.name, f"has no limit for {', '.join(missing)}", rule.place)


def _impossible_bands(rule: CompiledRule, rulebook: Rulebook, applications: Sequence[str]) -> Iterator[Weakness]:
    if rule.is_demand:
        return
    plausible = Interval(rule.judges.low, rule.judges.high)
    seen = set()
    for name in applications:
        bounds = _effective(rule, rulebook.chain(name))
        for low, high in _crossed(rule, bounds, rule, bounds):
            what = f"{name}: nothing lies between {_words(low)} and {_words(high)}"
            yield Weakness(rule.name, what, low.limit.origin.place)
        for bound in bounds:
            ends = _range(bound, rule)
            beyond = ends.low > plausible.high if bound.limit.side == "low" else ends.high < plausible.low
            idle = ends.high < plausible.low if bound.limit.side == "low" else ends.low > plausible.high
            idle |= bound.expression is not None and are_alike(bound.expression.tree, rule.judges.tree)
            if (beyond or idle) and bound not in seen:
                seen.add(bound)
                what = "no plausible value reaches" if beyond else "every plausible value meets"
                yield Weakness(rule.name, f"{what} {_words(bound)}", bound.limit.origin.place)


def _effective(rule: CompiledRule, chain: tuple[str, ...]) -> list[Bound]:
    """The limits that count for an application whatever else is known."""
    candidates = (rule.limits.candidates(chain, band, side) for band, side in POSITIONS)
    physics = ((candidate,) for _, side in POSITIONS[::3] for candidate in rule.limits.candidates(chain, PHYSICS, side))
    return [in_order[0].bound for in_order in (*candidates, *physics) if in_order and in_order[0].when is None]


def _crossed(
    low_rule: CompiledRule, lows: Sequence[Bound], high_rule: CompiledRule, highs: Sequence[Bound]
) -> Iterator[tuple[Bound, Bound]]:
    """Each lower limit of one rule that lies above an upper limit of another, or of the same."""
    for low, high in product(lows, highs):
        is_pair = (low.limit.side, high.limit.side) == ("low", "high")
        if is_pair and _range(low, low_rule).low > _range(high, high_rule).high:
            yield low, high


def _words(bound: Bound) -> str:
    return f"{bound.limit.band} {'at_least' if bound.limit.side == 'low' else 'at_most'} {bound.limit.written}"


def _range(bound: Bound, rule: CompiledRule) -> Interval:
    """Where a limit can lie, in SI."""
    return Interval(*bound.reach(rule.per_unit_of))


def _remedies(rule: CompiledRule) -> Iterator[Weakness]:
    sides = {bound.limit.side: bound.limit for entry in rule.limits.entries for bound in entry.bounds}
    for side, limit in sides.items():
        if side not in rule.rule.remedy.by_side:
            yield Weakness(rule.name, f"has no remedy for {_side_words(side)}", limit.origin.place)
    for side in rule.rule.remedy.by_side:
        if side not in sides:
            place = rule.rule.place("remedy", side)
            yield Weakness(rule.name, f"has a remedy for {_side_words(side)}, but no such limit", place)


def _side_words(side: str) -> str:
    return side if side == "broken" else f"too {side}"


def _never_met(rule: CompiledRule, groups: Sequence[CaseGroup], made_up: Callable[[], Block]) -> Iterator[Weakness]:
    """Conditions that neither a case nor any made-up record meets; only values are made up, no several readings."""
    for condition, words, origin in _conditions(rule):
        is_of_values = all(column.view == VALUE for column in condition.columns)
        if is_of_values and not any(_is_met(condition, block) for block in (*(g.block for g in groups), made_up())):
            yield Weakness(rule.name, f"{words}: no record seems able to meet it", origin.place)


def _is_met(condition: Expression, block: Block) -> bool:
    return bool((block.evaluate(condition) == TRUE).any())


def _conditions(rule: CompiledRule) -> Iterator[tuple[Expression, str, Origin]]:
    if rule.when is not None:
        yield rule.when, f"when {rule.when.text}", stated_by(rule, "when")
    if rule.unless is not None:
        yield rule.unless.negated(), f"unless {rule.unless.text}", stated_by(rule, "unless")
    for entry in rule.limits.entries:
        if entry.when is not None and entry.bounds:
            yield entry.when, f"{entry.application}: when {entry.when.text}", entry.bounds[0].limit.origin


def _contradictions(rulebook: Rulebook, packs: frozenset[str]) -> Iterator[Weakness]:
    """Two rules that judge the same thing, and what one demands the other forbids."""
    by_subject: dict[str, list[CompiledRule]] = {}
    for rule in rulebook.rules.values():
        if not rule.is_demand:
            by_subject.setdefault(rule.judges.text.replace(" ", ""), []).append(rule)
    for rules in by_subject.values():
        for pair in combinations(rules, 2):
            conditions = {rule.rule.when for rule in pair}
            may_both_apply = len(conditions) == 1 or None in conditions
            if may_both_apply and not packs.isdisjoint(frozenset[str]().union(*map(stating, pair))):
                yield from islice(_contradictions_of(pair, rulebook), 1)


def _contradictions_of(pair: tuple[CompiledRule, CompiledRule], rulebook: Rulebook) -> Iterator[Weakness]:
    for name, chain in uses_of(pair[0], rulebook):
        if pair[1].rule.why_not_for(chain):
            continue
        for low_rule, high_rule in (pair, pair[::-1]):
            for low, high in _crossed(low_rule, _effective(low_rule, chain), high_rule, _effective(high_rule, chain)):
                message = f"{name}: {_words(low)} contradicts {_words(high)} of {high_rule.name}"
                yield Weakness(low_rule.name, message, low.limit.origin.place)
