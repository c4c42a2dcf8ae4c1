"""Rules that take the limits of another rule: what counts there, as amended, counts here.

One that lends states its own, so that a reader has one place to look, and rules cannot take them in a circle."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from checker.errors import Problem, nearest
from checker.frozen import FrozenMapping
from checker.packs.amendments import merged
from checker.packs.limits import Band, Entry
from checker.packs.rule import Amendment, Rule


def lend(rules: dict[str, Rule]) -> Iterable[Problem]:
    """Give each rule that names another the limits of that; what cannot be given is left out, and a problem more."""
    stated = dict(rules)
    for rule in stated.values():
        lender = _lender(rule, stated)
        if isinstance(lender, Problem):
            yield lender
        elif lender is not rule:
            rules[rule.name] = _with_limits_of(lender, rule)


def _lender(rule: Rule, rules: Mapping[str, Rule]) -> Rule | Problem:
    """The rule at whose limits one arrives; the rule itself where it names none."""
    if rule.lender is None:
        return rule if rule.limits else Problem("'limits' is missing", rule.origin.place, "or limits_of: another rule")
    if rule.lender not in rules:
        return Problem(
            f"no rule {rule.lender!r} to take limits of", rule.place("limits_of"), nearest(rule.lender, rules)
        )
    if rules[rule.lender].lender is not None:
        hint = f"name {rules[rule.lender].lender}" if rules[rule.lender].lender != rule.name else "one states its own"
        return Problem(f"{rule.lender} takes its own limits from another rule", rule.place("limits_of"), hint)
    return rules[rule.lender]


def _with_limits_of(lender: Rule, rule: Rule) -> Rule:
    """What is stated for the rule itself comes before what is lent."""
    lent = _only(rule.lent_bands, lender.limits)
    others = (other._replace(limits=_only(rule.lent_bands, other.limits)) for other in lender.alternatives)
    return rule._replace(
        limits=merged(lent, rule.limits),
        alternatives=(*(other for other in others if other.limits), *rule.alternatives),
        per_unit_of=rule.per_unit_of or lender.per_unit_of,
        basis=rule.basis or lender.basis,
        amended=(*_amending(lender), *rule.amended),
    )


def _amending(lender: Rule) -> Iterator[Amendment]:
    """What amends the limits that are lent amends those of all that take them."""
    for amendment in lender.amended:
        if "limits" in amendment.changes:
            yield amendment._replace(changes=FrozenMapping({"limits": amendment.changes["limits"]}))


def _only(bands: Sequence[str], limits: Iterable[Entry]) -> tuple[Entry, ...]:
    """Of limits the bands named."""
    kept = (
        entry._replace(
            must=entry.must if "must" in bands else Band(), should=entry.should if "should" in bands else Band()
        )
        for entry in limits
    )
    return tuple(entry for entry in kept if entry.stated)
