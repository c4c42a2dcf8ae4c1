"""Judge a record of bench measurements against declarative rule packs.

>>> import checker
>>> rulebook = checker.load_rulebook("four-stroke", "nitrous")
>>> report = rulebook.check(checker.read_record("engine.yaml"), application="nitrous")
>>> for finding in report.outside:
...     print(finding)
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from checker.conformity import Decision
    from checker.errors import CheckerError, InputError, PackError, PluginError, UsageError
    from checker.finding import Finding
    from checker.flag import Flag
    from checker.functions import Function
    from checker.judge import Verdict
    from checker.plugins import Plugins, gather, hook
    from checker.record import Record, read_record
    from checker.report import Report
    from checker.report_json import write_json
    from checker.report_text import write_text
    from checker.rulebook import Rulebook, load_rulebook, rulebook_for

_HOMES = {
    "conformity": ("Decision",),
    "errors": ("CheckerError", "InputError", "PackError", "PluginError", "UsageError"),
    "finding": ("Finding",),
    "flag": ("Flag",),
    "functions": ("Function",),
    "judge": ("Verdict",),
    "plugins": ("Plugins", "gather", "hook"),
    "record": ("Record", "read_record"),
    "report": ("Report",),
    "report_json": ("write_json",),
    "report_text": ("write_text",),
    "rulebook": ("Rulebook", "load_rulebook", "rulebook_for"),
}
_HOME_OF = {name: module for module, names in _HOMES.items() for name in names}

__all__ = [
    "CheckerError",
    "Decision",
    "Finding",
    "Flag",
    "Function",
    "InputError",
    "PackError",
    "PluginError",
    "Plugins",
    "Record",
    "Report",
    "Rulebook",
    "UsageError",
    "Verdict",
    "gather",
    "hook",
    "load_rulebook",
    "read_record",
    "rulebook_for",
    "write_json",
    "write_text",
]


def __getattr__(name: str) -> Any:
    """Import what is asked for only then, so that `checker --help` answers at once."""
    if name not in _HOME_OF:
        raise AttributeError(f"module 'checker' has no attribute {name!r}")
    return getattr(import_module(f"checker.{_HOME_OF[name]}"), name)
