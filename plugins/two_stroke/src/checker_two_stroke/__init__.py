"""Two-stroke engines for the assembly checker: a rule pack, and the geometry that its rules call."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from checker import Function, hook

from checker_two_stroke.functions import FUNCTIONS


@hook
def rule_packs() -> Mapping[str, Path]:
    """The two-stroke pack, which stands alone."""
    return {"two-stroke": Path(__file__).parent / "two_stroke"}


@hook
def functions() -> Mapping[str, Function]:
    """Piston travel, port opening angle and squish velocity."""
    return FUNCTIONS
