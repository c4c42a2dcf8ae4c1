"""Drafts of missing cases, for a person to read, correct and accept: what rules say now, which need not be right.

A draft stands under `drafts`, where no case is run. What cannot be drafted is named, to be written by hand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from checker.packs.cases import LADDER
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import DEMANDS, POSITIONS, Bound
from checker.rulebook import Rulebook
from checker.vetting.amendments import plain_bound, uses_of
from checker.vetting.strength import Weakness
from checker.vetting.templates import as_written

NEAR = 0.05
"""How far from a limit the values lie, as a share of it."""
_HEAD = """\
# Drafts: what the rules say now, not what they should say. Check each against what you know, correct it, and move it
# under cases; until then it is not run.
"""


def drafted(rulebook: Rulebook, unguarded: Iterable[Weakness]) -> str:
    """Drafts for the rules in which something is unguarded, as a file of a pack; empty where nothing is."""
    of_rules: dict[str, list[str]] = {}
    for weakness in unguarded:
        of_rules.setdefault(weakness.name, []).append(weakness.message)
    drafts = {name: list(_cases(rulebook.rules[name], rulebook)) for name in of_rules if name in rulebook.rules}
    lines = [line for name, cases in drafts.items() if cases for line in (f"  {name}:", *cases)]
    by_hand = [
        f"# By hand: {name}: {message}" for name in of_rules if not drafts.get(name) for message in of_rules[name]
    ]
    return "\n".join([_HEAD + "drafts:", *lines, *by_hand] if lines else by_hand) + "\n" * bool(of_rules)


def _cases(rule: CompiledRule, rulebook: Rulebook) -> Iterator[str]:
    """A case for each use whose limits no use before it has."""
    seen = set()
    if rule.judges.characteristic != rule.judges.text or rule.when or rule.unless:
        return
    for application, chain in uses_of(rule, rulebook):
        stated = [position for position in (*POSITIONS, *DEMANDS) if rule.limits.candidates(chain, *position)]
        plain = {position: plain_bound(rule.limits, chain, *position) for position in stated}
        bounds = tuple(plain.items())
        known = [bound for bound in plain.values() if bound is not None]
        if stated and len(known) == len(stated) and bounds not in seen:
            seen.add(bounds)
            yield from _of_choices(rule, application, known, rulebook)
            yield from _of_numbers(rule, application, known, rulebook)


def _of_choices(rule: CompiledRule, application: str, bounds: list[Bound], rulebook: Rulebook) -> Iterator[str]:
    allowed = {bound.limit.band: bound.limit.choices for bound in bounds if bound.limit.choices}
    name = rule.judges.text
    choices = rulebook.characteristics[name].characteristic.choices if allowed else ()
    by_verdict: dict[str, list[str]] = {}
    for choice in choices:
        misses = [band for band in ("must", "should") if choice not in allowed.get(band, (choice,))]
        by_verdict.setdefault({"must": "outside", "should": "advisory"}[misses[0]] if misses else "within", []).append(
            f'"{choice}"'
        )
    yield from _line(application, {}, name, by_verdict)


def _of_numbers(rule: CompiledRule, application: str, bounds: list[Bound], rulebook: Rulebook) -> Iterator[str]:
    numbers = [bound for bound in bounds if bound.number is not None]
    item = rulebook.characteristics[rule.judges.text]
    size = rule.per_unit_of.characteristic if rule.per_unit_of is not None else None
    if not numbers or item.unit is None or (any(bound.is_ratio for bound in numbers) and size is None):
        return
    given, scale = {}, 1.0
    if size is not None and (measured := rulebook.characteristics[size]).unit is not None:
        given[size] = as_written((measured.low + measured.high) / 2, measured.unit, 2)
        scale = measured.unit.to_si(float(given[size].split()[0]))
    limits = [((bound.number or 0.0) * (scale if bound.is_ratio else 1.0), bound) for bound in numbers]
    by_verdict: dict[str, list[str]] = {}
    for value in sorted(_values([limit for limit, _ in limits], item.high - item.low)):
        if item.low <= value <= item.high:
            by_verdict.setdefault(_verdict(value, limits), []).append(as_written(value, item.unit))
    yield from _line(application, given, item.name, by_verdict)


def _values(limits: list[float], span: float) -> Iterator[float]:
    """Of each limit a value on either side: near it, and nearer than any other limit."""
    for limit in limits:
        gaps = [abs(other - limit) / 3 for other in limits if other != limit]
        share = NEAR * (abs(limit) or min((abs(other) for other in limits if other), default=span))
        step = min([share, *gaps])
        yield from (limit - step, limit + step)


def _verdict(value: float, limits: Iterable[tuple[float, Bound]]) -> str:
    missed = {
        bound.limit.band for limit, bound in limits if (value < limit if bound.limit.side == "low" else value > limit)
    }
    return "outside" if "must" in missed else "advisory" if missed else "within"


def _line(application: str, given: Mapping[str, str], name: str, by_verdict: Mapping[str, list[str]]) -> Iterator[str]:
    if by_verdict:
        sizes = ", ".join(f"{size}: {value}" for size, value in given.items())
        verdicts = "".join(
            f", {verdict}: [{', '.join(by_verdict[verdict])}]" for verdict in LADDER if verdict in by_verdict
        )
        yield f"    - {{application: {application}, given: {{{sizes}}}, vary: {name}{verdicts}}}"
