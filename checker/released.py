"""Released packs: the lock file that says what each released version contains."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files

LOCK = "released.json"


@cache
def released() -> dict[str, dict[str, str]]:
    """SHA-256 of every released pack: by name, then by version."""
    path = files("checker_rules").joinpath(LOCK)
    found: dict[str, dict[str, str]] = json.loads(path.read_text()) if path.is_file() else {}
    return found


def is_released(name: str, version: str, digest: str) -> bool:
    """Whether a pack is exactly what was released under its name and version."""
    return released().get(name, {}).get(version) == digest
