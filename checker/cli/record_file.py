"""The record that a command is given: a file, or `-` for the standard input; and its file where it is written to."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from checker.cli.shared_options import STANDARD_INPUT
from checker.cli.terminal import is_terminal
from checker.documents.document import MOST_BYTES, parse_json, parse_yaml, read_bytes
from checker.documents.locking import held
from checker.documents.replacing import is_temporary, write_atomically
from checker.errors import CheckerError, InputError, Place, Problem, UsageError
from checker.plugins import Plugins
from checker.records.record import HalfReadError, Record, read_record, record_in
from checker.rulebook import rulebook_for

_SOURCE = "standard input"


def record_given(path: str, plugins: Plugins, packs: Sequence[str] = ()) -> Record:
    """Read it; what comes from the standard input is YAML, or JSON where it begins with a brace.

    Raises InputError naming every problem, also of what by these packs cannot be understood beside it, and UsageError
    where there is no standard input.
    """
    try:
        return _from_standard_input() if path == STANDARD_INPUT else read_record(path, plugins.record_readers)
    except HalfReadError as error:
        raise InputError((*error.problems, *_problems_besides(error.rest, plugins, packs))) from None


def _problems_besides(rest: Record | None, plugins: Plugins, packs: Sequence[str]) -> Iterable[Problem]:
    if rest is None or not (rest.application or rest.rule_packs or packs):
        return ()
    try:
        rulebook = rulebook_for(rest, *packs, plugins=plugins)
        rulebook.check(rest, rest.application or rulebook.applications[0])
    except CheckerError as error:
        return error.problems
    return ()


def require_file(path: str) -> None:
    """Refuse the standard input where readings are to be saved."""
    if path == STANDARD_INPUT:
        message = "the record cannot come from standard input: every reading is saved in its file"
        raise UsageError(Problem(message, hint="name its file"))


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


class RecordFile:
    """A record's file that several benches write to: one after the other, none over what it has not read."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def read(self) -> str:
        """The text as it stands; raises InputError where it cannot be read."""
        try:
            return read_bytes(self.path).decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise InputError(Problem(f"{self.path.name} is no longer UTF-8 text")) from error

    def change(self, edit: Callable[[str], str]) -> None:
        """Write what `edit` makes of the text as it stands; what it raises leaves the file as it is.

        Raises UsageError where the file cannot be written.
        """
        with self._held():
            text = edit(self.read())
            try:
                write_atomically(self.path, text.encode())
            except OSError as error:
                raise self._cannot("written", error) from error

    @contextmanager
    def _held(self) -> Iterator[None]:
        """The lock is a file beside the record, for the record itself is replaced at every reading."""
        with ExitStack() as stack:
            try:
                stack.enter_context(held(self.path.with_name(f".{self.path.name}.lock")))
            except OSError as error:
                raise self._cannot("locked", error) from error
            # Sessions that were ended in the middle left something half written; a living one holds the lock.
            for path in self.path.parent.iterdir():
                if is_temporary(path, self.path):
                    with suppress(OSError):
                        path.unlink()
            yield

    def _cannot(self, done: str, error: OSError) -> UsageError:
        return UsageError(Problem(f"{self.path.name} cannot be {done}: {error.strerror}; the last reading is lost"))
