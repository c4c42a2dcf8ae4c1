"""A first rule pack to start from: it amends one rule of another pack, adds one, and has cases for both."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from checker.errors import Problem, UsageError
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import POSITIONS, Bound
from checker.packs.versions import compatible_range
from checker.rulebook import Rulebook
from checker.vetting.templates import as_written, filled_in, require_name

STRICTER = 0.9
"""The share of the old limit that the first amendment allows."""

_FILES = ("pack.yaml", "policy.yaml", "cases/policy.yaml")


@dataclass(frozen=True, slots=True)
class _Amended:
    """A limit that can be made stricter without further thought, and the application that states it."""

    rule: CompiledRule
    application: str
    bound: Bound

    def written(self, share: float) -> str:
        """A share of the stricter limit as packs write it."""
        return as_written((self.bound.constant or 0.0) * STRICTER * share, self.rule.unit)


def new_pack(name: str, rulebook: Rulebook, rule: str | None = None) -> Mapping[str, str]:
    """The files of a new pack by name, on top of the last pack of a rulebook; `rule` is the one to amend.

    Raises UsageError for a name that packs cannot have, and for a rule that cannot simply be made stricter.
    """
    require_name(name)
    base = rulebook.packs[-1]
    chosen = _chosen(rulebook, rule)
    return filled_in(
        "new_pack",
        _FILES,
        name=name,
        base=base.name,
        range=compatible_range(base.version),
        rule=chosen.rule.name,
        application=chosen.application,
        limit=chosen.written(1.0),
        milestone=rulebook.milestones[0],
        case_application=_case_application(chosen, rulebook),
        varied=chosen.rule.rule.judges,
        inside=chosen.written(0.95),
        outside=chosen.written(1.05),
    )


def _chosen(rulebook: Rulebook, name: str | None) -> _Amended:
    rules = rulebook.rules.values() if name is None else [rulebook.rule(name)]
    choice = next((amended for rule in rules for amended in _amendable(rule, rulebook)), None)
    if choice is None:
        what = f"rule {name!r}" if name else str(rulebook)
        hint = "an upper should limit that is a plain number is wanted, on a rule without conditions"
        raise UsageError(Problem(f"{what} offers no limit that can simply be made stricter", hint=hint))
    return choice


def _amendable(rule: CompiledRule, rulebook: Rulebook) -> Iterator[_Amended]:
    """The upper should limits of a rule that are plain numbers, with room below them."""
    is_plain = rule.judges.text in rulebook.characteristics and not rule.is_demand
    if not is_plain or rule.when or rule.unless or rule.rule.not_for:
        return
    for entry in rule.limits.entries:
        for bound in entry.bounds:
            is_upper_should = (bound.limit.band, bound.limit.side) == ("should", "high")
            if is_upper_should and entry.when is None and bound.constant and not bound.is_ratio:
                amended = _Amended(rule, entry.application, bound)
                if _has_room(amended, rulebook):
                    yield amended


def _has_room(amended: _Amended, rulebook: Rulebook) -> bool:
    """Whether the stricter limit lies well above every lower one, and is plausible."""
    aim = (amended.bound.constant or 0.0) * STRICTER
    chain = rulebook.chain(_case_application(amended, rulebook))
    lower = [
        candidate.bound.constant
        for band, side in POSITIONS
        if side == "low"
        for candidate in amended.rule.limits.candidates(chain, band, side)
    ]
    return aim > amended.rule.judges.low and all(limit is not None and limit < 0.8 * aim for limit in lower)


def _case_application(amended: _Amended, rulebook: Rulebook) -> str:
    """The application itself; for a limit of every application the first one that states none of its own."""
    if amended.application in rulebook.applications:
        return amended.application
    position = (amended.bound.limit.band, amended.bound.limit.side)
    for name in rulebook.applications:
        candidates = amended.rule.limits.candidates(rulebook.chain(name), *position)
        if candidates and candidates[0].bound is amended.bound:
            return name
    return rulebook.applications[0]
