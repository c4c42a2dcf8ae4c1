"""What plugins add, one thing at a time: whether it is fit for use, and faults of it told as its plugin's."""

from __future__ import annotations

import re
from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from checker.errors import CheckerError, PluginError, Problem
from checker.failure import told
from checker.frozen import Applied
from checker.plugin import Plugin
from checker.plugin_hooks import Command, ReportWriter

if TYPE_CHECKING:
    from checker.notation.vocabulary import Meant, WrittenForm
    from checker.records.record import Record, RecordReader
    from checker.reports.report import Report

_NAME = re.compile(r"[a-z][a-z0-9_]{0,63}")
_STATUSES = range(256)


def fault_of(plugin: Plugin, words: str) -> Problem:
    """What is wrong with a plugin, in one line."""
    hint = "" if plugin.is_shipped else f"leave it out with --without {plugin.name}"
    return Problem(f"plugin {plugin}: {' '.join(words.split())}", hint=hint)


def _unfit_pack(_: str, folder: Any) -> str:
    from checker.packs.pack import HEAD

    if not isinstance(folder, Path):
        return f"is no folder but {type(folder).__name__}"
    return "" if (folder / HEAD).is_file() else f"is no rule pack: there is no {HEAD} in {folder}"


def _unfit_function(name: str, function: Any) -> str:
    from checker.expressions.functions import Function

    if not isinstance(function, Function):
        return f"is no Function but {type(function).__name__}"
    if not _NAME.fullmatch(name):
        return "is no name for a function: small letters, digits and _"
    return "" if function.name == name else f"calls itself {function.name!r}"


def _unfit_reader(suffix: str, reader: Any) -> str:
    if not suffix.startswith(".") or suffix != suffix.lower():
        return "is no suffix such as '.yaml', in small letters"
    return "" if callable(reader) else "cannot be called"


def _unfit_writer(_: str, writer: Any) -> str:
    return "" if callable(writer) else "cannot be called"


def _unfit_form(_: str, form: Any) -> str:
    from checker.notation.vocabulary import WrittenForm

    if not isinstance(form, WrittenForm):
        return f"is no WrittenForm but {type(form).__name__}"
    try:
        re.compile(form.pattern)
    except (re.error, TypeError) as error:
        return f"has a pattern that is none: {error}"
    return "" if callable(form.read) else "cannot be called"


def _unfit_command(name: str, command: Any) -> str:
    if not isinstance(command, Command):
        return f"is no Command but {type(command).__name__}"
    if not re.fullmatch(r"[a-z][a-z0-9-]{0,63}", name):
        return "is no name for a command: small letters, digits and -"
    return "" if callable(command.arguments) and callable(command.run) else "cannot be called"


UNFIT: Mapping[str, Callable[[str, Any], str]] = {
    "rule_packs": _unfit_pack,
    "functions": _unfit_function,
    "record_readers": _unfit_reader,
    "report_writers": _unfit_writer,
    "written_forms": _unfit_form,
    "commands": _unfit_command,
}
"""What is wrong with a thing, in words, by the hook that adds it; empty where nothing is."""


def watched(plugin: Plugin, hook_name: str, name: str, thing: Any, again: Callable[[str, str], Any]) -> Any:
    """The thing itself, made so that a fault of it names its plugin; what comes with the checker is trusted.

    `again` finds it by its plugin and name, in another program.
    """
    if plugin.is_shipped or hook_name == "rule_packs":
        return thing
    if hook_name == "functions":
        # What it claims to spare the checker is not believed: by it something missing could pass.
        return replace(thing, plugin=str(plugin), again=again, carries=False, is_monotone=False)
    if hook_name == "written_forms":
        from checker.notation.vocabulary import WrittenForm

        read = Applied(_meant, (plugin, name, thing))
        return WrittenForm(thing.pattern, read, Applied(again, (str(plugin), name)))
    if hook_name == "commands":
        return _command(plugin, name, thing)
    return _reader(plugin, name, thing) if hook_name == "record_readers" else _writer(plugin, name, thing)


def _reader(plugin: Plugin, suffix: str, reader: RecordReader) -> RecordReader:
    from checker.records.record import Record

    def read(path: Path) -> Record:
        record: Record = _answer(plugin, f"its reader of {suffix}", Record, lambda: reader(path))
        return record._replace(read_by=suffix)

    return read


def _meant(plugin: Plugin, name: str, form: WrittenForm, match: re.Match[str], is_metric: bool) -> Meant | None:
    from checker.notation.vocabulary import Meant, NotationError

    def meant() -> Meant:
        return form.read(match, is_metric) or Meant(())

    try:
        made: Meant = _answer(plugin, f"its written form {name!r}", Meant, meant, NotationError)
    except NotationError as refusal:
        if isinstance(refusal.message, str) and _are_texts(refusal.readings):
            raise
        said = f"raised {refusal!r}, not NotationError of a text and a list of texts"
    else:
        if _are_texts(made.texts) and isinstance(made.note, str):
            return made if made.texts else None
        said = f"returned {made!r}, not Meant of a list of texts and a note"
    raise PluginError(fault_of(plugin, f"its written form {name!r} {said}"))


def _are_texts(given: object) -> bool:
    return isinstance(given, (list, tuple)) and all(isinstance(each, str) for each in given)


def _command(plugin: Plugin, name: str, command: Command) -> Command:
    def arguments(parser: ArgumentParser) -> None:
        def stated() -> None:
            command.arguments(parser)
            parser.format_help()  # fails where a help text has a lone percent sign

        _answer(plugin, f"its command {name!r}", type(None), stated)

    def run(options: Namespace) -> int:
        status = int(_answer(plugin, f"its command {name!r}", int, lambda: command.run(options)))
        if status not in _STATUSES:  # what started it sees the last eight bits, perhaps 0
            words = f"its command {name!r} returned {status}, which is no exit status from 0 to {_STATUSES[-1]}"
            raise PluginError(fault_of(plugin, words))
        return status

    return Command(f"{command.summary} (plugin {plugin.name})", arguments, run)


def _writer(plugin: Plugin, form: str, writer: ReportWriter) -> ReportWriter:
    def write(report: Report) -> str:
        return str(_answer(plugin, f"its report form {form!r}", str, lambda: writer(report)))

    return write


def _answer(
    plugin: Plugin, what: str, kind: type, call: Callable[[], Any], refusal: type[BaseException] = CheckerError
) -> Any:
    """What a plugin returns; raises PluginError where it fails, or returns something else. It may refuse."""
    try:
        answer = call()
    except (CheckerError, refusal, KeyboardInterrupt, BrokenPipeError):
        raise
    except BaseException as error:
        raise PluginError(fault_of(plugin, f"{what} failed: {told(error)}")) from error
    if not isinstance(answer, kind):
        raise PluginError(fault_of(plugin, f"{what} returned {type(answer).__name__}, not {kind.__name__}"))
    return answer
