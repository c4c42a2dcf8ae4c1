"""Two-stroke engines for the assembly checker: a rule pack, and the geometry that its rules call."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from checker import hook

if TYPE_CHECKING:
    from checker import Function


@hook
def rule_packs() -> Mapping[str, Path]:
    """The two-stroke pack, which stands alone."""
    return {"two-stroke": Path(__file__).parent / "two_stroke"}


@hook
def functions() -> Mapping[str, Function]:
    """Piston travel, port timing, open areas, specific time-areas and squish velocity."""
    # Imported only here: whoever asks for help or for a version needs no arrays.
    from checker_two_stroke.functions import FUNCTIONS

    return FUNCTIONS
