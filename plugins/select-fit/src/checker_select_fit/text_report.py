"""The proposal as plain text: what to fit first, then before and after, then what to measure and to mind."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from checker import Finding, Verdict

from checker_select_fit.fit import Move, Proposal
from checker_select_fit.rows import Row, cautions, not_mended, rows, to_measure, unmeasured
from checker_select_fit.seats import station_in_words


def write_text(proposal: Proposal) -> str:
    """The proposal, or why there is none, in lines."""
    return "\n".join([*_head(proposal), *_what_to_fit(proposal), *_table(proposal), *_lists(proposal)]) + "\n"


def _head(proposal: Proposal) -> Iterator[str]:
    report = proposal.before
    packs = ", ".join(f"{pack.name} {pack.version}" for pack in report.packs)
    yield f"{report.record.assembly}: parts to fit, for {report.context.application_title}, by {packs}"
    yield ""


def _what_to_fit(proposal: Proposal) -> Iterator[str]:
    names = " and ".join(kind.name for kind in proposal.kinds)
    if proposal.expected is None:
        yield "No choice of these parts would read within everything that counts. Nothing is proposed."
        yield from (f"  {reason}" for reason in proposal.reasons)
    elif not proposal.moves:
        rest = ", as far as it can be judged" if unmeasured(proposal) else ""
        what = "The fit of every" if not_mended(proposal) else "All that the choice of"
        bears = "" if not_mended(proposal) else " bears on"
        yield f"{what} {names}{bears} reads within as it is{rest}. Nothing is to be changed."
    else:
        number = len(proposal.moves)
        parts, they = ("1 part", "it bears") if number == 1 else (f"{number} parts", "they bear")
        what = "every fit of these kinds" if not_mended(proposal) else f"what {they} on"
        rest = ", as far as it could judge" if unmeasured(proposal) else ""
        yield f"Fit {parts}; the checker would then read {what} within{rest}."
        yield from (f"  {place_of(move, proposal)}: {move.new}" + _instead(move) for move in proposal.moves)
    yield ""


def _instead(move: Move) -> str:
    doubt = f" (in doubt: {move.doubtful})" if move.doubtful else ""
    return (f" in place of {move.old}" if move.old else "") + doubt


def place_of(move: Move, proposal: Proposal) -> str:
    """Where a part goes, such as "main bearing 3, lower shell"."""
    if move.kind.per is None:
        return move.slot
    title = proposal.before.context.stations[move.kind.per].title
    return f"{station_in_words(title, move.station)}, {move.slot}"


def _table(proposal: Proposal) -> Iterator[str]:
    every = [row for row in rows(proposal) if not _is_open_throughout(row)]
    width = max((len(row.where) for row in every), default=0) + 2
    first = max((len(_said(row.before)) for row in every), default=0) + 2
    if every and proposal.moves:
        yield "Before, and as it would read"
    elif every:
        yield "As it reads now"
    for title, of_rule in groupby(every, key=lambda row: row.title):
        together = list(of_rule)
        yield f"  {title}" + (f" ({together[0].limits})" if together[0].limits else "")
        for row in together:
            after = _after(row) if proposal.moves else ""
            yield f"    {row.where:<{width}}{_said(row.before):<{first}}{after}".rstrip()
    if every:
        yield ""


def _is_open_throughout(row: Row) -> bool:
    return row.is_open and (row.before is None or row.before.verdict is Verdict.NOT_MEASURED)


def _after(row: Row) -> str:
    return "" if row.after is None else f"-> {_said(row.after)}"


def _said(finding: Finding | None) -> str:
    if finding is None:
        return "-"
    return f"{finding.shown_value} {finding.verdict}".strip()


def _lists(proposal: Proposal) -> Iterator[str]:
    for title, lines in (
        ("Not put right by any of these parts, and no worse than it was", not_mended(proposal)),
        ("Measure again with the parts in", to_measure(proposal)),
        ("Not judged, for want of readings", unmeasured(proposal)),
        ("Left on the shelf, in doubt; name one with --use to have it chosen", proposal.passed_over),
        ("Mind", cautions(proposal)),
    ):
        if lines:
            yield title
            yield from (f"  {line}" for line in lines)
            yield ""
