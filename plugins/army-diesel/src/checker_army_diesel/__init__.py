"""One engine family for the assembly checker: a turbocharged diesel of 6.25 in bore."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from checker import hook


@hook
def rule_packs() -> Mapping[str, Path]:
    """The pack, which builds on four-stroke."""
    return {"army-diesel": Path(__file__).parent / "army_diesel"}
