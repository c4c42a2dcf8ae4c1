"""Worked examples of measurement: rows of data/uncertainty.csv, each with its source, and sizes judged with doubt."""

from __future__ import annotations

import csv
import json
import math

import pytest
from fits_tools import finding, measured
from places import DATA

from checker import Decision, Finding

ROWS = {row["id"]: row for row in csv.DictReader((DATA / "uncertainty.csv").read_text().splitlines())}


def given_in(row: str) -> dict[str, float]:
    return json.loads(ROWS[row]["inputs"])


def expected(row: str) -> object:
    value, tolerance = ROWS[row]["expected"], ROWS[row]["tolerance"]
    kind, _, size = tolerance.partition(" ")
    return pytest.approx(float(value), **{kind: float(size)})


def instruments(**uncertainties: str) -> str:
    lines = "".join(f"  {name}: {{{amounts}}}\n" for name, amounts in uncertainties.items())
    return f"instruments:\n{lines}"


def um(millimetres: float) -> str:
    """A length as text, to a thousandth of a nanometre."""
    return f"{millimetres * 1000:.6f} um"


def size_judged(value: float, uncertainty: float, low: float, high: float, decision: Decision) -> Finding:
    """A size with its expanded uncertainty against two limits, all in mm; an infinite one leaves the rule one-sided."""
    facts = f"facts:\n  greatest_size: {um(high)}\n" + ("" if math.isinf(low) else f"  least_size: {um(low)}\n")
    listed = instruments(gauge=f"expanded_uncertainty: {um(uncertainty)}")
    found = measured(f"size: {{with: gauge, value: {um(value)}}}", facts + listed, decision=decision)
    return finding(found, "size-at-most" if math.isinf(low) else "size")
