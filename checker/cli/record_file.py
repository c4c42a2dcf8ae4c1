"""The file of a record that several benches write to: one after the other, none over what it has not read."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from checker.documents.document import read_bytes
from checker.documents.locking import held
from checker.documents.replacing import is_temporary, write_atomically
from checker.errors import InputError, Problem, UsageError


class RecordFile:
    """A record's file; `change` lets nobody else write between reading and writing."""

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
