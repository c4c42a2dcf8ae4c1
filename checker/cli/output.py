"""Putting what is finished where it was asked for, whole or not at all."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from checker.cli.terminal import is_terminal, standard_output
from checker.documents.replacing import write_atomically
from checker.errors import OutputError, Problem, UsageError


def write_out(content: str | bytes, path: str | None) -> None:
    """Write to the standard output, or to a file.

    Raises OutputError where the file cannot be written; text is then on the standard output, anything else in another
    file. Raises UsageError for what is binary where the standard output is a terminal.
    """
    if path is None:
        if isinstance(content, bytes) and is_terminal(standard_output()):
            raise UsageError(Problem("this form is binary", hint="name a file with --output"))
        _say(content)
        return
    try:
        save(content, Path(path))
    except UsageError as error:
        raise OutputError(Problem(error.problems[0].message, hint=_put_elsewhere(content, Path(path)))) from error


def write_json(data: Any, path: str | None = None, indent: int = 2) -> None:
    """Write data as JSON, which knows no number that is none, as `write_out` does."""
    write_out(json.dumps(data, indent=indent, allow_nan=False) + "\n", path)


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
    stream = standard_output()
    if stream is None:
        raise UsageError(Problem("the standard output is closed", hint="name a file with --output"))
    try:
        if isinstance(content, bytes):
            stream.buffer.write(content)
        else:
            stream.write(content)
        stream.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        raise UsageError(Problem(f"the output cannot be written: {error.strerror}")) from error
