"""The hand-over: what the customer gets with the assembly, without the shop's internals."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from checker.findings.context import Context, place_name
from checker.findings.finding import Finding, numbered, places
from checker.findings.text import number_of, sentence
from checker.grouping import grouped
from checker.html.figures import first_directions
from checker.html.judged_table import judged_tables, key_table
from checker.html.marks import css, shape
from checker.html.markup import Content, Markup, element, page
from checker.html.sections import cautions, doubtful, left_out, not_asked, suspect_sheets
from checker.html.words import STATUS, folded, list_section, section, table, table_section
from checker.judging.judge import Verdict
from checker.notation.write import write_interval
from checker.packs.compiled import CompiledCharacteristic
from checker.records.entry import Reading
from checker.reports.overview import Overview, overview
from checker.reports.report import BROKEN, HELD, NOT_JUDGED, Report
from checker.reports.summary import key_figures

_SIGNATURES = ("Built by", "Checked by", "Received by")
_WORDS = {
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


def write_hand_over(report: Report) -> str:
    """The hand-over as an HTML document: a page to look at and to sign, then every value with its limits."""
    contents = overview(report, frozenset(report.systems))
    return page(
        f"{report.record.assembly}: hand-over",
        element("header", element("h1", report.record.assembly), element("p", "Record of measurements")),
        element(
            "main",
            _front(report, contents),
            _accepted(report),
            section("Values and limits", judged_tables(contents.judged, _WORDS)) if contents.judged else None,
            _open(report, contents),
            left_out(report),
            _unjudged(report),
            _dropped(report),
            suspect_sheets(report),
            doubtful(contents.doubts),
            _cautions(report),
            not_asked(contents.not_asked),
            _readings(report),
        ),
        element(
            "footer",
            element("p", f"Record SHA-256 {report.record.digest}"),
            [element("p", f"With plugin {plugin} ({plugin.added})") for plugin in report.plugins],
        ),
        sheets=("page", "pictures", "hand_over"),
    )


def _front(report: Report, contents: Overview) -> Markup:
    """Everything that a customer looks for first; where a must does not hold there is nothing to sign."""
    figures = key_figures(contents.judged)
    return element(
        "section",
        _identity(report),
        _answer(report, contents),
        [element("h2", "Key figures"), key_table(figures, _WORDS)] if figures else None,
        element(
            "div",
            first_directions(report),
            _signatures() if report.status == HELD else None,
            class_="below",
        ),
        class_="front",
    )


def _identity(report: Report) -> Markup:
    record = report.record
    rows = [
        ("Shop", record.shop),
        ("Serial number", record.serial_number),
        ("Built for", report.context.application_title),
        ("Judged on", report.on.isoformat()),
        ("Inspection", report.context.plan.title),
        *([("Job", "; ".join(report.context.plan.scope))] if report.context.plan.scope else []),
    ]
    return element(
        "dl",
        [element("div", element("dt", name), element("dd", value)) for name, value in rows],
        class_="identity",
    )


def _answer(report: Report, contents: Overview) -> Markup:
    """May it be handed over, how much was asked, and what is out of limits."""
    word = STATUS[report.status]
    broken = [
        element(
            "li",
            element("b", f"{finding.title}{f', {finding.where}' if finding.where else ''}"),
            f": {_missed(finding)}",
        )
        for _, findings in contents.broken
        for finding in findings
        if not finding.concession
    ]
    return element(
        "div",
        element("p", shape(word), element("span", _verdict(report)), class_=f"answer {css(word)}"),
        element("ul", broken, class_="broken") if broken else None,
        element("p", " ".join(_extent(report)), class_="terms"),
    )


def _verdict(report: Report) -> str:
    before = f" {report.context.milestones[report.before]}" if report.before else ""
    scope = report.context.plan.scope_words
    of_job = f" of {scope}" if scope else " by these rules" if report.only else ""
    asked = " and was asked for" if report.counts[Verdict.NOT_ASKED] and not scope else ""
    how = "measured or looked at" if report.counts[Verdict.SEEN] else "measured"
    return {
        HELD: f"Everything that must hold{of_job}{before}{asked} was {how} and holds{_but_for(report)}.",
        BROKEN: "Not ready to hand over: something that must hold does not.",
        NOT_JUDGED: "Not ready to hand over: not everything that must hold has been measured.",
    }[report.status]


def _extent(report: Report) -> Iterator[str]:
    """How much was asked, what is not due yet, and what stands on readings believed to their last digit."""
    if report.extent:
        yield sentence(report.extent)
    if report.later:
        yield f"{number_of(len(report.later), 'check')} for later milestones not due yet."
    if number := len(report.at_face_value):
        near = "nearer to a limit than the usual uncertainty of such readings, and no instrument is named"
        yield f"{number_of(number, 'value')} within {'is' if number == 1 else 'are'} so at face value: {near}."


def _missed(finding: Finding) -> str:
    if not finding.shown_value:
        return _WORDS[str(finding.verdict)]
    limits = finding.asked("must")
    return "; ".join(filter(None, (finding.shown_value, f"required {limits}" if limits else "", finding.missed_by)))


def _but_for(report: Report) -> str:
    """What a customer must know who reads that all of it holds."""
    accepted = any(finding.concession for finding in report.outside)
    exceptions = ("what was accepted as it is" if accepted else "", "what is not asked here" if report.retired else "")
    return f", but for {' and '.join(filter(None, exceptions))}" if any(exceptions) else ""


def _signatures() -> Markup:
    lines = [element("div", element("span", name), element("span", "Date"), class_="line") for name in _SIGNATURES]
    return element("div", element("h2", "Signatures"), lines, class_="signatures")


def _accepted(report: Report) -> Markup | None:
    """What was used although it is outside its limits, and who said so."""
    rows = [
        (finding.title, finding.where, finding.shown_value, finding.concession)
        for finding in report.findings
        if finding.concession
    ]
    return table_section("Accepted outside the limits", ("What", "Where", "Value", "By whom, and why"), rows)


def _open(report: Report, contents: Overview) -> Markup | None:
    """What each milestone waits for, where it is not ready."""
    waiting = [work for work in contents.milestones if work.amount and report.status != HELD]
    return list_section("Still open", (f"{work.title[:1].upper()}{work.title[1:]}: {work.amount}" for work in waiting))


def _unjudged(report: Report) -> Markup | None:
    """What was not measured is said as plainly as the rest."""
    rows = [
        (system, element("span", words, class_=f"badge {css(str(verdict))}"), "; ".join(_titled(unjudged)))
        for system, findings in report.by_system(*_UNJUDGED)
        for verdict, words in _UNJUDGED.items()
        if (unjudged := [finding for finding in findings if finding.verdict is verdict])
    ]
    return table_section("Not judged by a value", ("System", "Result", "What"), rows)


def _titled(findings: Iterable[Finding]) -> Iterator[str]:
    """The titles of rules, with the places where not all stations came out so."""
    for title, same in grouped(findings, lambda finding: finding.title).items():
        yield f"{title}{f' ({where})' if (where := places(same)) else ''}"


def _dropped(report: Report) -> Markup | None:
    """The rules that a shop has dropped, and why."""
    rows = [(retired.rule.system, str(retired)) for retired in report.retired]
    return table_section("Not asked here, by policy", ("System", "What, and why"), rows)


def _cautions(report: Report) -> Markup | None:
    """What the packs say of everything, and what rules say that did not hold."""
    own = (f.rule.rule.caution for f in report.findings if f.verdict is Verdict.OUTSIDE and f.rule.rule.caution)
    return cautions(dict.fromkeys((*report.cautions, *own)))


def _readings(report: Report) -> Markup:
    """What was measured, as it was written down; what could not be is named as such."""
    by_characteristic = grouped(report.readings, lambda reading: reading.characteristic)
    titles = {instrument.name: instrument.title or instrument.name for instrument in report.record.instruments}
    rows = [_measured(taken, report.context, titles) for taken in by_characteristic.values()]
    title = f"Every reading as it was measured: {number_of(len(rows), 'kind')}"
    shown = table("plain", ("What was measured", "Values", "With", "On"), rows, "What was measured")
    return element("section", folded(title, shown, name="readings"))


def _measured(readings: Sequence[Reading], context: Context, titles: Mapping[str, str]) -> tuple[Content, ...]:
    """One characteristic: its values, which instruments read them (by their titles), and when."""
    compiled = context.characteristics[readings[0].characteristic]
    item, reference = compiled.characteristic, _reference(compiled)
    by_station = grouped(readings, lambda reading: reading.station)
    texts = {station: ", ".join(_value(reading, reference) for reading in own) for station, own in by_station.items()}
    values: list[Content] = []
    for words, stations in grouped(texts, texts.__getitem__).items():
        where = numbered((place_name(item.per, station, context), station + 1) for station in stations)
        values.append(["; " if values else None, element("b", f"{where}: ") if where else None, words])
    days = sorted({reading.taken.isoformat() for reading in readings if reading.taken})
    instruments = dict.fromkeys(titles[reading.instrument] for reading in readings if reading.instrument)
    return item.title, values, ", ".join(instruments), ", ".join(days)


def _value(reading: Reading, reference: str) -> str:
    if reading.set_aside:
        return f"{reading.written} (left out: {reading.set_aside})"
    if reading.unit is None:
        return reading.written
    return f"{write_interval(reading.low, reading.high, reading.unit)}{f' {reference}' if reference else ''}"


def _reference(item: CompiledCharacteristic) -> str:
    """The trade's word for what an angle is counted from and which way, such as "ahead"."""
    way = item.notation.ways.get(item.characteristic.counted or "")
    is_told = way is not None and way.is_direction and not way.names_it and not way.gives_the_sign
    return way.words[0] if way is not None and is_told and way.words else ""
