"""The file of a record that several benches write to: one after the other, none over what it has not read."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from checker.documents.document import read_bytes
from checker.documents.replacing import is_temporary, write_atomically
from checker.errors import InputError, Problem, UsageError

if sys.platform == "win32":
    import msvcrt

    def _lock(file: IO[bytes], waits: bool = True) -> None:
        """Raises OSError where another holds it, after ten seconds if it waits."""
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_LOCK if waits else msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock(file: IO[bytes], waits: bool = True) -> None:
        """Raises OSError where another holds it and this is not to wait."""
        fcntl.flock(file, fcntl.LOCK_EX if waits else fcntl.LOCK_EX | fcntl.LOCK_NB)


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
        path = self.path.with_name(f".{self.path.name}.lock")
        try:
            file = _locked(path)
        except OSError as error:
            raise self._cannot("locked", error) from error
        with file:
            self._clear_up()
            try:
                yield
            finally:
                with suppress(OSError):  # where an open file cannot be taken away it stays, and serves again
                    path.unlink()

    def _clear_up(self) -> None:
        """Take away what sessions left half written that were ended in the middle; a living one holds the lock."""
        for path in self.path.parent.iterdir():
            if is_temporary(path, self.path):
                with suppress(OSError):
                    path.unlink()

    def _cannot(self, done: str, error: OSError) -> UsageError:
        return UsageError(Problem(f"{self.path.name} cannot be {done}: {error.strerror}; the last reading is lost"))


def _locked(path: Path) -> IO[bytes]:
    """An open file at this path, locked; anew where another session took the file away while this one waited."""
    while True:
        file = path.open("ab")
        try:
            _lock(file)
            if path.exists() and os.path.samestat(os.fstat(file.fileno()), path.stat()):
                return file
        except FileNotFoundError:
            pass  # taken away between the two looks at it
        except BaseException:
            file.close()
            raise
        file.close()
