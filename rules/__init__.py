"""The rule packs shipped with the checker."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from checker.plugins import hook


@hook
def rule_packs() -> Mapping[str, Path]:
    """Every folder here that holds a pack, by the pack's name."""
    here = Path(__file__).parent
    return {path.parent.name.replace("_", "-"): path.parent for path in sorted(here.glob("*/pack.yaml"))}
