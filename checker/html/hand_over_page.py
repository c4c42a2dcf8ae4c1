"""The hand-over: what the customer gets with the assembly, without the shop's internals."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from checker.findings.context import Context, place_name
from checker.findings.finding import Finding, numbered, places
from checker.findings.text import sentence
from checker.html.judged_table import judged_tables
from checker.html.marks import css
from checker.html.markup import Content, Markup, element
from checker.html.page import page
from checker.html.sections import doubtful, left_out, not_asked
from checker.html.words import STATUS, count, folded, table
from checker.judging.judge import Verdict
from checker.notation.write import write_interval
from checker.records.entry import Reading
from checker.reports.overview import Overview, overview
from checker.reports.report import BROKEN, HELD, NOT_JUDGED, Report

_TOLD = {
    "outside": "outside its limits",
    "advisory": "off the usual target",
    "undecided": "could not be decided",
}
"""What a customer is told where the word of the shop would say too little."""
_UNJUDGED = {
    Verdict.SEEN: "looked at and clear, not measured",
    Verdict.NOT_MEASURED: "not measured",
    Verdict.NOT_COVERED: "no limit is known",
}
_SIGNATURES = ("Built by", "Checked by", "Received by")


def write_hand_over(report: Report) -> str:
    """The hand-over as an HTML document; where a must does not hold, it has nothing to sign."""
    told = overview(report, frozenset(report.systems))
    return page(
        f"{report.record.assembly}: hand-over",
        element(
            "header",
            element("h1", report.record.assembly),
            element("p", f"Record of measurements, for {report.context.application_title}; judged on {report.on}"),
        ),
        element(
            "main",
            _answer(report, told),
            _signatures() if report.status == HELD else None,
            _accepted(report),
            _judged(told),
            _open(report, told),
            left_out(report),
            _unjudged(report),
            _dropped(report),
            doubtful(told.doubts),
            not_asked(told.not_asked),
            _cautions(report),
            _readings(report),
        ),
        element(
            "footer",
            element("p", f"Record SHA-256 {report.record.digest}"),
            [element("p", f"With plugin {plugin} ({plugin.added})") for plugin in report.plugins],
        ),
        sheets=("page", "hand_over"),
    )


def _answer(report: Report, told: Overview) -> Markup:
    """May it be handed over, how much was asked, and what is out of limits."""
    before = report.context.milestones[report.before] if report.before else ""
    asked = " and was asked for" if report.counts[Verdict.NOT_ASKED] else ""
    how = "measured or looked at" if report.counts[Verdict.SEEN] else "measured"
    what = f"Everything that must hold{f' {before}' if before else ''}{asked} was {how} and holds"
    words = {
        HELD: f"{what}{_but_for(report)}.",
        BROKEN: "Not ready to hand over: something that must hold does not.",
        NOT_JUDGED: "Not ready to hand over: not everything that must hold has been measured.",
    }
    later = f"{len(report.later)} rules for later milestones were not looked at." if report.later else ""
    answer = element("p", words[report.status], class_=f"answer {css(STATUS[report.status])}")
    broken = [
        element(
            "li",
            element("b", f"{finding.title}{f', {finding.where}' if finding.where else ''}"),
            f": {_missed(finding)}",
        )
        for _, findings in told.broken
        for finding in findings
        if not finding.concession
    ]
    return element(
        "section",
        answer,
        element("ul", broken, class_="broken") if broken else None,
        [element("p", text) for text in (sentence(report.extent), later, _at_face_value(report)) if text],
        class_="first",
    )


def _at_face_value(report: Report) -> str:
    """How much of what is within stands on readings believed to their last digit."""
    if not (number := len(report.at_face_value)):
        return ""
    near = "nearer to a limit than the usual uncertainty of such readings, and no instrument is named"
    return f"{count(number, 'value')} within {'is' if number == 1 else 'are'} so at face value: {near}."


def _missed(finding: Finding) -> str:
    if not finding.shown_value:
        return _TOLD[str(finding.verdict)]
    limits = finding.band("must")
    return "; ".join(filter(None, (finding.shown_value, f"required {limits}" if limits else "", finding.missed_by)))


def _but_for(report: Report) -> str:
    """What a customer must know who reads that all of it holds."""
    accepted = any(finding.concession for finding in report.outside)
    told = ("what was accepted as it is" if accepted else "", "what is not asked here" if report.retired else "")
    return f", but for {' and '.join(filter(None, told))}" if any(told) else ""


def _accepted(report: Report) -> Markup | None:
    """What was used although it is outside its limits, and who said so."""
    rows = [
        (finding.title, finding.where, finding.shown_value, finding.concession)
        for finding in report.findings
        if finding.concession
    ]
    if not rows:
        return None
    shown = table("plain", ("What", "Where", "Value", "By whom, and why"), rows, "Accepted outside the limits")
    return element("section", element("h2", "Accepted outside the limits"), shown)


def _judged(told: Overview) -> Markup | None:
    """Every value that was judged, with its limits."""
    if not told.judged:
        return None
    return element("section", element("h2", "Values and limits"), judged_tables(told.judged, _TOLD))


def _open(report: Report, told: Overview) -> Markup | None:
    """What each milestone waits for, where it is not ready."""
    busy = [
        element("li", f"{work.title[:1].upper()}{work.title[1:]}: {work.told}") for work in told.milestones if work.told
    ]
    if report.status == HELD or not busy:
        return None
    return element("section", element("h2", "Still open"), element("ul", busy))


def _unjudged(report: Report) -> Markup | None:
    """What was not measured is said as plainly as the rest."""
    rows = [
        (system, element("span", words, class_=f"badge {css(str(verdict))}"), "; ".join(_titled(found)))
        for system, findings in report.by_system(*_UNJUDGED)
        for verdict, words in _UNJUDGED.items()
        if (found := [finding for finding in findings if finding.verdict is verdict])
    ]
    if not rows:
        return None
    title = "Not judged by a value"
    return element("section", element("h2", title), table("plain", ("System", "Result", "What"), rows, title))


def _titled(findings: Iterable[Finding]) -> Iterator[str]:
    """The titles of rules, with the places where not all stations came out so."""
    by_title: dict[str, list[Finding]] = {}
    for finding in findings:
        by_title.setdefault(finding.title, []).append(finding)
    for title, found in by_title.items():
        yield f"{title}{f' ({where})' if (where := places(found)) else ''}"


def _dropped(report: Report) -> Markup | None:
    """The rules that a shop has dropped, and why."""
    if not report.retired:
        return None
    title = "Not asked here, by policy"
    rows = [(found.rule.system, str(found)) for found in report.retired]
    return element("section", element("h2", title), table("plain", ("System", "What, and why"), rows, title))


def _readings(report: Report) -> Markup:
    """What was measured, as it was written down; what could not be is named as such."""
    by_characteristic: dict[str, list[Reading]] = {}
    for reading in report.readings:
        by_characteristic.setdefault(reading.characteristic, []).append(reading)
    titles = {instrument.name: instrument.title or instrument.name for instrument in report.record.instruments}
    rows = [_measured(found, report.context, titles) for found in by_characteristic.values()]
    title = f"Every reading as it was measured: {count(len(rows), 'kind')}"
    shown = table("plain", ("What was measured", "Values", "With", "On"), rows, "What was measured")
    return element("section", folded(title, shown, name="readings"))


def _measured(readings: Sequence[Reading], context: Context, titles: Mapping[str, str]) -> tuple[Content, ...]:
    """One characteristic: its values, which instruments read them (by their titles), and when."""
    item = context.characteristics[readings[0].characteristic].characteristic
    by_station: dict[int, list[str]] = {}
    for reading in readings:
        by_station.setdefault(reading.station, []).append(_value(reading))
    alike: dict[str, list[tuple[str, int]]] = {}
    for station, texts in by_station.items():
        alike.setdefault(", ".join(texts), []).append((place_name(item.per, station, context), station + 1))
    values: list[Content] = []
    for words, stations in alike.items():
        where = numbered(stations)
        values.append(["; " if values else None, element("b", f"{where}: ") if where else None, words])
    days = sorted({reading.taken.isoformat() for reading in readings if reading.taken})
    instruments = dict.fromkeys(titles[reading.instrument] for reading in readings if reading.instrument)
    return item.title, values, ", ".join(instruments), ", ".join(days)


def _value(reading: Reading) -> str:
    if reading.set_aside:
        return f"{reading.written} (left out: {reading.set_aside})"
    return reading.written if reading.unit is None else write_interval(reading.low, reading.high, reading.unit)


def _cautions(report: Report) -> Markup:
    """What can hurt: what the packs say of everything, and what rules say that did not hold."""
    own = (f.rule.rule.caution for f in report.findings if f.verdict is Verdict.OUTSIDE and f.rule.rule.caution)
    told = dict.fromkeys((*report.cautions, *own))
    return element("section", element("h2", "Cautions"), element("ul", [element("li", text) for text in told]))


def _signatures() -> Markup:
    lines = [element("div", element("span", name), element("span", "Date")) for name in _SIGNATURES]
    return element("section", element("h2", "Signatures"), lines, class_="signatures")
