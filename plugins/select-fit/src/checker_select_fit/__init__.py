"""Chooses parts from the shelf so that the assembly checker reads every clearance within.

>>> import checker
>>> from checker_select_fit import propose, read_shelf
>>> record = checker.read_record("engine.yaml")
>>> rulebook = checker.rulebook_for(record)
>>> proposal = propose(rulebook, record, read_shelf("shelf.yaml", rulebook))
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from checker_select_fit.assignment import cheapest
    from checker_select_fit.fit import Move, Proposal, propose
    from checker_select_fit.kinds import KINDS, Kind
    from checker_select_fit.shelf import Part, Shelf, read_shelf

_HOME_OF = {
    "KINDS": "kinds",
    "Kind": "kinds",
    "Move": "fit",
    "Part": "shelf",
    "Proposal": "fit",
    "Shelf": "shelf",
    "cheapest": "assignment",
    "propose": "fit",
    "read_shelf": "shelf",
}

__all__ = ["KINDS", "Kind", "Move", "Part", "Proposal", "Shelf", "cheapest", "propose", "read_shelf"]


def __getattr__(name: str) -> Any:
    """Import what is asked for only then: the checker imports this package to learn of its command."""
    if name not in _HOME_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOME_OF[name]}"), name)
