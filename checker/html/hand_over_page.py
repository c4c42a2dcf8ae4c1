"""The hand-over: what the customer gets with the assembly, without the shop's internals."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from checker.findings.context import Context, place_name
from checker.findings.finding import Finding, numbered, places
from checker.findings.text import sentence
from checker.html.marks import css, label
from checker.html.markup import Content, Markup, element
from checker.html.page import page
from checker.html.words import STATUS, left_out, table
from checker.judging.judge import Verdict
from checker.notation.write import write_interval
from checker.records.entry import Reading
from checker.reports.report import BROKEN, HELD, NOT_JUDGED, Report

_CHECKED = (
    Verdict.OUTSIDE,
    Verdict.UNDECIDED,
    Verdict.ADVISORY,
    Verdict.WITHIN,
    Verdict.SEEN,
    Verdict.NOT_MEASURED,
    Verdict.NOT_ASKED,
    Verdict.NOT_COVERED,
)
_WORDS = {
    "outside": "outside its limits",
    "undecided": "could not be decided",
    "advisory": "within the limits, off the usual target",
    "within": "within its limits",
    "seen": "looked at and clear, not measured",
    "not asked": "not part of this inspection, and not measured",
    "not measured": "not measured",
    "not covered": "no limit is known",
}
_SIGNATURES = ("Built by", "Checked by", "Received by")


def write_hand_over(report: Report) -> str:
    """The hand-over as an HTML document; where a must does not hold, it has nothing to sign."""
    return page(
        f"{report.record.assembly}: hand-over",
        element(
            "header",
            element("h1", report.record.assembly),
            element("p", f"Record of measurements, for {report.context.application_title}"),
        ),
        element(
            "main",
            _answer(report),
            _accepted(report),
            left_out(report),
            _doubtful(report),
            _checks(report),
            _readings(report),
            _cautions(report),
            _signatures() if report.status == HELD else None,
        ),
        element(
            "footer",
            element("p", f"Record SHA-256 {report.record.digest}"),
            [element("p", f"With plugin {plugin} ({plugin.added})") for plugin in report.plugins],
        ),
        sheets=("page", "hand_over"),
    )


def _answer(report: Report) -> Markup:
    asked = " and was asked for" if report.counts[Verdict.NOT_ASKED] else ""
    how = "measured or looked at" if report.counts[Verdict.SEEN] else "measured"
    what = f"Everything that must hold{f' before {report.before}' if report.before else ''}{asked} was {how} and holds"
    words = {
        HELD: f"{what}{_but_for(report)}.",
        BROKEN: "Not ready to hand over: something that must hold does not.",
        NOT_JUDGED: "Not ready to hand over: not everything that must hold has been measured.",
    }
    later = f"{len(report.later)} rules for later milestones were not looked at." if report.later else ""
    answer = element("p", words[report.status], class_=f"answer {css(STATUS[report.status])}")
    told = [element("p", text) for text in (sentence(report.extent), later) if text]
    return element("div", answer, told)


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


def _doubtful(report: Report) -> Markup | None:
    """Readings that were left out, or judged though they look like slips."""
    if not report.flags:
        return None
    rows = [(flag.title, flag.where, flag.written, flag.message) for flag in report.flags]
    shown = table("plain", ("What", "Where", "Written", "Why"), rows, "Readings in doubt")
    return element("section", element("h2", "Readings in doubt"), shown)


def _checks(report: Report) -> Markup:
    """What was checked, and how it came out; what was not measured is said as plainly as the rest."""
    rows = [
        (system, element("span", _WORDS.get(word, word), class_=f"badge {css(word)}"), "; ".join(titles))
        for system, findings in report.by_system()
        for word, titles in _results(findings).items()
    ]
    dropped = element("span", "not asked here, by policy", class_=f"badge {css('not covered')}")
    for system in dict.fromkeys(found.rule.system for found in report.retired):
        told = "; ".join(str(found) for found in report.retired if found.rule.system == system)
        rows.append((system, dropped, told))
    rows.sort(key=lambda row: report.systems.index(row[0]) if row[0] in report.systems else len(report.systems))
    shown = table("plain", ("System", "Result", "What was checked"), rows, "What was checked")
    return element("section", element("h2", "What was checked"), shown)


def _results(findings: Iterable[Finding]) -> Mapping[str, Sequence[str]]:
    """The titles of the rules that came out in each way, with the places where not all stations did."""
    found: dict[str, dict[str, list[Finding]]] = {}
    for finding in findings:
        if finding.verdict in _CHECKED:
            found.setdefault(label(finding), {}).setdefault(finding.title, []).append(finding)
    return {
        word: [f"{title}{f' ({where})' if (where := places(group)) else ''}" for title, group in rules.items()]
        for word, rules in found.items()
    }


def _readings(report: Report) -> Markup:
    """What was measured, as it was written down; what could not be is named as such."""
    by_characteristic: dict[str, list[Reading]] = {}
    for reading in report.readings:
        by_characteristic.setdefault(reading.characteristic, []).append(reading)
    titles = {instrument.name: instrument.title or instrument.name for instrument in report.record.instruments}
    rows = [_measured(found, report.context, titles) for found in by_characteristic.values()]
    shown = table("plain", ("What was measured", "Values", "With", "On"), rows, "What was measured")
    return element("section", element("h2", "What was measured"), shown)


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
