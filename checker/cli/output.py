"""Putting what is finished where it was asked for, whole or not at all."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

from checker.cli.terminal import is_terminal
from checker.errors import OutputError, Problem, UsageError

_MARK_LENGTH = 8


def put(content: str | bytes, path: str | None) -> None:
    """Write to the standard output, or to a file.

    Raises OutputError where the file cannot be written; text is then on the standard output, anything else in another
    file. Raises UsageError for what is binary where the standard output is a terminal.
    """
    if path is None:
        if isinstance(content, bytes) and is_terminal(sys.stdout):
            raise UsageError(Problem("this form is binary", hint="name a file with --output"))
        _say(content)
        return
    try:
        save(content, Path(path))
    except UsageError as error:
        raise OutputError(Problem(error.problems[0].message, hint=_put_elsewhere(content, Path(path)))) from error


def save(content: str | bytes, path: Path) -> None:
    """Write to a file; raises UsageError where it cannot be written."""
    try:
        write_atomically(path, content.encode() if isinstance(content, str) else content)
    except OSError as error:
        raise UsageError(Problem(f"cannot write {path}: {error.strerror}")) from error


def empty_folder(name: str) -> Path:
    """A folder to fill, which need not be there yet; raises UsageError where anything is in it."""
    folder = Path(name)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(Problem(f"{name} exists and is not an empty folder"))
    return folder


def save_all(files: Mapping[str, str], folder: Path) -> None:
    """Write texts to files in a folder, and make the folders they stand in; raises UsageError where that fails."""
    for name, text in files.items():
        parent = (folder / name).parent
        try:
            parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UsageError(Problem(f"{parent} cannot be made: {error.strerror}")) from None
        save(text, folder / name)


def _put_elsewhere(content: str | bytes, path: Path) -> str:
    """Keep what cannot be written where it was asked for, and say where it is."""
    if isinstance(content, str):
        _say(content)
        return "it is printed instead"
    from tempfile import mkstemp  # only mishaps need it

    try:
        handle, other = mkstemp(path.suffix, f"{path.stem}-")
        with os.fdopen(handle, "wb") as file:
            file.write(content)
    except OSError as error:
        return f"nor to the folder for temporary files: {error.strerror}"
    return f"it is in {other} instead"


def _say(content: str | bytes) -> None:
    if sys.stdout is None:
        raise UsageError(Problem("the standard output is closed", hint="name a file with --output"))
    try:
        if isinstance(content, bytes):
            sys.stdout.buffer.write(content)
        else:
            sys.stdout.write(content)
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        raise UsageError(Problem(f"the output cannot be written: {error.strerror}")) from error


def write_atomically(path: Path, data: bytes) -> None:
    """Replace a file so that a power cut leaves the old one or the new one, never half of each.

    A link goes on pointing to the file, and the file keeps its rights. A device or a pipe is written to as it stands.
    """
    if path.exists() and not path.is_file():
        path.write_bytes(data)
        return
    path = Path(os.path.realpath(path))
    temporary = path.with_name(f".{path.name}.{os.urandom(_MARK_LENGTH // 2).hex()}")
    try:
        with temporary.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            temporary.chmod(path.stat().st_mode & 0o777)
        temporary.replace(path)
        _settle(path.parent)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


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
