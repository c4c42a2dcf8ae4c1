"""The limits of several rules side by side, a line or two a rule, to fit on one screen."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import zip_longest
from typing import NamedTuple

from checker.findings.finding import BAND_WORDS
from checker.findings.text import Look
from checker.limits import LimitVariant, RuleLimit, RuleLimits
from checker.packs.limits import PHYSICS
from checker.packs.titles import Titles
from checker.reports.summary import joined

MOST_IN_DETAIL = 6
"""Of how many rules it is told when each applies and what it hangs on; more have a line each."""

IN_PLACE = "a maker's sheet in the packs counts in place of these limits where it is for the use"

_HEADINGS = ("", *BAND_WORDS.values(), "basis")
_WIDEST = {False: (20, 20, 15), True: (19, 19, 12)}
_GAP = "  "
_LEAST_TITLE = 20
_CONDITIONAL = " *"


class _Row(NamedTuple):
    """One line of the table: what it is about, what is required and recommended, and on what basis."""

    about: str
    required: str = ""
    recommended: str = ""
    basis: str = ""


def limits_table(limits_by_rule: Sequence[Sequence[RuleLimits]], look: Look, titles: Titles) -> str:
    """The limits of rules, each for one use or for several; what does not apply stands at the end."""
    shown = [uses for every in limits_by_rule if (uses := [limits for limits in every if not limits.not_applicable])]
    is_brief = len(shown) > MOST_IN_DETAIL
    groups = [list(_rows(uses, is_brief, titles)) for uses in shown]
    headings = _Row(*_HEADINGS)
    widths = _widths([headings, *(row for group in groups for row in group)], look.width, _WIDEST[is_brief])
    lines = list(_laid_out(headings, widths, is_brief)) if shown else []
    for uses, rows in zip(shown, groups, strict=True):
        lines += (line for row in rows for line in _laid_out(row, widths, is_brief))
        lines += () if is_brief else (line for note in _notes(uses, titles) for line in look.wrapped(note, "  "))
    last = (*(_summed_up(shown, titles) if is_brief else ()), *_not_applicable(limits_by_rule, is_brief))
    lines += (line for note in last for line in look.wrapped(note))
    return "\n".join(lines) + "\n"


def _summed_up(shown: Iterable[Sequence[RuleLimits]], titles: Titles) -> Iterator[str]:
    """For all rules together what is told of each where there are few."""
    every = [limits for uses in shown for limits in uses]
    if any(limits.applies_when for limits in every):
        yield f"{_CONDITIONAL.strip()} under a condition; checker limits with the whole title shows that rule in full."
    if sheets := dict.fromkeys(f"{limits.title}: {limits.part_sheet}" for limits in every if limits.part_sheet):
        yield f"{IN_PLACE}: {'; '.join(sheets)}."
    if needed := dict.fromkeys(name for limits in every for name in limits.needed):
        yield f"Still needed for numbers (--at): {', '.join(map(titles.of, needed))}."


def _not_applicable(limits_by_rule: Iterable[Sequence[RuleLimits]], is_brief: bool) -> Iterator[str]:
    """The rules that judge none of these uses, and why where there is room for it."""
    gone = [every[0] for every in limits_by_rule if every and all(limits.not_applicable for limits in every)]
    if is_brief and gone:
        yield f"Not for this: {'; '.join(limits.title for limits in gone)}."
    else:
        yield from (f"{limits.title}: not for this. {limits.not_applicable}" for limits in gone)


def by_limits(uses: Iterable[RuleLimits], titles: Titles) -> Mapping[str, RuleLimits]:
    """Uses with the same limits together: their names, and the limits."""
    groups: list[tuple[list[str], RuleLimits]] = []
    for limits in uses:
        of_any_use = limits._replace(application="")
        alike = next((names for names, other in groups if of_any_use == other._replace(application="")), None)
        if alike is None:
            groups.append((alike := [], limits))
        alike.append(titles.use(limits.application))
    alone = len(groups) == 1 and len(groups[0][0]) > 1
    return {"every use" if alone else "; ".join(names): limits for names, limits in groups}


def variant_words(variant: LimitVariant, titles: Titles, is_brief: bool = False) -> str:
    """For what the limits of a variant count: "grease mineral, synthetic"; empty for those that always do."""
    facts = "; ".join(
        ", ".join(choices) if is_brief else f"{titles.of(name)} {', '.join(choices)}"
        for name, choices in variant.facts.items()
    )
    return "; ".join(filter(None, (facts, titles.condition(variant.condition))))


def _rows(uses: Sequence[RuleLimits], is_brief: bool, titles: Titles) -> Iterator[_Row]:
    first = uses[0]
    title = f"{first.title}{_CONDITIONAL if is_brief and first.applies_when else ''}"
    groups = by_limits(uses, titles) if len(uses) > 1 else {"": first}
    labelled = [
        ("; ".join(filter(None, (names, variant_words(variant, titles, is_brief)))), variant)
        for names, limits in groups.items()
        for variant in limits.variants or (LimitVariant({}, "", ()),)
    ]
    if len(labelled) == 1 and not labelled[0][0]:
        yield _row(title, labelled[0][1], is_brief, titles)
        return
    yield _Row(title)
    for label, variant in labelled:
        yield _row(f"  {label or 'always'}", variant, is_brief, titles)


def _row(about: str, variant: LimitVariant, is_brief: bool, titles: Titles) -> _Row:
    must, should, physics = (
        [limit for limit in variant.limits if limit.band == band] for band in (*BAND_WORDS, PHYSICS)
    )
    stated = {limit.side for limit in must}
    # Physics stands in the table where nothing else is required on its side; the page of the rule has all of it.
    must += [limit for limit in physics if limit.side not in stated]
    required, recommended = _band(must, is_brief, titles), _band(should, is_brief, titles)
    kinds = dict.fromkeys(limit.basis_kind for limit in (*must, *should))
    return _Row(about, required or ("" if recommended else "none"), recommended, ", ".join(filter(None, kinds)))


def _band(limits: Sequence[RuleLimit], is_brief: bool, titles: Titles) -> str:
    """One band in few words, such as "0.0284 to 0.0334 in", "0.0244 in min", or what is needed to know it."""
    if needs := dict.fromkeys(name for limit in limits if limit.value is None for name in limit.needs):
        return "needs more" if is_brief else f"needs {', '.join(map(titles.of, needs))}"
    ends = {limit.side: limit.words for limit in limits}
    values = [limit.value for limit in limits if limit.value is not None]
    if len(values) == len(ends) == 2 and values[0] <= values[1]:
        return joined(ends["low"], ends["high"])
    return ", ".join(f"{words}{_END[side]}" for side, words in ends.items())


_END = {"low": " min", "high": " max", "broken": ""}


def _notes(uses: Sequence[RuleLimits], titles: Titles) -> Iterator[str]:
    """When the rule applies at all, and what to give so that numbers come out."""
    yield from dict.fromkeys(
        f"applies {', '.join(map(titles.condition, limits.applies_when))}" for limits in uses if limits.applies_when
    )
    yield from dict.fromkeys(f"{IN_PLACE}: {limits.part_sheet}" for limits in uses if limits.part_sheet)
    needed = dict.fromkeys(name for limits in uses for name in limits.needed)
    if needed:
        yield f"still needed: {', '.join(map(titles.of, needed))}"


def _widths(rows: Sequence[_Row], width: int, widest: Sequence[int]) -> tuple[int, ...]:
    """As wide as what stands in a column, within bounds; the first column has the rest."""
    needed = [max(map(len, column)) for column in zip(*rows, strict=True)]
    others = [min(own, most) for own, most in zip(needed[1:], widest, strict=True)]
    room = width - len(_GAP) * len(others) - _LEAST_TITLE
    if sum(others) > room:
        others = [own * room // sum(others) for own in others]
    rest = width - sum(others) - len(_GAP) * len(others)
    return (max(min(needed[0], rest), _LEAST_TITLE), *others)


def _laid_out(row: _Row, widths: Sequence[int], is_brief: bool) -> Iterator[str]:
    """A row of the table; what is too long for its column goes on below, or but for limits is cut to be brief."""
    indent = " " * (len(row.about) - len(row.about.lstrip()))
    may_be_cut = (is_brief, False, False, is_brief)
    cells = [
        [_cut(text, width)] if is_cut else textwrap.wrap(text, width, subsequent_indent=more)
        for text, width, more, is_cut in zip(row, widths, (f"{indent}  ", "", "", ""), may_be_cut, strict=True)
    ]
    for parts in zip_longest(*cells, fillvalue=""):
        yield _GAP.join(f"{part:{width}}" for part, width in zip(parts, widths, strict=True)).rstrip()


def _cut(text: str, width: int) -> str:
    """What fits; a mark at the end of a title stays."""
    mark = _CONDITIONAL if text.endswith(_CONDITIONAL) else ""
    return text if len(text) <= width else f"{text[: width - 1 - len(mark)]}…{mark}"
