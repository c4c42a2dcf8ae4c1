"""The command: arguments in, text out, and an exit status from one place."""

from __future__ import annotations

import gc
import os
import sys
import traceback
from argparse import Namespace
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import NoReturn

from checker.cli.arguments import parse
from checker.cli.shared_options import STANDARD_INPUT
from checker.cli.terminal import fitting, is_terminal, kept_for_results
from checker.documents.printable import printable
from checker.errors import CheckerError, OutputError, Problem, UsageError

CANNOT_JUDGE = 2
_FORMS = frozenset({"csv", "html", "json", "pdf", "xlsx", "yaml"})
"""Forms that other programs know by the end of a file's name."""
_PAGES = {"html": "a page in HTML", "pdf": "a PDF file", "xlsx": "a workbook"}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Exit status: 0 every required check judged and held, 1 one out of limits, 3 none out but some open, 2 input or
    usage error. It is 2 until the work is done and the output is out.
    """
    _make_streams_safe()
    try:
        options = parse(arguments)
    except CheckerError as error:  # of a plugin, whose command cannot say what it takes
        _complain(error, "nothing was done")
        return CANNOT_JUDGE
    try:
        _keep_what_is_read(options)
        _settle_form(options)
        _keep_pages_from_terminals(options)
        if of_plugin := getattr(options, "run", None):
            status = int(of_plugin(options))
        else:
            with kept_for_results():
                status = int(import_module(f"checker.cli.{options.command.replace('-', '_')}_command").run(options))
        sys.stdout.flush()
        return status
    except CheckerError as error:
        with suppress(OSError):  # nobody may be listening
            _complain(error, getattr(options, "failed", "nothing was done"))
    except RecursionError:
        print("the input is nested too deeply to be processed", file=sys.stderr)
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        pass  # whoever read the output has gone; nobody is left to tell
    except SystemExit:
        print("a plugin tried to end the checker", file=sys.stderr)
    except Exception:
        traceback.print_exc()
    return CANNOT_JUDGE


def command() -> NoReturn:
    """Run one command as a program, and end it at once: its output is out, taking its objects apart only costs time."""
    # Most commands make objects and end: collecting garbage would only cost start-up time.
    gc.disable()
    # Nothing here multiplies matrices; the threads that numpy keeps for that cost a quarter of all processor time.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    status = main()
    with suppress(AttributeError, OSError, ValueError):  # there may be nobody left to tell
        sys.stderr.flush()
    os._exit(status)


def _keep_what_is_read(options: Namespace) -> None:
    """A slip of the keys must not put a report in the place of a day's measurements."""
    output = getattr(options, "output", None)
    for given in (getattr(options, name, None) for name in ("record", "later_record")):
        if output and isinstance(given, str) and _are_one_file(output, given):
            hint = "name another file with --output"
            raise UsageError(Problem(f"{output} is the record; the output would overwrite it", hint=hint))


def _keep_pages_from_terminals(options: Namespace) -> None:
    """A page is for a browser or for paper: it goes to a file, unless another program reads it."""
    form = getattr(options, "format", None)
    if form in _PAGES and options.output is None and is_terminal(sys.stdout):
        record = getattr(options, "record", None)
        of_record = f"{Path(record).stem}-" if isinstance(record, str) and record != STANDARD_INPUT else ""
        made = f"{of_record}{options.command}.{form}"
        raise UsageError(Problem(f"{_PAGES[form]} is not for a terminal", hint=f"name a file, as in --output {made}"))


def _settle_form(options: Namespace) -> None:
    """The form asked for, else that which the name of the output ends in, else the usual one.

    A page that is called h.pdf, or a text called r.json, opens nowhere, and who sent it away learns of it last.
    """
    forms, output = getattr(options, "forms", ()), getattr(options, "output", None)
    if not forms:
        return
    ending = Path(output or "").suffix.lower().removeprefix(".")
    ending = "markdown" if ending == "md" else ending
    asked = options.format = options.format or (ending if ending in forms else forms[0])
    own = "yaml" if asked == "text" else asked  # no result has both forms, and cases are drafted in YAML beside a text
    if asked in (*_FORMS, "text", "markdown", "junit") and ending in _FORMS - {own}:
        ask, otherwise = f"ask for it, as in --format {ending}, or ", f"; the forms are {', '.join(forms)}"
        hint = f"{ask}end the name otherwise" if ending in forms else f"end the name otherwise{otherwise}"
        raise UsageError(Problem(f"{output} is named as {ending}, and what goes there is {asked}", hint=hint))


def _are_one_file(first: str, second: str) -> bool:
    try:
        return Path(first).samefile(second)
    except OSError:
        return False


def _make_streams_safe() -> None:
    """A sign that the terminal cannot show must not end a report half way."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")


def _complain(error: CheckerError, failed: str) -> None:
    lines = [printable(str(problem)) for problem in error.problems]
    if not isinstance(error, OutputError):
        lines.append(f"{len(lines)} problem{'s' if len(lines) > 1 else ''}; {failed}.")
    for line in lines:
        print(fitting(line, sys.stderr), file=sys.stderr)
