"""The report as one page that needs nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from checker.findings.asking import seen_words
from checker.findings.finding import Finding
from checker.findings.permission import place_of
from checker.html.headline import headline
from checker.html.judged_table import judged_tables
from checker.html.marks import badge
from checker.html.markup import Content, Markup, element
from checker.html.milestones import milestones
from checker.html.page import page
from checker.html.sections import cautions, doubtful, left_out, not_asked, suspect_sheets, unlocked
from checker.html.system_section import ATTENTION, system_section
from checker.html.words import count, folded, table
from checker.records.flag import Flag
from checker.reports.overview import Overview, overview
from checker.reports.report import Report

PRINT_ALL = "print-everything"
"""The box to tick where all of it is to be printed; the style sheet names it too."""


def write_html(report: Report) -> str:
    """The whole report as an HTML document."""
    contents = overview(report, frozenset(report.systems))
    return page(
        f"{report.record.assembly}: {report.context.application_title}",
        element(
            "header",
            element("h1", report.record.assembly),
            element("p", f"Judged for {report.context.application_title}"),
        ),
        element(
            "main",
            headline(report, contents),
            suspect_sheets(report),
            _judged(contents),
            unlocked(contents.unlocks),
            milestones(report, contents.milestones),
            doubtful(contents.doubts),
            _concessions(report),
            _by_eye(report),
            left_out(report),
            _dropped(report),
            _station_by_station(report),
            not_asked(contents.not_asked),
            _understood(report),
            cautions(report.cautions),
            _evidence(report),
        ),
        sheets=("page", "pictures", "report"),
    )


def _judged(contents: Overview) -> Markup | None:
    """A line a rule, all systems; what is drawn beside it is explained once."""
    if not contents.judged:
        return None
    return element(
        "section",
        element("h2", "What was judged"),
        _what_to_print(),
        _how_to_read(),
        judged_tables(contents.judged),
        class_="everything",
    )


def _what_to_print() -> Markup:
    """Paper has what needs attention; what holds only where it is asked for."""
    box = element("input", type="checkbox", id=PRINT_ALL)
    words = "Print every value; else paper has what needs attention, and what is opened below."
    return element("p", element("label", box, element("span", words)), class_="printing")


def _station_by_station(report: Report) -> Markup:
    """Each system with its drawings and every station, and what is open in it."""
    systems = sorted(report.by_system(), key=lambda pair: -_urgency(pair[1]))
    return element(
        "section",
        element("h2", "Station by station"),
        [system_section(*pair, report) for pair in systems],
        id="station-by-station",
    )


def _urgency(findings: Sequence[Finding]) -> int:
    """How soon a system should come: the worst of what needs attention."""
    return max(finding.verdict if finding.verdict in ATTENTION else 0 for finding in findings)


def _how_to_read() -> Markup:
    words = (
        "The pale bar is what is required, the bar inside it what is recommended; heavy strokes are the required "
        "limits. The mark is the value, its arms the expanded uncertainty (k = 2), the thin strokes the other stations."
    )
    names = (
        "outside",
        "undecided",
        "advisory",
        "not covered",
        "not measured",
        "within",
        "seen",
        "accepted",
        "not asked",
        "not applicable",
    )
    return folded("How to read the drawings", element("p", words), element("p", map(badge, names)), name="key")


def _understood(report: Report) -> Markup | None:
    """How readings were read, where that is not plain from how they are written."""
    if not report.notes:
        return None
    rows = [(_reading(note), note.written, note.message) for note in report.notes]
    shown = table("plain", ("Reading", "Written", "Understood"), rows, "How readings were understood")
    return element("section", folded("How readings were understood", shown, name="notes"))


def _concessions(report: Report) -> Markup | None:
    """Every concession of the record, those too that no longer count."""
    if not report.concessions:
        return None
    rows = [
        (concession.rule.rule.title, place_of(concession, report.context), str(concession), standing)
        for concession, standing in report.concessions
    ]
    head = ("Rule", "Where", "By whom, and why", "Counts?")
    return element("section", element("h2", "Concessions"), table("plain", head, rows, "Concessions"))


def _dropped(report: Report) -> Markup | None:
    """The rules that a pack has dropped, and why."""
    if not report.retired:
        return None
    rows = [
        (retired.rule.system, retired.rule.title, str(retired.retirement.origin), retired.retirement.because)
        for retired in report.retired
    ]
    shown = table("plain", ("System", "Rule", "Dropped by", "Why"), rows, "Not asked here, by policy")
    return element("section", element("h2", "Not asked here, by policy"), shown)


def _by_eye(report: Report) -> Markup | None:
    """What was looked at instead of measured."""
    lines = [element("li", seen_words(inspection, report.context)) for inspection in report.context.seen]
    return element("section", element("h2", "Inspections by eye"), element("ul", lines)) if lines else None


def _reading(flag: Flag) -> str:
    return f"{flag.title}, {flag.where}" if flag.where else flag.title


def _evidence(report: Report) -> Markup:
    """What the verdicts rest on, for whoever doubts them."""
    return element("footer", folded("What this report rests on", element("dl", list(_facts(report))), name="proof"))


def _facts(report: Report) -> Iterator[Markup]:
    bare, readings = report.without_uncertainty
    facts: list[tuple[str, Content]] = [
        ("Record", f"{report.record.source}, SHA-256 {report.record.digest}"),
        *([("Choice of rule pack", report.pack_choice)] if report.pack_choice else []),
        *(("Rule pack", f"{pack}, SHA-256 {pack.digest}{pack.remark}") for pack in report.packs),
        *(("Plugin", f"{plugin} ({plugin.added})") for plugin in report.plugins),
        ("Decision", str(report.context.decision)),
        ("Uncertainty", f"{bare} of {readings} readings {report.what_is_unstated}"),
        ("Judged on", report.on.isoformat()),
    ]
    if report.extent:
        facts.append(("Asked", report.extent))
    if report.later:
        facts.append(("Later", f"{count(len(report.later), 'rule')} for later milestones, not judged"))
    for name, value in facts:
        yield element("dt", name)
        yield element("dd", value)
