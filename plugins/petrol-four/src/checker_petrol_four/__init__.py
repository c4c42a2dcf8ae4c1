"""One engine family for the assembly checker: an overhead-cam petrol four of 81 mm bore."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from checker import hook


@hook
def rule_packs() -> Mapping[str, Path]:
    """The pack, which builds on four-stroke."""
    return {"petrol-four": Path(__file__).parent / "petrol_four"}
