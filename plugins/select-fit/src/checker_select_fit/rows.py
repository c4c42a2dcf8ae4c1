"""Before and after, row by row: what the checker says of every fit that the chosen parts bear on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from checker import Finding, Note, Report, Verdict

from checker_select_fit.fit import Proposal
from checker_select_fit.fitted import Key

_SILENT = (Verdict.NOT_APPLICABLE, Verdict.NOT_ASKED)

_MISSED = (Verdict.ADVISORY, Verdict.UNDECIDED, Verdict.OUTSIDE)

MAKERS = (
    "What the parts' makers state goes before all of this: their sheets, their series, their way of measuring.",
    "Nothing is fitted by this list alone: measure every clearance with the parts in, then judge the record again.",
)
"""Said with every proposal."""


class Row(NamedTuple):
    """What one rule says of one station before and after; either may be missing."""

    rule: str
    title: str
    where: str
    station: int
    before: Finding | None
    after: Finding | None

    @property
    def is_open(self) -> bool:
        """Whether it would not be judged, for want of readings."""
        last = self.after or self.before
        return last is not None and last.verdict is Verdict.NOT_MEASURED

    @property
    def limits(self) -> str:
        """What is required and recommended, in words."""
        found = self.after or self.before
        if found is None or not found.edges:
            return ""
        must, should = found.band("must"), found.band("should")
        return "; ".join(filter(None, (must and f"must {must}", should and f"should {should}")))


def rows(proposal: Proposal) -> Iterator[Row]:
    """The rules that apply anywhere, in the order of the packs, each station after the other."""
    before, after = _by_place(proposal.before), _by_place(proposal.expected)
    order = {judged.rule.name: number for number, judged in enumerate(proposal.before.judged)}
    for key in sorted({*before, *after}, key=lambda key: (order[key[0]], key[1])):
        pair = before.get(key), after.get(key)
        shown = [found for found in pair if found is not None]
        if key[0] in proposal.rules and any(found.verdict not in _SILENT for found in shown):
            yield Row(key[0], shown[0].title, shown[0].where, key[1], *pair)


def unmeasured(proposal: Proposal) -> tuple[str, ...]:
    """The titles of the rules that the parts bear on and that nobody can judge, as it is or as it would be."""
    found = (row.title for row in rows(proposal) if row.is_open)
    return tuple(dict.fromkeys(found))


def not_mended(proposal: Proposal) -> tuple[str, ...]:
    """What the parts bear on and do not put right: no worse than it was, but not within."""
    found = (row for row in rows(proposal) if row.after is not None and row.after.verdict in _MISSED)
    return tuple(dict.fromkeys(f"{row.title} ({row.after.verdict})" for row in found if row.after is not None))


def _by_place(report: Report | None) -> Mapping[tuple[str, int], Finding]:
    found = report.findings if report is not None else ()
    return {(finding.name, finding.station): finding for finding in found}


def to_measure(proposal: Proposal) -> tuple[str, ...]:
    """What must be measured again, or for the first time, with the parts in, by characteristic and its stations."""
    stations: dict[str, list[int]] = {}
    for (name, station), notes in proposal.changed.items():
        if not notes and (name, station) in _read(proposal):
            stations.setdefault(name, []).append(station + 1)
    characteristics = proposal.before.context.characteristics
    found = []
    for name, numbers in stations.items():
        item = characteristics[name].characteristic
        found.append(item.title + (f", {item.per} {', '.join(map(str, sorted(numbers)))}" if item.per else ""))
    return tuple(found)


def _read(proposal: Proposal) -> set[Key]:
    return {(reading.characteristic, reading.station) for reading in proposal.before.readings}


def cautions(proposal: Proposal) -> tuple[str, ...]:
    """Those of the kinds of parts, of the rules they bear on and of the packs, and what is always said."""
    kinds = [kind.caution for kind in proposal.kinds if kind.caution]
    return tuple(dict.fromkeys((*MAKERS, *kinds, *proposal.before.cautions)))


def as_text(notes: tuple[Note, ...]) -> tuple[str, ...]:
    """What is written in the notes of one place."""
    return tuple(text for note in notes for text in note.written)
