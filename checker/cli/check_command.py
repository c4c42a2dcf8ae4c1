"""`checker check`: judge a record."""

from __future__ import annotations

from argparse import Namespace

from checker.cli.look import look_for, say
from checker.cli.output import write_out
from checker.cli.progress import progress
from checker.cli.record_file import record_given
from checker.errors import Problem, UsageError, nearest
from checker.judging.conformity import PROBABILITY, Decision
from checker.packs.provenance import require_packs_of
from checker.plugins import Plugins, gather
from checker.reports.report import Report
from checker.reports.terms import Terms
from checker.reports.text import write_text
from checker.rulebook import rulebook_for


def run(options: Namespace) -> int:
    """Judge and write the report; the status is the report's."""
    plugins = gather(without=options.without)
    require_form(options.format, plugins)
    report = judged(options, plugins)
    if options.packs_from:
        require_packs_of(options.packs_from, report.packs, report.plugins)
    write_report(report, options, plugins)
    return report.status


def judged(options: Namespace, plugins: Plugins) -> Report:
    """The report that the judging options ask for."""
    record = record_given(options.record, plugins, options.pack)
    terms = terms_asked_for(options)
    with progress("judging"):
        rulebook = rulebook_for(record, *options.pack, plugins=plugins)
        return rulebook.check(record, options.application, **terms)


def terms_asked_for(options: Namespace) -> Terms:
    """Up to which milestone, on which day, how thoroughly and by which decision rule the command judges."""
    decision = decision_asked_for(options)
    return {"before": options.before, "decision": decision, "on": options.on, "inspection": options.inspection}


def decision_asked_for(options: Namespace) -> Decision | None:
    """The decision rule of the command; a probability alone asks for that rule."""
    if options.decision is None and options.probability is None:
        return None
    probability = PROBABILITY if options.probability is None else options.probability
    return Decision(options.decision or "probability", probability, "the command")


def require_form(form: str, plugins: Plugins) -> None:
    """Refuse an unknown form before any work is done."""
    if form not in plugins.report_writers:
        known = ", ".join(plugins.report_writers)
        raise UsageError(Problem(f"no form {form!r}", hint=nearest(form, plugins.report_writers) or f"known: {known}"))


def write_report(report: Report, options: Namespace, plugins: Plugins) -> None:
    """Write a report in the form asked for; coloured only as text on a terminal."""
    if options.format == "text":
        look = look_for(options.output)
        say(write_text(report, look.paint, options.all, options.system, look.width), options.output)
    elif options.format == "json":
        from checker.reports.json_report import write_json  # few runs write it

        write_out(write_json(report, filter(None, options.parts.split(","))), options.output)
    else:
        write_out(plugins.report_writers[options.format](report), options.output)
