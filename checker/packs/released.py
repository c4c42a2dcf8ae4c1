"""Released packs: the lock file that says what each released version contains."""

from __future__ import annotations

import json
from collections.abc import Mapping
from enum import StrEnum
from importlib.resources import files
from pathlib import Path
from typing import NamedTuple, TypeAlias


class Release(NamedTuple):
    """SHA-256 of a released pack: of its files, and of what they say as JSON."""

    digest: str
    contents: str


Releases: TypeAlias = Mapping[str, Mapping[str, Release]]
"""Every released pack: by name, then by version."""


class Standing(StrEnum):
    """How the content of a pack compares with what was released under its name and version."""

    RELEASED = "released"
    ALTERED = "altered since it was released"
    UNRELEASED = "not released"


def lock_path() -> Path:
    """The lock file of the packs that come with the checker, beside their folders."""
    return Path(str(files("checker_rules"))) / "released.json"


def releases() -> Releases:
    """What the lock file records; nothing where there is none."""
    file = lock_path()
    known = json.loads(file.read_text(encoding="utf-8")) if file.is_file() else {}
    return {name: {number: Release(**each) for number, each in versions.items()} for name, versions in known.items()}


def lock_text(known: Releases) -> str:
    """The lock file that records these releases."""
    rows = {name: {number: each._asdict() for number, each in versions.items()} for name, versions in known.items()}
    return json.dumps(rows, indent=2) + "\n"


def release_of(digest: str, known: Releases) -> Release | None:
    """The release with this content, if there is one."""
    return next((each for versions in known.values() for each in versions.values() if each.digest == digest), None)


def standing(name: str, version: str, digest: str, known: Releases) -> Standing:
    """How a pack compares with what was released."""
    released = known.get(name, {}).get(version)
    if released is None:
        return Standing.UNRELEASED
    return Standing.RELEASED if released.digest == digest else Standing.ALTERED
