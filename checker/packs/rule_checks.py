"""What can be wrong with a rule as a whole: unknown names, limits without a basis, bands nobody can meet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from checker.errors import Place, Problem, nearest
from checker.expressions.steps import Part, are_alike
from checker.packs.compiled import CompiledRule
from checker.packs.layers import Layered
from checker.packs.limit_set import DEMANDS, POSITIONS, Bound, CompiledEntry, LimitSet
from checker.packs.limits import ANY, PHYSICS, Entry, Limit
from checker.packs.rule import Rule


def name_problems(rule: Rule, layered: Layered) -> Iterator[Problem]:
    """Milestones and applications that nobody states, and limits without a basis."""
    if not rule.before:
        hint = f"as in before: {next(iter(layered.milestones), 'finished')}, here or at the head of the file"
        yield Problem("'before' is missing", rule.origin.place, hint)
    elif rule.before not in layered.milestones:
        place = rule.place("before")
        hint = nearest(rule.before, layered.milestones) or f"known: {', '.join(layered.milestones)}"
        yield Problem(f"no milestone {rule.before!r}", place, hint)
    for name, place in _applications_named(rule):
        if name != ANY and name not in layered.applications:
            yield Problem(f"no application {name!r}", place, nearest(name, layered.applications))
    for entry in rule.limits:
        if _lacks_basis(entry, rule):
            yield Problem("these limits have no basis", entry.origin.place, "as in basis: {kind: shop policy}")


def band_problems(rule: CompiledRule, layered: Layered) -> Iterator[Problem]:
    """Limits that no value can meet, and limits that never count."""
    for application in (*layered.applications, ANY):
        chain = layered.chains.get(application, (application,)) if application != ANY else ()
        for band in ("must", "should"):
            low, high = (rule.limits.plain(chain, band, side) for side in ("low", "high"))
            if low and high and _lies_above(low, high):
                yield _crossed(low.limit, high.limit)
        yield from _looser_than_physics(rule.limits, chain)
    for entry in rule.limits.entries:
        yield from _should_beyond_must(entry)
    problems = (problem for limits in (rule.limits, *rule.alternatives) for problem in _never_counting(limits.entries))
    # What an amendment has left of the limits below it is there twice.
    yield from dict.fromkeys(problems)


def _applications_named(rule: Rule) -> Iterator[tuple[str, Place]]:
    for name in rule.not_for:
        yield name, rule.place("not_for", name)
    for entry in (*rule.limits, *(entry for other in rule.alternatives for entry in other.limits)):
        yield entry.application, entry.origin.place


def _lacks_basis(entry: Entry, rule: Rule) -> bool:
    """The basis of a rule does not cover what another pack states for it."""
    return bool(entry.limits) and entry.basis is None and (rule.basis is None or entry.origin.pack != rule.origin.pack)


def _crossed(low: Limit, high: Limit) -> Problem:
    low_place, high_place = low.origin.place, high.origin.place
    is_near = (low_place.file, low_place.line) == (high_place.file, high_place.line)
    hint = "" if is_near else f"at_most {high.written}: {high.origin}"
    return Problem(f"{low.band}: at_least {low.written} lies above at_most {high.written}", low_place, hint)


def _looser_than_physics(limits: LimitSet, chain: tuple[str, ...]) -> Iterator[Problem]:
    """A must never counts that is looser than one of physics, whoever states it."""
    for side in ("low", "high"):
        must = limits.plain(chain, "must", side)
        for candidate in limits.candidates(chain, PHYSICS, side) if must else ():
            if must is None or candidate.when is not None:
                continue
            outer, inner = (must, candidate.bound) if side == "high" else (candidate.bound, must)
            if _lies_above(outer, inner):
                physics = candidate.bound.limit
                what = physics.basis.note if physics.basis else ""
                hint = f"nothing loosens what physics asks for ({what}): {physics.origin}"
                message = f"must {must.limit.written} never counts: {physics.written} does"
                yield Problem(message, must.limit.origin.place, hint)


def _should_beyond_must(entry: CompiledEntry) -> Iterator[Problem]:
    """What is stated side by side must fit together: the must band holds the should band."""
    bounds = {(bound.limit.band, bound.limit.side): bound for bound in entry.bounds}
    for side, word in (("low", "below"), ("high", "above")):
        must, should = (bounds.get((band, side)) for band in ("must", "should"))
        outer, inner = (must, should) if side == "low" else (should, must)
        if must and should and outer and inner and _lies_above(outer, inner):
            message = f"should {should.limit.written} lies {word} must {must.limit.written}"
            yield Problem(message, should.limit.origin.place)


def _never_counting(entries: Sequence[CompiledEntry]) -> Iterator[Problem]:
    """Of several limits for one application and side, none may follow one that always counts."""
    for position in (*POSITIONS, *DEMANDS):
        stated = [(entry, bound) for entry in entries for bound in entry.bounds if bound.limit.position == position]
        for (entry, bound), (later, idle) in combinations(stated, 2):
            is_same = later.application == entry.application and (
                entry.when is None or are_alike(_when(entry), _when(later))
            )
            is_lifted = idle.limit.is_on_top and idle.limit.origin.pack != bound.limit.origin.pack
            if is_same and not bound.limit.is_on_top and not is_lifted:
                place = bound.limit.origin.place
                message = f"{idle.limit.written} never counts: {bound.limit.written} at {place.file}:{place.line} does"
                yield Problem(message, idle.limit.origin.place)


def _when(entry: CompiledEntry) -> Part | None:
    """What a condition comes to, however it is spaced."""
    return None if entry.when is None else entry.when.tree


def _lies_above(one: Bound, other: Bound) -> bool:
    """Whether one number surely lies above another: both are constants of one kind."""
    if one.number is None or other.number is None or one.is_ratio != other.is_ratio:
        return False
    return one.number > other.number
