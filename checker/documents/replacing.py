"""Files that are replaced whole: a power cut leaves the old one or the new one, never half of each."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_MARK_LENGTH = 8


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """A file to write that takes the place of another when it is done; where writing fails, nothing has changed.

    A link goes on pointing to the file, and the file keeps its rights.
    """
    path = Path(os.path.realpath(path))
    temporary = path.with_name(f".{path.name}.{os.urandom(_MARK_LENGTH // 2).hex()}")
    try:
        yield temporary
        with temporary.open("rb+") as file:
            os.fsync(file.fileno())
        if path.exists():
            temporary.chmod(path.stat().st_mode & 0o777)
        temporary.replace(path)
        _settle(path.parent)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def write_atomically(path: Path, data: bytes) -> None:
    """Replace a file by these bytes; a device or a pipe is written to as it stands."""
    if path.exists() and not path.is_file():
        path.write_bytes(data)
        return
    with replacing(path) as temporary, temporary.open("xb") as file:
        file.write(data)


def is_temporary(path: Path, target: Path) -> bool:
    """Whether a file is named as those that are being written to take the place of a target."""
    start, mark = f".{target.name}.", path.name[-_MARK_LENGTH:]
    return path.name == start + mark and set(mark) <= set("0123456789abcdef")


def _settle(folder: Path) -> None:
    """Have the new name of a file written down too, where the system lets a folder be opened for that."""
    if hasattr(os, "O_DIRECTORY"):
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
