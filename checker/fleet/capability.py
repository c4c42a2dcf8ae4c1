"""How capable a process is of the limits of a rule, as its values over many assemblies show.

Cp and Cpk as in the NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6, with the standard deviation of all values;
ISO 22514-2 calls them performance indices, Pp and Ppk, until the process is shown to be under control.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import reduce
from typing import NamedTuple

from scipy import stats

from checker.errors import Problem, UsageError
from checker.expressions.truth import Array
from checker.fleet.judging import told_of
from checker.fleet.parts import Part
from checker.fleet.plan import Plan
from checker.fleet.seen import SAMPLE, Moments, OfRule, Seen, Values, seen_in
from checker.judging.judge import Verdict

CONFIDENCE = 0.95
CONFIDENCE_OF_DRIFT = 0.999
"""Many rules and stations are looked at: one in twenty would seem to drift."""
FEWEST = 25
"""Of fewer values nothing is told: common practice."""
NOT_NORMAL = 0.01
"""A chance less than this of values as skewed or as heavy in the tails, were they normally distributed."""
_MOST_TESTED = 1000
"""With more values, any real process fails the test for a departure that changes nothing."""
_WITH_VALUES = tuple(set(Verdict) - {Verdict.NOT_APPLICABLE, Verdict.NOT_ASKED})
_ALIKE = 1e-9


class Ends(NamedTuple):
    """An estimate with the ends of its confidence interval."""

    value: float
    low: float
    high: float


class Capability(NamedTuple):
    """What the values of a rule show, at one station or, where that is empty, at all of them.

    Mean, standard deviation and drift are in `unit`. The limits are `band` (must or should) and None on a side without
    one; where they differ from value to value both are None and `vary` is true: Cp and Cpk then rest on where each
    value lies on its own band. What is not told is None, and `reasons` say why. `drift` is the change from the first
    assembly to the last along a straight line. Of `n` values so many are outside, undecided
    (in doubt), or were not judged because something else is not known.
    """

    rule: str
    title: str
    where: str
    unit: str
    n: int
    band: str
    low: float | None
    high: float | None
    vary: bool
    outside: int
    undecided: int
    unjudged: int
    sample: Values
    mean: float | None = None
    deviation: float | None = None
    cp: float | None = None
    cpk: Ends | None = None
    fraction: Ends | None = None
    drift: Ends | None = None
    reasons: tuple[str, ...] = ()

    @property
    def is_drifting(self) -> bool:
        """Whether no drift at all is outside its confidence interval."""
        return self.drift is not None and not self.drift.low <= 0 <= self.drift.high


class Over(NamedTuple):
    """What was seen of the rules of which there is a value, and how many rows of the tables were set aside."""

    by_rule: dict[str, OfRule]
    set_aside: int


def seen_over(plan: Plan, parts: Sequence[Part], rules: Sequence[str]) -> Iterator[Over]:
    """What was seen of some rules, and more of it after each part; raises as a check of the tables does."""
    some = plan._replace(rulebook=plan.rulebook.only(*rules))
    lines = sum(part.stop - part.first for part in parts)
    stride = max(1, lines // SAMPLE)
    by_rule: dict[str, OfRule] = {}
    set_aside = 0
    for part in parts:
        for piece in told_of(some, part, _WITH_VALUES):
            set_aside += piece.set_aside.num_rows
            for name, seen in seen_in(piece, part.before - part.first, stride):
                by_rule[name] = by_rule[name].plus(seen) if name in by_rule else seen
        yield Over({name: seen for name, seen in by_rule.items() if seen.has_values}, set_aside)
    if not any(seen.has_values for seen in by_rule.values()):
        titles = ", ".join(plan.rulebook.rules[name].rule.title for name in rules)
        lacking = sum(own.lacking for seen in by_rule.values() for own in seen.stations.values())
        hint = without_value(lacking) if lacking else "choices and yes or no have none"
        raise UsageError(Problem(f"no value was judged of: {titles}", hint=hint))


def without_value(count: int) -> str:
    """That so many values are lacking, and why they may be."""
    return f"{count:,} {'has' if count == 1 else 'have'} no value that counts: not measured, or not possible as written"


def capabilities(name: str, seen: OfRule, kind: str, by_station: bool, set_aside: int = 0) -> list[Capability]:
    """Of a rule: of all its stations together, and if asked for of each, as "shaft 2" where `kind` is "shaft".

    `set_aside` rows of the tables could not be read.
    """
    together = reduce(Seen.plus, seen.stations.values())
    # Values of one assembly are alike: as if each were another the drift would be surer than it is.
    studies = [_capability(name, seen, "", together, seen.assemblies)]
    if by_station and len(seen.stations) > 1:
        studies += [_capability(name, seen, f"{kind} {n}", own, own.values) for n, own in seen.stations.items()]
    if set_aside:
        rows = "1 row was" if set_aside == 1 else f"{set_aside:,} rows were"
        studies[0] = studies[0]._replace(reasons=(*studies[0].reasons, f"{rows} set aside; checker batch says why"))
    return studies


def _capability(name: str, rule: OfRule, where: str, seen: Seen, over: Moments) -> Capability:
    n = seen.values.n
    low, high = (_limit(ends) for ends in (seen.low, seen.high))
    is_mixed = len(seen.kinds) > 1
    band, has_low, has_high = min(seen.kinds, default=("must", False, False))
    vary = not is_mixed and ((has_low and low is None) or (has_high and high is None))
    is_alike = not (vary or is_mixed or seen.unjudged)
    study = Capability(
        rule=name,
        title=rule.title,
        where=where,
        unit=rule.unit,
        n=n,
        band=band,
        low=low if is_alike else None,
        high=high if is_alike else None,
        vary=vary,
        outside=seen.outside,
        undecided=seen.undecided,
        unjudged=seen.unjudged,
        sample=seen.sample,
    )
    lacking = [without_value(seen.lacking)] if seen.lacking else []
    if n < FEWEST:
        words = f"undecided: {n} value{'s' if n > 1 else ''}, at least {FEWEST} are needed"
        return study._replace(reasons=(words, *lacking))
    reasons = []
    moments = seen.places if vary else seen.values
    tested = seen.sample.place if vary else seen.sample.value
    if seen.unjudged:
        reasons.append("no Cpk: not all values could be judged")
    elif is_mixed:
        reasons.append("no Cpk: not all values have limits of the same kind")
    elif not (has_low or has_high):
        reasons.append("no Cpk: there is no limit")
    elif moments.deviation <= _ALIKE * abs(moments.mean):
        reasons.append("no Cpk: all values are the same")
    elif tested.size < FEWEST:
        reasons.append("no Cpk: the values lie too unevenly over the order to be tested for a normal distribution")
    elif not is_normal(tested):
        reasons.append("no Cpk: the values are not normally distributed")
    else:
        ends = (0.0 if has_low else None, (1.0 if has_low else 0.0) if has_high else None) if vary else (low, high)
        cp, cpk = indices(moments.mean, moments.deviation, *ends)
        study = study._replace(cp=cp, cpk=with_confidence(cpk, n))
    if seen.undecided:
        reasons.append(f"{seen.undecided:,} values too near a limit for their instrument: neither within nor outside")
    if seen.unjudged:
        reasons.append(
            f"{seen.unjudged:,} values were measured and not judged: something their limits need is not known"
        )
    reasons += lacking
    study = study._replace(
        mean=seen.values.mean,
        deviation=seen.values.deviation,
        fraction=fraction_outside(seen.outside, n, seen.undecided + seen.unjudged),
        drift=drift(over),
    )
    if study.is_drifting and study.cpk is not None:
        reasons.append("it drifts: Cpk tells of these values, not of those to come")
    return study._replace(reasons=tuple(reasons))


def _limit(ends: tuple[float, float]) -> float | None:
    """A limit that is the same for all values."""
    low, high = ends
    return low if math.isfinite(low) and high - low <= _ALIKE * abs(high) else None


def indices(mean: float, deviation: float, low: float | None, high: float | None) -> tuple[float | None, float]:
    """Cp, nothing where there is one limit, and Cpk, of the nearer side (e-Handbook 6.1.6)."""
    sides = [*([] if low is None else [mean - low]), *([] if high is None else [high - mean])]
    cp = None if low is None or high is None else (high - low) / (6 * deviation)
    return cp, min(sides) / (3 * deviation)


def with_confidence(cpk: float, n: int) -> Ends:
    """Cpk with its confidence interval, by the normal approximation of Bissell (Applied Statistics 39, 1990)."""
    reach = float(stats.norm.ppf((1 + CONFIDENCE) / 2)) * math.sqrt(1 / (9 * n) + cpk * cpk / (2 * (n - 1)))
    return Ends(cpk, cpk - reach, cpk + reach)


def is_normal(values: Array) -> bool:
    """Whether nothing speaks against a normal distribution (D'Agostino and Pearson, Biometrika 60, 1973)."""
    some = values[:: -(-values.size // _MOST_TESTED)]
    return float(stats.normaltest(some).pvalue) >= NOT_NORMAL


def fraction_outside(outside: int, n: int, undecided: int = 0, confidence: float = CONFIDENCE) -> Ends:
    """The fraction outside, with the exact interval of Clopper and Pearson (Biometrika 26, 1934).

    Values in doubt count as outside at the upper end.
    """
    low, high = (stats.binomtest(count, n).proportion_ci(confidence) for count in (outside, outside + undecided))
    return Ends(outside / n, float(low.low), float(high.high))


def slope(over: Moments, confidence: float = CONFIDENCE) -> Ends | None:
    """The change of values from one to the next, along a straight line of least squares; the ends by Student's t."""
    if over.n < FEWEST or not over.of_when:
        return None
    steep = over.of_both / over.of_when
    left = max(over.of_values - steep * over.of_both, 0.0) / (over.n - 2)
    reach = float(stats.t.ppf((1 + confidence) / 2, over.n - 2)) * math.sqrt(left / over.of_when)
    return Ends(steep, steep - reach, steep + reach)


def drift(over: Moments) -> Ends | None:
    """The change over the whole order, of assemblies that are evenly spaced in it."""
    steep = slope(over, CONFIDENCE_OF_DRIFT)
    length = math.sqrt(12 * over.of_when / over.n) if over.n else 0.0
    return None if steep is None else Ends(*(length * end for end in steep))
