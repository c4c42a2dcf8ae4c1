"""Rules that take the limits of another rule: what counts there, as amended, counts here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from checker.errors import Problem, nearest
from checker.packs.amendments import merged
from checker.packs.rule import Rule


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
    place, seen = rule.place("limits_of"), [rule.name]
    if rule.limits_of is None:
        return rule if rule.limits else Problem("'limits' is missing", rule.origin.place, "or limits_of: another rule")
    if rule.limits and not rule.amended:
        return Problem("a rule has limits or limits_of, not both", place)
    while (name := rules[seen[-1]].limits_of) is not None:
        if name not in rules:
            return Problem(f"no rule {name!r} to take limits of", place, nearest(name, rules))
        if name in seen:
            return Problem(f"rules take limits of each other in a circle: {', '.join(seen)}", place)
        seen.append(name)
    return rules[seen[-1]]


def _with_limits_of(lender: Rule, rule: Rule) -> Rule:
    """What an amendment states of the rule itself comes before what is lent."""
    return rule._replace(
        limits=merged(lender.limits, rule.limits),
        alternatives=(*lender.alternatives, *rule.alternatives),
        per_unit_of=rule.per_unit_of or lender.per_unit_of,
        basis=rule.basis or lender.basis,
    )
