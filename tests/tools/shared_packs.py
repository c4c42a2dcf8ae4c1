"""Packs of the project and their cases are read once in a run of tests, and the rulebooks made of them compiled once.

They do not change meanwhile, and a rulebook is immutable: what a test sees is what it would see of its own. A command
that a test runs would else compile again, for half of its time, what the test before it compiled. So are the plugins
that are installed looked for once, which is half of the rest, in the same folders.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager
from functools import cache, wraps
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path

from places import ROOT

from checker import packs_asked
from checker import plugins as finding
from checker.documents.document import Document, read_document
from checker.packs import cases
from checker.packs.pack import Pack
from checker.packs.reader import read_pack
from checker.plugins import Plugins
from checker.rulebook import Rulebook
from checker.vetting import name_schema

_read_once = cache(read_pack)
_shared: dict[int, Pack] = {}
"""By their id; they are kept, so that no other pack gets it."""
_compiled: dict[tuple[bool, tuple[int, ...]], list[Rulebook]] = {}
_survey = cache(finding.survey)
_document_once = cache(read_document)


def share() -> None:
    """Read and compile so from now on."""
    _share_reading()
    Rulebook.__init__ = _once(Rulebook.__init__)  # type: ignore[method-assign]


def _share_reading() -> None:
    packs_asked.read_pack = _pack  # type: ignore[attr-defined]
    cases.read_document = name_schema.read_document = _document  # type: ignore[attr-defined]
    finding.entry_points = _points  # type: ignore[attr-defined]
    finding.survey = _surveyed


@contextmanager
def nothing_shared() -> Iterator[None]:
    """Read and compile anew meanwhile, as in a process of its own."""
    init, packs_asked.read_pack = Rulebook.__init__, read_pack  # type: ignore[attr-defined]
    cases.read_document = name_schema.read_document = read_document  # type: ignore[attr-defined]
    finding.entry_points, finding.survey = entry_points, _survey.__wrapped__  # type: ignore[attr-defined]
    Rulebook.__init__ = getattr(init, "__wrapped__", init)  # type: ignore[method-assign]
    try:
        yield
    finally:
        Rulebook.__init__ = init  # type: ignore[method-assign]
        _share_reading()


def _points(group: str) -> tuple[EntryPoint, ...]:
    return _found(group, tuple(sys.path))


@cache
def _found(group: str, _in_folders: tuple[str, ...]) -> tuple[EntryPoint, ...]:
    return tuple(entry_points(group=group))


def _surveyed(points: Iterable[EntryPoint] | None = None, hooks: Collection[str] = tuple(finding.UNFIT)) -> Plugins:
    points = tuple(finding.installed() if points is None else points)
    is_own = all(point.value in ("checker_rules", "checker.builtin") for point in points)
    return _survey(points, tuple(hooks)) if is_own else _survey.__wrapped__(points, hooks)


def _pack(folder: Path) -> Pack:
    if not folder.is_relative_to(ROOT):
        return read_pack(folder)
    pack = _read_once(folder)
    return _shared.setdefault(id(pack), pack)


def _document(path: Path, *shown_as: str) -> Document:
    return (_document_once if path.is_relative_to(ROOT) else read_document)(path, *shown_as)


def _once(compile_packs: Callable[..., None]) -> Callable[..., None]:
    @wraps(compile_packs)
    def __init__(  # noqa: N807 - it takes that place
        self: Rulebook, packs: Iterable[Pack], plugins: Plugins, strict: bool = False, choice: str = ""
    ) -> None:
        packs = tuple(packs)
        if not all(id(pack) in _shared for pack in packs):
            return compile_packs(self, packs, plugins, strict, choice)
        same = _compiled.setdefault((strict, tuple(map(id, packs))), [])
        known = next((book for book in same if book.plugins == plugins), None)
        if known is None:
            compile_packs(self, packs, plugins, strict, choice)
            same.append(self)
        else:
            vars(self).update(vars(known), plugins=plugins, choice=choice)
        return None

    return __init__
