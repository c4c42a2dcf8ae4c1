"""Piston to valve over crank angle for the assembly checker: a rule pack, and the curves that its rules call."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from checker import hook

if TYPE_CHECKING:
    from checker import Function


@hook
def rule_packs() -> Mapping[str, Path]:
    """The pack of piston to valve, which stands on the four-stroke pack."""
    return {"piston-to-valve": Path(__file__).parent / "piston_to_valve"}


@hook
def functions() -> Mapping[str, Function]:
    """Piston drop, lobe lift, and the least clearance of both with its angle."""
    # Imported only here: whoever asks for help or for a version needs no arrays.
    from checker_piston_to_valve.functions import FUNCTIONS

    return FUNCTIONS
