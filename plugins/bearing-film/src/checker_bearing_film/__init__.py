"""The oil film of plain journal bearings for the assembly checker: a rule pack, and the film that its rules call."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from checker import hook

if TYPE_CHECKING:
    from checker import Function


@hook
def rule_packs() -> Mapping[str, Path]:
    """The pack of the bearing film, which stands on the four-stroke pack."""
    return {"bearing-film": Path(__file__).parent / "bearing_film"}


@hook
def functions() -> Mapping[str, Function]:
    """The film, its friction and flow, and the oil's viscosity."""
    # Imported only here: whoever asks for help or for a version needs no arrays.
    from checker_bearing_film.functions import FUNCTIONS

    return FUNCTIONS
