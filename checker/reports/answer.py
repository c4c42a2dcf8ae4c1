"""The answer: may the build go on? In one line, with what was counted."""

from __future__ import annotations

from checker.judging.judge import Verdict
from checker.reports.report import BROKEN, NOT_JUDGED, Report


def answer(report: Report) -> str:
    """The headline: may the build go on?"""
    counts = report.counts
    broken = sum(finding.breaks_must for finding in report.outside)
    accepted = counts[Verdict.OUTSIDE] - broken
    open_musts = report.open_musts
    undecided, not_covered = (report.besides_musts(it) for it in (Verdict.UNDECIDED, Verdict.NOT_COVERED))
    uncounted = len(report.uncounted)
    parts = [
        f"{broken} out of limits" if broken else "",
        f"{open_musts} required check{'s' if open_musts > 1 else ''} still open" if open_musts else "",
        f"{uncounted} kind{'s' if uncounted > 1 else ''} of station not counted" if uncounted else "",
        f"{counts[Verdict.ADVISORY]} advisory" if counts[Verdict.ADVISORY] else "",
        f"{undecided} undecided advice" if undecided else "",
        f"{not_covered} not covered" if not_covered else "",
        f"{accepted} accepted by concession" if accepted else "",
        f"{counts[Verdict.SEEN]} seen clear" if counts[Verdict.SEEN] else "",
        f"{counts[Verdict.WITHIN]} within",
        f"{report.face_value_count} of them at face value" if report.face_value_count else "",
    ]
    sentence = "; ".join(filter(None, (", ".join(part for part in parts if part), report.extent)))
    aim = f" {report.context.milestones[report.before]}" if report.before else ""
    if report.status == BROKEN:
        return f"STOP{aim}: {sentence}."
    return (
        f"NOT YET{aim}: {sentence}." if report.status == NOT_JUDGED else f"ALL REQUIRED CHECKS HOLD{aim}: {sentence}."
    )
