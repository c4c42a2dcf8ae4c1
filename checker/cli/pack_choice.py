"""Which of the installed rule packs know a use."""

from __future__ import annotations

from collections.abc import Mapping

from checker.errors import Problem, UsageError, nearest
from checker.packs.pack import Pack, foundations
from checker.packs_asked import packs_with_use


def uses_of(packs: Mapping[str, Pack]) -> dict[str, str]:
    """The uses that packs define, by name with their titles."""
    return {use.name: use.title for pack in packs.values() for use in pack.applications}


def on_top_of(base: str, packs: Mapping[str, Pack]) -> dict[str, str]:
    """The packs that go on top of any use of a pack, for they define none themselves, by name with their titles."""
    without_uses = {name: pack for name, pack in packs.items() if not pack.applications}
    return {name: pack.title for name, pack in without_uses.items() if base in foundations(pack, packs)}


def packs_for(use: str, packs: Mapping[str, Pack]) -> tuple[str, ...]:
    """The names of the packs that define a use; raises UsageError with the nearest use where none does."""
    fitting = packs_with_use(use, packs)
    if not fitting:
        known = uses_of(packs)
        hint = nearest(use, (*known, *packs)) or f"known: {', '.join(known)}"
        if use in packs:
            hint = f"{use} is a rule pack: name it with --pack, and with --for a use it goes with: {', '.join(known)}"
        raise UsageError(Problem(f"no installed rule pack has a use {use!r}", hint=hint))
    return fitting
