"""Holding the packs on hand to those that made an earlier report."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NoReturn

from checker.documents.document import read_bytes
from checker.documents.printable import printable
from checker.errors import InputError, Place, Problem, UsageError
from checker.packs.pack import Pack
from checker.plugin import Plugin

MOST_BYTES = 100_000_000


def require_packs_of(report: str | Path, packs: Sequence[Pack], plugins: Sequence[Plugin] = ()) -> None:
    """Raise UsageError naming every pack and plugin that is not as it was when a JSON report was made.

    Raises InputError where the file is no such report.
    """
    path = Path(report)
    place = Place(printable(str(path)))
    data = _report_in(path, place)
    differences = list(_differences(_packs_in(data, place), packs, place))
    differences += _other_plugins(_plugins_in(data, place), plugins, place)
    if differences:
        raise UsageError(differences)


def _report_in(path: Path, place: Place) -> Any:
    """The data of a report, which is far longer than the files that are read as documents."""
    try:
        return json.loads(read_bytes(path, most=MOST_BYTES))
    except (ValueError, RecursionError):
        _refuse("not a report in JSON", place)


def _packs_in(data: Any, place: Place) -> dict[str, tuple[str, str]]:
    """Version and SHA-256 by name."""
    return {
        str(item.get("pack")): (str(item.get("version")), str(item.get("sha256")))
        for item in _each(data, "packs", place)
    }


def _plugins_in(data: Any, place: Place) -> dict[str, str]:
    """Version by name."""
    return {str(item.get("plugin")): str(item.get("version")) for item in _each(data, "plugins", place)}


def _each(data: Any, key: str, place: Place) -> list[Mapping[str, Any]]:
    stated = data.get(key) if isinstance(data, Mapping) else None
    if not isinstance(stated, list) or not all(isinstance(item, Mapping) for item in stated):
        _refuse("not a report in JSON", place)
    return stated


def _refuse(message: str, place: Place) -> NoReturn:
    raise InputError(Problem(message, place, "write one with --format json"))


def _differences(made_by: Mapping[str, tuple[str, str]], packs: Sequence[Pack], place: Place) -> Iterator[Problem]:
    here = {pack.name: pack for pack in packs}
    for name in sorted(set(made_by) - set(here)):
        yield Problem(f"made with {name} {made_by[name][0]}, which is not used here", place)
    for name, pack in here.items():
        version, digest = made_by.get(name, ("", ""))
        if not version:
            yield Problem(f"made without {pack}, which is used here", place)
        elif version != pack.version:
            yield Problem(f"made with {name} {version}, here is {pack.version}", place)
        elif digest != pack.digest:
            yield Problem(f"made with another content of {pack}", place)


def _other_plugins(made_by: Mapping[str, str], plugins: Sequence[Plugin], place: Place) -> Iterator[Problem]:
    here = {plugin.name: plugin.version for plugin in plugins}
    for name in sorted(set(made_by) | set(here)):
        if name not in here:
            yield Problem(f"made with plugin {name} {made_by[name]}, which is not used here", place)
        elif name not in made_by:
            yield Problem(f"made without plugin {name} {here[name]}, which is used here", place)
        elif made_by[name] != here[name]:
            yield Problem(f"made with plugin {name} {made_by[name]}, here is {here[name]}", place)
