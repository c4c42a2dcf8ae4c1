"""A lock that one program holds while it writes, so that no other writes to the same place."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

if sys.platform == "win32":
    import msvcrt

    def _lock(file: IO[bytes], waits: bool) -> None:
        """Raises OSError where another holds it, after ten seconds if it waits."""
        file.seek(0)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_LOCK if waits else msvcrt.LK_NBLCK, 1)
        except OSError as error:
            raise error if waits else BlockingIOError(*error.args) from error

else:
    import fcntl

    def _lock(file: IO[bytes], waits: bool) -> None:
        """Raises OSError where another holds it and this is not to wait."""
        fcntl.flock(file, fcntl.LOCK_EX if waits else fcntl.LOCK_EX | fcntl.LOCK_NB)


@contextmanager
def held(path: Path, waits: bool = True) -> Iterator[None]:
    """Hold the lock that the file at this path stands for; it is taken away afterwards, and by a kill left to the next.

    Raises BlockingIOError where another holds it and this is not to wait, OSError where the file cannot be made.
    """
    with _locked(path, waits):
        try:
            yield
        finally:
            with suppress(OSError):  # where an open file cannot be taken away it stays, and serves again
                path.unlink()


def _locked(path: Path, waits: bool) -> IO[bytes]:
    """An open file at this path, locked; anew where another program took the file away while this one waited."""
    while True:
        file = path.open("ab")
        try:
            _lock(file, waits)
            if path.exists() and os.path.samestat(os.fstat(file.fileno()), path.stat()):
                return file
        except FileNotFoundError:
            pass  # taken away between the two looks at it
        except BaseException:
            file.close()
            raise
        file.close()
