"""The report as one page that needs nothing else."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from checker.findings.finding import Finding
from checker.findings.permission import place_of
from checker.findings.text import number_of
from checker.html.judged_table import judged_tables
from checker.html.marks import MARKS, badge, css, label, shape, worst
from checker.html.markup import Content, Markup, element, page
from checker.html.sections import cautions, doubtful, left_out, not_asked, suspect_sheets
from checker.html.system_section import ATTENTION, system_section
from checker.html.words import (
    STATUS,
    anchor,
    bands,
    by_rule,
    folded,
    list_section,
    section,
    table,
    table_section,
)
from checker.reports.overview import Overview, overview
from checker.reports.report import Report
from checker.reports.work import Work, tasks

PRINT_ALL = "print-everything"
"""The box to tick where all of it is to be printed; the style sheet names it too."""
_BADGES = {"outside": "out of limits", "undecided": "too near to tell"}


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
            _headline(report, contents),
            suspect_sheets(report),
            _judged(contents),
            list_section("What would judge more", contents.unlocks.sentences),
            _milestones(report, contents.milestones),
            doubtful(contents.doubts),
            _concessions(report),
            list_section("Inspections by eye", contents.seen),
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


def _headline(report: Report, contents: Overview) -> Markup:
    """The answer, and everything that is out of limits, before anything else."""
    word = STATUS[report.status]
    first, _, rest = contents.answer.partition(", ")
    broken = [rule for _, findings in contents.broken for rule in by_rule(findings).values()]
    doubtful = number_of(len(report.flags), "reading") + " in doubt" if report.flags else None
    return element(
        "section",
        element("h2", shape(word), element("span", first), class_=f"answer {css(word)}"),
        element("p", rest) if rest else None,
        element("ul", [_broken_rule(findings) for findings in broken], class_="broken") if broken else None,
        element("p", element("a", doubtful, href="#readings-in-doubt")) if doubtful else None,
        class_="headline",
    )


def _broken_rule(findings: Sequence[Finding]) -> Markup:
    """One rule with every station that is out of limits, or too near to one."""
    first, word = findings[0], label(worst(findings))
    places = [
        element("li", element("b", finding.where or "assembly"), f" {_how_far(finding)}".rstrip())
        for finding in findings
        if finding.where or finding.shown_value
    ]
    remedies = dict.fromkeys(finding.remedy for finding in findings if finding.remedy)
    return element(
        "li",
        badge(word, _BADGES.get(word)),
        " ",
        element("a", first.title, href=f"#{anchor(first.name)}"),
        element("ul", places) if places else None,
        [element("p", element("b", "Do: "), remedy) for remedy in remedies] if len(remedies) == 1 else None,
    )


def _how_far(finding: Finding) -> str:
    if not finding.shown_value:
        return ""
    return "; ".join([finding.shown_value, *bands(finding)[:1], *filter(None, [finding.missed_by, finding.concession])])


def _judged(contents: Overview) -> Markup | None:
    """A line a rule, all systems; what is drawn beside it is explained once."""
    if not contents.judged:
        return None
    tables = judged_tables(contents.judged)
    return section("What was judged", _what_to_print(), _how_to_read(), tables, class_="everything")


def _what_to_print() -> Markup:
    """Paper has what needs attention; what holds only where it is asked for."""
    box = element("input", type="checkbox", id=PRINT_ALL)
    words = "Print every value; else paper has what needs attention, and what is opened below."
    return element("p", element("label", box, element("span", words)), class_="printing")


def _milestones(report: Report, works: Sequence[Work]) -> Markup:
    """What stands before each milestone that was judged; the later ones are named."""
    later = [report.context.milestones[name] for name in report.milestones[len(works) :]]
    note = element("p", f"Not judged yet: {', '.join(later)}.", class_="terms") if later else None
    return section("Before each milestone", list(_lines(works)), note, id="milestones")


def _lines(works: Sequence[Work]) -> Iterator[Markup]:
    is_blocked = False
    for work in works:
        line: list[Content] = [
            element("span", work.title[:1].upper() + work.title[1:], class_="name"),
            element("span", _state(work, is_blocked), class_="state"),
            element("small", work.amount or (f"{len(work.advice)} advised" if work.advice else "nothing open")),
        ]
        boxes = [
            (element("h3", title), element("ul", [element("li", box) for box in boxes], class_="tasks"))
            for title, boxes in _parts(work)
            if boxes
        ]
        yield folded(line, boxes, name="work") if boxes else element("div", line, class_="work")
        is_blocked = is_blocked or work.stands_in_the_way


def _state(work: Work, is_blocked: bool) -> Markup:
    """Whether the build may go on; never past a milestone that has to wait."""
    if work.fix:
        return badge("outside", "no: fix first")
    if work.stands_in_the_way:
        return badge("not measured", "not yet")
    return badge("not measured", "waits for those above") if is_blocked else badge("within", "clear to proceed")


def _parts(work: Work) -> Iterator[tuple[str, list[Markup]]]:
    yield "Fix", _tasks(work.fix)
    yield "Decide", _tasks(work.decide)
    yield "Find out", [_box(str(unknown)) for unknown in work.find_out]
    yield "Measure", [_box(name) for name in work.measure]
    yield "Advised", _tasks(work.advice)


def _tasks(findings: Iterable[Finding]) -> list[Markup]:
    return [_box(element("a", task.title, href=f"#{anchor(task.rule)}"), task.details) for task in tasks(findings)]


def _box(*content: Content) -> Markup:
    return element("label", element("input", type="checkbox"), element("span", content))


def _station_by_station(report: Report) -> Markup:
    """Each system with its drawings and every station, and what is open in it."""
    systems = sorted(report.by_system(), key=lambda pair: -_urgency(pair[1]))
    blocks = [system_section(*pair, report) for pair in systems]
    return section("Station by station", blocks, id="station-by-station")


def _urgency(findings: Sequence[Finding]) -> int:
    """How soon a system should come: the worst of what needs attention."""
    return max(finding.verdict if finding.verdict in ATTENTION else 0 for finding in findings)


def _how_to_read() -> Markup:
    words = (
        "The pale bar is what is required, the bar inside it what is recommended; heavy strokes are the required "
        "limits. The mark is the value, its arms the expanded uncertainty (k = 2), the thin strokes the other stations."
    )
    return folded("How to read the drawings", element("p", words), element("p", map(badge, MARKS)), name="key")


def _understood(report: Report) -> Markup | None:
    """How readings were read, where that is not plain from how they are written."""
    if not report.notes:
        return None
    rows = [(", ".join(filter(None, (note.title, note.where))), note.written, note.message) for note in report.notes]
    shown = table("plain", ("Reading", "Written", "Understood"), rows, "How readings were understood")
    return element("section", folded("How readings were understood", shown, name="notes"))


def _concessions(report: Report) -> Markup | None:
    """Every concession of the record, those too that no longer count."""
    rows = [
        (concession.rule.rule.title, place_of(concession, report.context), str(concession), standing)
        for concession, standing in report.concessions
    ]
    return table_section("Concessions", ("Rule", "Where", "By whom, and why", "Counts?"), rows)


def _dropped(report: Report) -> Markup | None:
    """The rules that a pack has dropped, and why."""
    rows = [
        (retired.rule.system, retired.rule.title, str(retired.retirement.origin), retired.retirement.because)
        for retired in report.retired
    ]
    return table_section("Not asked here, by policy", ("System", "Rule", "Dropped by", "Why"), rows)


def _evidence(report: Report) -> Markup:
    """What the verdicts rest on, for whoever doubts them."""
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
        facts.append(("Later", f"{number_of(len(report.later), 'rule')} for later milestones, not judged"))
    lines = [(element("dt", name), element("dd", value)) for name, value in facts]
    return element("footer", folded("What this report rests on", element("dl", lines), name="proof"))
