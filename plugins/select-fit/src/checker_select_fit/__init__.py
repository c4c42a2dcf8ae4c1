"""Chooses parts from the shelf so that the assembly checker reads every clearance within.

>>> import checker
>>> from checker_select_fit import propose, read_shelf
>>> record = checker.read_record("engine.yaml")
>>> rulebook = checker.rulebook_for(record)
>>> proposal = propose(rulebook, record, read_shelf("shelf.yaml", rulebook))
"""

from __future__ import annotations

from checker_select_fit.assignment import cheapest
from checker_select_fit.fit import Move, Proposal, propose
from checker_select_fit.kinds import KINDS, Kind
from checker_select_fit.shelf import Part, Shelf, read_shelf

__all__ = ["KINDS", "Kind", "Move", "Part", "Proposal", "Shelf", "cheapest", "propose", "read_shelf"]
