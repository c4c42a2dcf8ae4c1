"""Judge a record of bench measurements against declarative rule packs.

>>> import checker
>>> rulebook = checker.load_rulebook("gear-train", "our-shop")
>>> report = rulebook.check(checker.read_record("gearbox.yaml"), application="heavy")
>>> for finding in report.outside:
...     print(finding)

Records come from files (`read_record`), texts (`record_from_text`) or Python objects (`record_from`): numbers, texts
as a bench writes them, arrays over stations where NaN is not measured, and quantities with a unit such as pint's.
They are read as a file is read; mistakes raise CheckerError and name the path of keys, an argument of the wrong type
raises TypeError.

A Rulebook judges one record (`check`), one for every use (`check_uses`), many one after another (`check_many`), or the
rows of a table that speaks Arrow (`check_table`): a row an assembly or, with `layout="long"`, a row a value. What the
table gives back has `findings`, `counts` with a row for each assembly, and `set_aside`, those that could not be read,
with the reason; its instruments are named by characteristic (`instruments={"shaft_diameter": "micrometer"}`) and
listed in the record. Rows in which something is odd, rows beside which a part sheet may be suspect, and rules that are
no straight line of what is in doubt are judged row by row, which takes longer; `only(*rules)` leaves rules out.
`session(record)` says what each further reading changes, `room` how far a value may move, and `limits` what a rule asks
for.

A Report has findings; `finding.quantity(registry)` is a quantity of your registry of units. `write_text` and
`write_json` put it down: all verdicts and values, and in full what is missed; `parts=["within", "open", "readings"]`
asks for more; `gather().report_writers["html"](report)` is a page, and so are the other forms by name. Records,
rulebooks and reports are read-only, can be sent to other processes, and shared by threads. A rulebook is large and a
report is judged again where it is read: give each worker its rulebook once, and have it send back findings or JSON.

Only plugins need `hook`, `Function`, `Free`, `Kind`, `Interval`, `WrittenForm`, `Meant`, `Command`, `Document`,
`read_document`, `read_text`, `read_quantity`, `Written`, `with_value`, `write_out`, `OutputError` and `nearest`:
plugins/README.md has an example of each hook.
"""

from __future__ import annotations

import sys
from importlib import import_module
from typing import TYPE_CHECKING, Any

# For editors and type checkers; when the program runs, __getattr__ below imports a name when it is first asked for.
if TYPE_CHECKING:
    from checker.cli.output import write_out
    from checker.documents.document import Document, read_document, read_text
    from checker.errors import (
        CheckerError,
        InputError,
        OutputError,
        PackError,
        Place,
        PluginError,
        Problem,
        UsageError,
        nearest,
    )
    from checker.expressions.functions import Free, Function, Kind
    from checker.expressions.intervals import Interval, RangeError
    from checker.findings.finding import Edge, Finding, Gap
    from checker.given import Given, read_given
    from checker.judging.conformity import Decision
    from checker.judging.judge import Judged, Verdict
    from checker.limits import LimitVariant, RuleLimit, RuleLimits
    from checker.notation.amounts import Written
    from checker.notation.read import read_quantity
    from checker.notation.vocabulary import Meant, NotationError, WrittenForm
    from checker.packs.compiled import CompiledCharacteristic, CompiledRule
    from checker.packs.pack import Pack
    from checker.plugin import Plugin
    from checker.plugin_hooks import Command, hook
    from checker.plugins import Plugins, gather
    from checker.records.concessions import Concession
    from checker.records.edit import with_value
    from checker.records.entry import Reading
    from checker.records.filled import Filled
    from checker.records.flag import Flag
    from checker.records.notes import Note
    from checker.records.record import Details, Record, read_record, record_from, record_from_text
    from checker.reports.json_report import write_json
    from checker.reports.report import Report
    from checker.reports.terms import Terms
    from checker.reports.text import write_text
    from checker.room import Already, End, Room
    from checker.rulebook import Rulebook, load_rulebook, rulebook_for
    from checker.session import Reply, Session
    from checker.tables.report import TableReport
    from checker.units.dimensions import dimension_of
    from checker.units.units import Unit, unit
    from checker.vetting.vetting import Vetting, vet

_HOMES = {
    "cli.output": ("write_out",),
    "documents.document": ("Document", "read_document", "read_text"),
    "errors": (
        "CheckerError",
        "InputError",
        "OutputError",
        "PackError",
        "Place",
        "PluginError",
        "Problem",
        "UsageError",
        "nearest",
    ),
    "expressions.functions": ("Free", "Function", "Kind"),
    "expressions.intervals": ("Interval", "RangeError"),
    "findings.finding": ("Edge", "Finding", "Gap"),
    "given": ("Given", "read_given"),
    "judging.conformity": ("Decision",),
    "judging.judge": ("Judged", "Verdict"),
    "limits": ("LimitVariant", "RuleLimit", "RuleLimits"),
    "notation.amounts": ("Written",),
    "notation.read": ("read_quantity",),
    "notation.vocabulary": ("Meant", "NotationError", "WrittenForm"),
    "packs.compiled": ("CompiledCharacteristic", "CompiledRule"),
    "packs.pack": ("Pack",),
    "plugin": ("Plugin",),
    "plugin_hooks": ("Command", "hook"),
    "plugins": ("Plugins", "gather"),
    "records.concessions": ("Concession",),
    "records.edit": ("with_value",),
    "records.entry": ("Reading",),
    "records.filled": ("Filled",),
    "records.flag": ("Flag",),
    "records.notes": ("Note",),
    "records.record": ("Details", "Record", "read_record", "record_from", "record_from_text"),
    "reports.json_report": ("write_json",),
    "reports.report": ("Report",),
    "reports.text": ("write_text",),
    "reports.terms": ("Terms",),
    "room": ("Already", "End", "Room"),
    "rulebook": ("Rulebook", "load_rulebook", "rulebook_for"),
    "session": ("Reply", "Session"),
    "tables.report": ("TableReport",),
    "units.dimensions": ("dimension_of",),
    "units.units": ("Unit", "unit"),
    "vetting.vetting": ("Vetting", "vet"),
}
_HOME_OF = {name: module for module, names in _HOMES.items() for name in names}

__all__ = [
    "Already",
    "CheckerError",
    "Command",
    "CompiledCharacteristic",
    "CompiledRule",
    "Concession",
    "Decision",
    "Details",
    "Document",
    "Edge",
    "End",
    "Filled",
    "Finding",
    "Flag",
    "Free",
    "Function",
    "Gap",
    "Given",
    "InputError",
    "Interval",
    "Judged",
    "Kind",
    "LimitVariant",
    "Meant",
    "NotationError",
    "Note",
    "OutputError",
    "Pack",
    "PackError",
    "Place",
    "Plugin",
    "PluginError",
    "Plugins",
    "Problem",
    "RangeError",
    "Reading",
    "Record",
    "Reply",
    "Report",
    "Room",
    "RuleLimit",
    "RuleLimits",
    "Rulebook",
    "Session",
    "TableReport",
    "Terms",
    "Unit",
    "UsageError",
    "Verdict",
    "Vetting",
    "Written",
    "WrittenForm",
    "dimension_of",
    "gather",
    "hook",
    "load_rulebook",
    "nearest",
    "read_document",
    "read_given",
    "read_quantity",
    "read_record",
    "read_text",
    "record_from",
    "record_from_text",
    "rulebook_for",
    "unit",
    "vet",
    "with_value",
    "write_json",
    "write_out",
    "write_text",
]


def __getattr__(name: str) -> Any:
    """Import what is asked for only then, so that `checker --help` answers at once."""
    if name not in _HOME_OF:
        # With the module beside the name, Python says which name is near.
        raise AttributeError(f"module 'checker' has no attribute {name!r}", name=name, obj=sys.modules[__name__])
    return getattr(import_module(f"checker.{_HOME_OF[name]}"), name)


def __dir__() -> list[str]:
    return list(__all__)
