"""Remarks: why a verdict is what it is, and what other sources would say."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence

from checker.findings.asking import by_eye_hint, contradicted, lapsed_at, what_was_seen, why_not_asked
from checker.findings.context import Context
from checker.findings.decidable import needed_uncertainty
from checker.findings.finding import DECIDED, MISSED, ON_ITS_LIMIT, SHARED_IS_UNSTATED
from checker.findings.standpoint import Standpoint, behind_value
from checker.judging.conformity import Doubt, probability
from checker.judging.judge import BANDS, Judged, UnderChoices, Verdict, judge
from checker.judging.measures import measure
from checker.notation.write import write_quantity
from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import LimitSet
from checker.packs.limit_words import band_words
from checker.packs.limits import ANY
from checker.packs.titles import in_series, lowered
from checker.records.entry import Reading
from checker.records.instruments import COVERAGE
from checker.records.part_sheet import PartSheet
from checker.units.units import Unit, difference

_NOTHING_JUDGED = frozenset({Verdict.NOT_MEASURED, Verdict.NOT_APPLICABLE, Verdict.NOT_COVERED})
_MOST_CHOICES = 6
"""With more combinations of choices they are counted, all but the few that decide otherwise."""
_FEW_CHOICES = 2
_FEW_TITLES = 3
"""Of more readings the others are counted."""


def remarks_at(here: Standpoint) -> Iterator[str]:
    """Why a verdict is what it is, and where other limits would decide otherwise."""
    if here.verdict is Verdict.NOT_ASKED:
        yield why_not_asked(here)
    if here.rule.rule.inspection.by_eye and math.isnan(here.at(here.judged.measures.value)):
        yield from filter(None, (*lapsed_at(here), what_was_seen(here), by_eye_hint(here)))
    if here.judged.either_way is not None and here.judged.either_way[here.station]:
        yield "outside both as measured and as computed, though the two disagree: the one that misses by less is shown"
    if here.verdict is Verdict.NOT_COVERED:
        yield _why_not_covered(here)
    if here.verdict is Verdict.NOT_APPLICABLE:
        yield here.rule.why_not(here.context.chain, here.truth, here.context.said)
    if here.verdict is Verdict.UNDECIDED:
        failed, against = here.context.stopped.get(here.rule.name, ""), contradicted(here)
        why = f"{against}, though it was measured" if against else _why_undecided(here)
        yield f"cannot be judged: {failed}" if failed else why
    if here.beside.sheet and not here.rule.is_demand and here.verdict in (*DECIDED, Verdict.UNDECIDED):
        yield from _beside_the_sheet(here)
    if here.rule.alternatives and not here.rule.is_demand and here.verdict in DECIDED:
        # Where several amendments left a limit as it was, the first who stated it is named.
        elsewhere = here.beside.elsewhere
        if not elsewhere:
            elsewhere.update(judged_by_others(here.rule, here.context))
        titles = {text: limits.title for limits in reversed(elsewhere) if (text := _compared(here, elsewhere[limits]))}
        yield from (f"{title} asks for {text}" for text, title in reversed(titles.items()))


def under_choices_at(here: Standpoint) -> Iterator[str]:
    """What comes out whatever a fact that nobody stated may be, or for which of its choices."""
    under = here.judged.choices
    if under is None or not under.bears[:, here.station].any():
        return
    codes = [Verdict(code) for code in under.codes[:, here.station]]
    if here.verdict not in (Verdict.NOT_MEASURED, codes[0]):
        return
    decisive = [number for number, bears in enumerate(under.bears[:, here.station]) if bears]
    titles = " and ".join(
        lowered(here.context.characteristics[under.facts[number]].characteristic.title) for number in decisive
    )
    if len(set(codes)) == 1 and here.verdict is not Verdict.NOT_MEASURED:
        yield f"{here.verdict} for every {titles}"
    sides = under.is_low[:, here.station]
    is_split = len({bool(side) for side, verdict in zip(sides, codes, strict=True) if verdict in MISSED}) > 1
    if (len(set(codes)) == 1 and not is_split) or _NOTHING_JUDGED.issuperset(codes):
        return
    outcomes: dict[tuple[str, str], dict[str, None]] = {}
    for row, verdict in enumerate(codes):
        chosen = " with ".join(under.combinations[row][number] for number in decisive)
        side = f", too {'small' if sides[row] else 'large'}," if is_split and verdict in MISSED else ""
        outcomes.setdefault((f"{verdict}{side}", _asked_under(here, under, row, verdict)), {})[chosen] = None
    parts = [_said_under(*said, list(choices)) for said, choices in outcomes.items()]
    if len({chosen for choices in outcomes.values() for chosen in choices}) > _MOST_CHOICES:
        few = [part for part, choices in zip(parts, outcomes.values(), strict=True) if len(choices) <= _FEW_CHOICES]
        many = ((said, len(choices)) for (said, _), choices in outcomes.items() if len(choices) > _FEW_CHOICES)
        other = "the other " if few else ""
        parts = [*few, *(f"{said.rstrip(',')} for {other}{count}" for said, count in many)]
    yield f"depends on {titles}: {'; '.join(parts)}"


def _asked_under(here: Standpoint, under: UnderChoices, row: int, verdict: Verdict) -> str:
    """The band that is missed under a choice."""
    if verdict not in MISSED or here.rule.is_demand:
        return ""
    return _band_words(here, [float(edge) for edge in under.limits[:, row, here.station]], verdict)


def _said_under(said: str, asked: str, names: Sequence[str]) -> str:
    if not asked:
        return f"{said} for {in_series(names)}"
    return f"{said} for {in_series(names)}, which {'asks' if len(names) == 1 else 'ask'} for {asked}"


def _why_not_covered(here: Standpoint) -> str:
    if here.judged.measures.has_ended[:, 0, here.station].any():
        return "beyond the end of the table"
    unknown = f"no limit is known for {here.context.application_title}"
    if not here.judged.measures.asks_must:
        return unknown
    return f"{unknown} with these facts; the part maker's own limits can be written into the record as part limits"


def suspect_sheet_at(here: Standpoint) -> str:
    """The part sheet that leaves a rule open here because it is suspect."""
    sheet, part = here.beside.sheet, here.beside.part
    if sheet is None or part is None or not sheet.suspicion:
        return ""
    return str(sheet) if part.speaks[0, here.station] else ""


def warmth_at(here: Standpoint) -> str:
    """What to find out of the readings behind a value that may be off for their warmth."""
    asked: dict[str, set[str]] = {}
    for title, reading in _behind(here):
        if reading.warmth and reading.warmth.counts:
            asked.setdefault(reading.warmth.asks, set()).add(title)
    # Places stand in no order, and a report is the same whenever it is made.
    return "; ".join(f"{asks.rstrip('?')} ({'; '.join(_some(titles))})?" for asks, titles in sorted(asked.items()))


def _why_undecided(here: Standpoint) -> str:
    if suspect := suspect_sheet_at(here):
        return f"{suspect} is suspect, and nothing is within by it"
    position, _ = here.nearest()
    doubt, needed = here.judged.doubt, needed_uncertainty(here)
    if doubt is None or not math.isfinite(now := COVERAGE * here.at(doubt.standard[position])):
        return f"its uncertainty is unknown{_of_which_instrument(here)}"
    likely = _likelihood(here, doubt) if here.context.decision.rule == "probability" else ""
    warmth = f": {asks}" if (asks := warmth_at(here)) else ""
    if bool(doubt.is_about_applying(here.context.decision)[0, here.station]):
        return f"within its uncertainty the rule may or may not apply{warmth}"
    if needed <= now * 1e-4:
        hard = here.at(doubt.below[position]) + here.at(doubt.above[position])
        if not doubt.shown[:, 0, here.station].all():
            failing = "somewhere within the uncertainty of its readings it fails or is unknown"
            return f"{failing}{warmth or ': measure more precisely'}"
        if hard > 0:
            return f"the reading may lie on either side of the limit{warmth or ': measure more precisely'}"
        return ON_ITS_LIMIT
    unit = difference(here.unit)
    enough = _two_figures(needed, unit, math.floor)
    shared = "" if warmth else _of_which_share(here)
    return f"{likely}uncertainty is {_two_figures(now, unit, math.ceil)}; {enough} or less would decide{warmth}{shared}"


def _of_which_instrument(here: Standpoint) -> str:
    """The readings behind a value that name no instrument, where the decision rule needs one."""
    if not here.context.decision.needs_instruments:
        return ""
    titles = {title for title, reading in _behind(here) if reading.uncertainty_is_unstated}
    return f": no instrument is named for {'; '.join(sorted(titles))}" if titles else ""


def _of_which_share(here: Standpoint) -> str:
    """The instruments of several readings behind a value whose uncertainty may fall out of their difference."""
    used = Counter(reading.instrument for _, readings in behind_value(here) for reading in readings)
    shared = sorted(name for name in here.context.undivided if used[name] > 1)
    return f"; what part of the uncertainty of {' and '.join(shared)} {SHARED_IS_UNSTATED}" if shared else ""


def _some(titles: Collection[str]) -> Sequence[str]:
    first, others = sorted(titles)[:_FEW_TITLES], len(titles) - _FEW_TITLES
    return [*first, f"{others} more"] if others > 0 else first


def _behind(here: Standpoint) -> Iterator[tuple[str, Reading]]:
    """The readings behind a value, each with its title."""
    for place in here.places:
        for reading in here.context.written.get(place, ()):
            yield lowered(here.context.characteristics[reading.characteristic].characteristic.title), reading


def _likelihood(here: Standpoint, doubt: Doubt) -> str:
    """With what probability the value is within the band that is undecided."""
    low, high = BANDS[0 if here.judged.must_open[0, here.station] else 1]
    return (
        f"conforms with a probability of {here.at(probability(low, high, here.judged.measures.counted, doubt)):.2f}; "
    )


def _two_figures(value: float, unit: Unit, rounded: Callable[[float], int]) -> str:
    """Two figures of a positive value: what is, never less, and what is needed, never more."""
    number = unit.from_si(value)
    digits = 1 - math.floor(math.log10(number))
    hair = -1e-9 if rounded is math.ceil else 1e-9
    figures = rounded(number * 10.0**digits * (1 + hair)) / 10.0**digits
    return write_quantity(unit.to_si(figures), unit, digits=max(digits, 0))


def _beside_the_sheet(here: Standpoint) -> Iterator[str]:
    """Where a part sheet and what the packs ask for differ: what the other of them asks for, and what it would say."""
    sheet, part = here.beside.sheet, here.beside.part
    if sheet is None or not sheet.limit.speaks[0, here.station]:
        return
    if part is None or part.is_beside:
        verdict, _ = _by_limits(here, sheet)
        if verdict is not here.verdict and verdict in DECIDED:
            asked = _ends(here, float(sheet.limit.low[0, here.station]), float(sheet.limit.high[0, here.station]))
            use = here.context.chain[0]
            printed = (
                f"was printed for {in_series(sheet.uses)}"
                if sheet.uses
                else f"does not say that it is for {use} (for: {use})"
            )
            yield f"{sheet} {printed}; it asks for {asked}: {verdict}, for your information"
        return
    verdict, limits = _by_limits(here, None)
    is_worth_saying = sheet.suspicion or verdict is not here.verdict or here.verdict in MISSED
    if is_worth_saying and verdict in DECIDED:
        yield f"general practice asks for {_band_words(here, limits, verdict)}: {verdict}, for your information"


def _said_here(here: Standpoint, judged: Judged) -> tuple[Verdict, list[float]]:
    """What other limits would say here, and these limits by position."""
    return Verdict(judged.codes[0, here.station]), [here.at(values) for values in judged.measures.limits]


def _by_limits(here: Standpoint, sheet: PartSheet | None) -> tuple[Verdict, list[float]]:
    """What comes out by the part sheet alone, or by what the packs ask for alone."""
    known, context = here.beside.alone, here.context
    by_sheet = sheet is not None
    if by_sheet not in known:
        measures = measure(here.rule, context.block, context.chain, None if sheet is None else sheet.limit)
        known[by_sheet] = judge(here.rule, measures, context.decision)
    return _said_here(here, known[by_sheet])


def judged_by_others(rule: CompiledRule, context: Context) -> Iterator[tuple[LimitSet, Judged]]:
    """What other sources' limits say, of those that say something of the application."""
    for other in rule.alternatives:
        if not other.applications.isdisjoint((*context.chain, ANY)):
            measures = measure(rule, context.block, context.chain, limits=other)
            yield other, judge(rule, measures, context.decision)


def _compared(here: Standpoint, other: Judged) -> str:
    """What other limits ask for, where they would give another verdict."""
    verdict, limits = _said_here(here, other)
    if verdict is here.verdict or verdict not in DECIDED:
        return ""
    return f"{_band_words(here, limits, verdict)}: {verdict}"


def _band_words(here: Standpoint, limits: list[float], verdict: Verdict) -> str:
    must, should = (limits[0], limits[3]), (limits[1], limits[2])
    return _ends(here, *(must if verdict is Verdict.OUTSIDE or not any(map(math.isfinite, should)) else should))


def _ends(here: Standpoint, low: float, high: float) -> str:
    ends = (write_quantity(end, here.unit) if math.isfinite(end) else "" for end in (low, high))
    return band_words(*ends) or "nothing"
