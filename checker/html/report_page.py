"""The report as one page that needs nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from checker.findings.asking import seen_words
from checker.findings.finding import Finding
from checker.findings.permission import place_of
from checker.html.headline import headline, milestones
from checker.html.marks import badge
from checker.html.markup import Content, Markup, element
from checker.html.page import page
from checker.html.system_section import ATTENTION, system_section
from checker.html.words import count, folded, left_out, system_anchor, table
from checker.html.work_list import work_list
from checker.records.flag import Flag
from checker.reports.report import Report
from checker.reports.work import work_of


def write_html(report: Report) -> str:
    """The whole report as an HTML document."""
    works = work_of(report)
    systems = sorted(report.by_system(), key=lambda pair: -_urgency(pair[1]))
    return page(
        f"{report.record.assembly}: {report.context.application_title}",
        _title(report),
        element(
            "main",
            headline(report, works),
            milestones(report, works),
            work_list(works),
            _directory([system for system, _ in systems]),
            [system_section(number, *pair, report) for number, pair in enumerate(systems, 1)],
            _doubtful(report),
            _understood(report),
            _concessions(report),
            _not_asked(report),
            left_out(report),
            _by_eye(report),
            _cautions(report),
            _evidence(report),
        ),
        sheets=("page", "report"),
    )


def _title(report: Report) -> Markup:
    return element(
        "header",
        element("h1", report.record.assembly),
        element("p", f"Judged for {report.context.application_title} ({report.application})"),
    )


def _urgency(findings: Sequence[Finding]) -> int:
    """How soon a system should come: the worst of what needs attention."""
    return max(finding.verdict if finding.verdict in ATTENTION else 0 for finding in findings)


def _directory(systems: Sequence[str]) -> Markup:
    links = [
        element("li", element("a", system, href=f"#{system_anchor(number)}"))
        for number, system in enumerate(systems, 1)
    ]
    return element("nav", element("h2", "By system"), element("ul", links), _how_to_read(), aria_label="Systems")


def _how_to_read() -> Markup:
    words = (
        "The pale bar is what a must allows, the bar inside it what a should asks for; heavy strokes are the limits "
        "of a must. The mark is the value, its arms the expanded uncertainty (k = 2), the thin strokes the other "
        "stations."
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


def _doubtful(report: Report) -> Markup | None:
    if not report.flags:
        return None
    rows = [(_reading(flag), flag.written, _weight(flag), flag.message, _line(flag)) for flag in report.flags]
    head = ("Reading", "Written", "Counts?", "Why it is in doubt", "Where it stands")
    return element(
        "section",
        element("h2", "Readings in doubt"),
        table("plain", head, rows, "Readings that look wrong"),
        id="readings-in-doubt",
    )


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


def _not_asked(report: Report) -> Markup | None:
    """The rules that a pack has dropped, and why."""
    if not report.retired:
        return None
    rows = [
        (found.rule.system, found.rule.title, str(found.retirement.origin), found.retirement.because)
        for found in report.retired
    ]
    shown = table("plain", ("System", "Rule", "Dropped by", "Why"), rows, "Not asked here, by policy")
    return element("section", element("h2", "Not asked here, by policy"), shown)


def _by_eye(report: Report) -> Markup | None:
    """What was looked at instead of measured."""
    told = [element("li", seen_words(found, report.context)) for found in report.context.seen]
    return element("section", element("h2", "Inspections by eye"), element("ul", told)) if told else None


def _reading(flag: Flag) -> str:
    return f"{flag.title}, {flag.where}" if flag.where else flag.title


def _weight(flag: Flag) -> Markup:
    return badge("outside", "refused") if flag.is_refused else badge("advisory", "judged, look again")


def _line(flag: Flag) -> str:
    name = flag.place.file.replace("\\", "/").rsplit("/", 1)[-1]
    return f"{name}, line {flag.place.line}" if flag.place.line else name


def _cautions(report: Report) -> Markup:
    return element(
        "section", element("h2", "Cautions"), element("ul", [element("li", text) for text in report.cautions])
    )


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
    for name, told in facts:
        yield element("dt", name)
        yield element("dd", told)
