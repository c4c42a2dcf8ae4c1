"""Which packs are asked for, by name, by folder or by a record, read with all that they build on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TypeAlias

from checker.errors import PackError, Place, Problem, UsageError, nearest
from checker.packs.pack import HEAD, Pack
from checker.packs.reader import read_pack
from checker.packs.versions import compatible_range
from checker.plugins import Plugins
from checker.records.named_packs import packs_amiss
from checker.records.record import Record

_Asked: TypeAlias = tuple[str | Path, Place | None]
"""A pack by name or folder, and the line of the file that asks for it, if one does."""


_LIKE_A_PACK = 0.7
"""A pack of one's own that is asked for by name is no slip of the pen for one that is installed."""

KnownPacks: TypeAlias = dict[Path, Pack]
"""The packs read so far, by folder: none is read twice to answer one question."""


def packs_for(
    record: Record, more: Sequence[str | Path], plugins: Plugins, known: KnownPacks
) -> tuple[list[Pack], str]:
    """The packs that a record asks for, and more, by name or folder; and why these, where nobody named them.

    Raises PackError and UsageError; versions are held to the record's ranges.
    """
    asked: list[_Asked] = [(name, None) for name in more]
    asked += [(name, record.document.place("rule_packs", name)) for name in record.rule_packs]
    choice = ""
    if not asked:
        taken = _only_pack_for(record, plugins, known)
        asked = [(taken.name, None)]
        choice = (
            f"the record names no rule pack: {taken} is the only installed one with the application "
            f"{record.application!r}; to hold to it, {_line_for(taken)}"
        )
    packs = _read(asked, plugins, known)
    if problems := list(packs_amiss(record, packs)):
        raise PackError(problems)
    return packs, choice


def packs_with_use(use: str, packs: Mapping[str, Pack]) -> tuple[str, ...]:
    """The names of the packs that define a use."""
    return tuple(name for name, pack in packs.items() if any(one.name == use for one in pack.applications))


def _only_pack_for(record: Record, plugins: Plugins, known: KnownPacks) -> Pack:
    """The one installed pack that defines the record's use; raises UsageError saying what to write into the record."""
    installed = installed_packs(plugins, known)
    fitting = packs_with_use(record.application, installed)
    if len(fitting) == 1:
        return installed[fitting[0]]
    use, uses = record.application, {use.name for pack in installed.values() for use in pack.applications}
    if not use:
        message = "the record names no rule pack and no application"
    elif fitting:
        message = f"the record names no rule pack, and {len(fitting)} installed ones have its application {use!r}"
    else:
        message = f"the record names no rule pack, and no installed one has its application {use!r}"
    near = "" if fitting else nearest(use, uses)
    if use in installed:
        all_uses = ", ".join(sorted(uses))
        near = f"that is a rule pack: {_line_for(installed[use])}, and name one of {all_uses}"
    example = installed.get(next(iter(fitting or installed), ""))
    line = "" if example is None else f"{_line_for(example)}, or "
    names = (
        f"{line}name one with --pack; {'these have it' if fitting else 'installed'}: {', '.join(fitting or installed)}"
    )
    place = record.document.place("application") if use else Place(record.source)
    raise UsageError(Problem(message, place, near or names))


def _line_for(pack: Pack) -> str:
    return f"add the line rule_packs: {{{asked_for(pack)}}}"


def asked_for(pack: Pack) -> str:
    """How a record names a pack, with the versions that will do."""
    return f'{pack.name}: "{compatible_range(pack.version)}"'


def read_packs(names: Iterable[str | Path], plugins: Plugins) -> list[Pack]:
    """Read packs and, by name, whatever they build on."""
    return _read([(name, None) for name in names], plugins, {})


def named(names: Sequence[str | Path], packs: Iterable[Pack]) -> list[Pack]:
    """Those of these packs that are asked for, by name or folder, not only built on."""
    return [pack for pack in packs if pack.name in names or pack.folder in map(Path, names)]


def installed_packs(plugins: Plugins, known: KnownPacks | None = None) -> dict[str, Pack]:
    """The packs that plugins add, by name; raises PackError."""
    read = {} if known is None else known
    return {name: _once(folder, read, name) for name, folder in plugins.rule_packs.items()}


def _once(folder: Path, known: KnownPacks, installed_as: str = "") -> Pack:
    if folder not in known:
        known[folder] = read_pack(folder)
    pack = known[folder]
    if installed_as and pack.name != installed_as:  # the versions that are asked for of one name would not be held
        words = f"a plugin adds this pack as {installed_as!r}, and it calls itself {pack.name!r}"
        raise PackError(Problem(words, pack.origin.at("pack")))
    return pack


def _read(asked: Sequence[_Asked], plugins: Plugins, known: KnownPacks) -> list[Pack]:
    packs: dict[str, Pack] = {}
    problems: list[Problem] = []
    missing: list[Problem] = []
    waiting = list(asked)
    while waiting:
        name, place = waiting.pop(0)
        if str(name) in packs:
            continue
        folder = _folder(name, place, plugins, missing)
        if folder is None:
            continue
        try:
            pack = _once(folder, known, str(name) if folder == plugins.rule_packs.get(str(name)) else "")
        except PackError as error:
            problems.extend(error.problems)
            continue
        other = packs.setdefault(pack.name, pack)
        if other.folder.resolve() != pack.folder.resolve():
            hint = "leave one out, or give it another name"
            message = f"two packs are called {pack.name!r}: {other.folder} and {pack.folder}"
            problems.append(Problem(message, hint=hint))
            continue
        waiting.extend((base, pack.origin.at("builds_on", base)) for base in pack.builds_on if base not in packs)
    if problems or missing:
        raise PackError(problems or missing)  # a pack that cannot be read is not missing as well
    return list(packs.values())


def _folder(name: str | Path, asked_at: Place | None, plugins: Plugins, missing: list[Problem]) -> Path | None:
    """The folder of an installed pack, or the one that was given; files can ask for installed packs only."""
    if isinstance(name, str) and name in plugins.rule_packs:
        return plugins.rule_packs[name]
    path = Path(name)
    if asked_at is None and (path / HEAD).is_file():
        return path
    known = ", ".join(plugins.rule_packs) or "none"
    hint = (
        nearest(str(name), plugins.rule_packs, _LIKE_A_PACK)
        or f"installed packs: {known}; or give a folder with a {HEAD}"
    )
    missing.append(Problem(f"no rule pack {str(name)!r}", asked_at, hint))
    return None
