"""The record that a command is given: a file, or `-` for the standard input."""

from __future__ import annotations

import sys

from checker.cli.shared_options import STANDARD_INPUT
from checker.cli.terminal import is_terminal
from checker.documents.document import MOST_BYTES, parse_json, parse_yaml
from checker.errors import InputError, Place, Problem, UsageError
from checker.plugins import Plugins
from checker.records.record import Record, read_record, record_in

_SOURCE = "standard input"


def record_given(path: str, plugins: Plugins) -> Record:
    """Read it; what comes from the standard input is YAML, or JSON where it begins with a brace.

    Raises InputError naming every problem, and UsageError where there is no standard input.
    """
    return _from_standard_input() if path == STANDARD_INPUT else read_record(path, plugins.record_readers)


def require_file(path: str, why: str) -> None:
    """Refuse the standard input where a file is needed."""
    if path == STANDARD_INPUT:
        raise UsageError(Problem(f"the record cannot come from standard input: {why}", hint="name its file"))


def _from_standard_input() -> Record:
    if sys.stdin is None:
        raise UsageError(Problem("the standard input is closed", hint="name the file of a record"))
    if is_terminal(sys.stdin):
        print(
            "Type or paste the record; Ctrl-D on a line of its own ends it (Windows: Ctrl-Z, Enter).", file=sys.stderr
        )
    try:
        raw = sys.stdin.buffer.read(MOST_BYTES + 1)
    except OSError as error:
        raise InputError(Problem(f"cannot be read: {error.strerror}", Place(_SOURCE))) from None
    parse = parse_json if raw.lstrip().startswith(b"{") else parse_yaml
    return record_in(parse(raw, _SOURCE))
