"""Which unit to show a value in: the one its reader wrote."""

from __future__ import annotations

from collections.abc import Mapping

from checker.units.units import Unit, unit

_INCH_TO_METRIC = {
    "in": "mm",
    "thou": "um",
    "uin": "um",
    "ft": "m",
    "in2": "mm2",
    "in3": "cc",
    "lb-ft": "N m",
    "lb-in": "N m",
    "lbf": "N",
    "psi": "kPa",
    "degF": "degC",
    "delta degF": "delta degC",
    "hp": "kW",
    "oz": "g",
    "lbm": "kg",
    "ft/min": "m/s",
    "ft/s2": "m/s2",
}
_METRIC_TO_INCH = {
    "mm": "in",
    "um": "thou",
    "cc": "cc",
    "N m": "lb-ft",
    "N": "lbf",
    "kPa": "psi",
    "bar": "psi",
    "degC": "degF",
    "kW": "hp",
    "m/s": "ft/min",
}


def shown_in(usual: Unit, units: Mapping[str, str]) -> Unit:
    """The unit for a value that a rule shows in `usual`, where a record's bare numbers have `units` by kind."""
    own = units.get(usual.kind)
    if own == usual.name:
        return usual
    length = units.get("length")
    if length is None:
        return usual
    other = (_INCH_TO_METRIC if unit(length).name in ("mm", "cm", "m", "um") else _METRIC_TO_INCH).get(usual.name)
    return unit(other) if other else usual
