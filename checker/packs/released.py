"""Released packs: the lock file that says what each released version contains."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from enum import StrEnum
from importlib.resources import files
from pathlib import Path
from typing import Protocol, TypeAlias

from checker.errors import PackError, Problem

Releases: TypeAlias = Mapping[str, Mapping[str, str]]
"""SHA-256 of every released pack: by name, then by version."""


class Standing(StrEnum):
    """How the content of a pack compares with what was released under its name and version."""

    RELEASED = "released"
    ALTERED = "altered since it was released"
    UNRELEASED = "not released"


class Content(Protocol):
    """What a release records of a pack."""

    @property
    def name(self) -> str: ...
    @property
    def version(self) -> str: ...
    @property
    def digest(self) -> str: ...


def lock_path() -> Path:
    """The lock file of the packs that come with the checker, beside their folders."""
    return Path(str(files("checker_rules"))) / "released.json"


def releases(path: Path | None = None) -> Releases:
    """What a lock file records; nothing where there is none."""
    file = path or lock_path()
    found: Releases = json.loads(file.read_text(encoding="utf-8")) if file.is_file() else {}
    return found


def standing(name: str, version: str, digest: str, known: Releases) -> Standing:
    """How a pack compares with what was released."""
    released = known.get(name, {}).get(version)
    if released is None:
        return Standing.UNRELEASED
    return Standing.RELEASED if released == digest else Standing.ALTERED


def with_releases(packs: Iterable[Content], known: Releases) -> Releases:
    """What is known and these packs; raises PackError where a version was released with another content."""
    merged = {name: dict(versions) for name, versions in known.items()}
    problems = []
    for pack in packs:
        if standing(pack.name, pack.version, pack.digest, known) is Standing.ALTERED:
            message = f"{pack.name} {pack.version} was released with another content"
            problems.append(Problem(message, hint="raise the version"))
        merged.setdefault(pack.name, {})[pack.version] = pack.digest
    if problems:
        raise PackError(problems)
    return {name: dict(sorted(merged[name].items())) for name in sorted(merged)}
