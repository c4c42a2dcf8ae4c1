"""The unit table against pint's general registry and against NIST SP 811."""

from __future__ import annotations

import json
import keyword
from collections import Counter
from pathlib import Path

import pytest
from pint_registry import REGISTRY

import checker
from checker.units.definitions import definitions_in, text_of
from checker.units.dimensions import definitions_of, multiply
from checker.units.names import NAMES, REFUSED
from checker.units.units import KINDS, NAMED_UNITS, UNITS, UnitError, unit, units_of

# Names that the general registry spells in another way; every other name is the same in both.
SPELLED = {
    "percent": "1 / 100", "ratio": "1", "rpm": "1 / minute", "tenth": "1e-4 inch", "uin": "1e-6 inch",
    "square_inch": "inch**2", "square_cm": "cm**2", "square_mm": "mm**2", "cubic_inch": "inch**3",
    "cubic_ft": "ft**3", "cubic_m": "m**3", "lbm": "lb", "N_m": "N*m", "kgf_m": "kgf*m", "kgf_cm": "kgf*cm",
    "lbf_ft": "lbf*ft", "lbf_in": "lbf*inch", "metric_hp": "metric_horsepower", "Mpsi": "1e6 psi",
    "kgf_per_cm2": "kgf/cm**2", "m_per_s": "m/s", "ft_per_s": "ft/s", "ft_per_min": "ft/minute",
    "km_per_h": "km/hour", "m_per_s2": "m/s**2", "ft_per_s2": "ft/s**2", "lb_per_hour": "lb/hour",
    "kg_per_hour": "kg/hour", "g_per_s": "g/s", "cc_per_min": "cc/minute", "l_per_min": "l/minute",
    "gal_per_hour": "gal/hour", "cubic_ft_per_min": "ft**3/minute", "cubic_ft_per_hour": "ft**3/hour",
    "Pa_s": "Pa*s", "mPa_s": "mPa*s", "cst": "cSt", "psi_per_1000_rpm": "psi*minute/1000", "lbf_per_inch": "lbf/inch",
    "N_per_mm": "N/mm", "g_in": "g*inch", "g_mm": "g*mm", "oz_in": "oz*inch", "thou_per_deg": "thou/deg",
    "mm_per_deg": "mm/deg", "kg_per_m3": "kg/m**3", "g_per_cc": "g/cc", "lb_per_gal": "lb/gal", "per_K": "1/K",
    "s_per_m": "s/m", "lb_per_hp_hour": "lb/(hp*hour)", "g_per_kWh": "g/(kW*hour)",
}  # fmt: skip

# NIST Special Publication 811, appendix B.8, from memory: as many digits as it prints.
NIST_SP_811 = {
    "inch": 2.54e-2, "uin": 2.54e-8, "ft": 3.048e-1, "square_inch": 6.4516e-4, "cubic_inch": 1.638706e-5,
    "cubic_ft": 2.831685e-2, "gal": 3.785412e-3, "qt": 9.463529e-4, "lbm": 4.535924e-1, "oz": 2.834952e-2,
    "lbf": 4.448222, "kgf": 9.80665, "lbf_ft": 1.355818, "lbf_in": 1.129848e-1, "kgf_m": 9.80665, "hp": 7.456999e2,
    "metric_hp": 7.354988e2, "psi": 6.894757e3, "ksi": 6.894757e6, "inHg": 3.386389e3, "inH2O": 2.490889e2,
    "mmHg": 1.333224e2, "ft_per_min": 5.08e-3, "mph": 4.4704e-1, "ft_per_s2": 3.048e-1, "lb_per_hour": 1.259979e-4,
    "cubic_ft_per_min": 4.719474e-4, "lbf_per_inch": 1.751268e2, "reyn": 6.894757e3, "deg": 1.745329e-2,
    "lb_per_gal": 1.198264e2, "lb_per_hp_hour": 1.689659e-7, "bar": 1e5, "cst": 1e-6,
}  # fmt: skip


@pytest.mark.parametrize("name", NAMED_UNITS)
def test_every_factor_agrees_with_the_general_registry(name: str) -> None:
    theirs = REGISTRY.Quantity(REGISTRY.parse_expression(SPELLED.get(name, name))).to_base_units()
    assert NAMED_UNITS[name].factor == pytest.approx(theirs.magnitude, rel=1e-12)
    without_angle = {f"[{base}]": exponent for base, exponent in NAMED_UNITS[name].dimension if base != "angle"}
    assert without_angle == {base: exponent for base, exponent in theirs.dimensionality.items() if exponent}


@pytest.mark.parametrize("name", NIST_SP_811)
def test_factors_agree_with_nist_sp_811(name: str) -> None:
    assert NAMED_UNITS[name].factor == pytest.approx(NIST_SP_811[name], rel=5e-7)


@pytest.mark.parametrize(
    ("text", "value", "kelvin"),
    # Fixed points of the scales: freezing and boiling of water, the crossing at -40, ISO 1 reference temperature.
    [("degF", 32, 273.15), ("degF", 212, 373.15), ("degF", -40, 233.15), ("degC", 20, 293.15), ("degF", 68, 293.15)],
)
def test_temperatures_at_fixed_points(text: str, value: float, kelvin: float) -> None:
    assert unit(text).to_si(value) == pytest.approx(kelvin, rel=1e-12)
    assert unit(text).from_si(kelvin) == pytest.approx(value, rel=1e-12, abs=1e-9)


def test_a_kind_says_more_than_a_dimension() -> None:
    assert unit("lb-ft").dimension == unit("J").dimension
    assert unit("lb-ft").kind == "torque" != unit("J").kind
    assert unit("degF").kind == "temperature" != unit("delta degF").kind
    assert unit("kg").kind == "mass" != unit("kgf").kind
    assert unit("lb/ft").kind == "torque"
    assert unit("lb/in").kind == "spring rate"
    assert unit("deg").dimension != unit("1").dimension


def test_units_of_one_kind_have_one_dimension() -> None:
    for kind in KINDS:
        assert len({found.dimension for found in units_of(kind)}) == 1, kind


def test_power_is_torque_times_speed() -> None:
    torque, speed = NAMED_UNITS["lbf_ft"], NAMED_UNITS["rpm"]
    assert multiply(torque.dimension, speed.dimension) == NAMED_UNITS["hp"].dimension
    # The dynamometer constant 5252.113 (33000 / 2 pi), printed in every handbook of the trade.
    one_turn = 2 * 3.141592653589793
    assert 5252.113 * torque.factor * speed.factor * one_turn == pytest.approx(unit("hp").factor, rel=1e-6)


@pytest.mark.parametrize("name", REFUSED)
def test_refused_names_say_why_and_what_to_write(name: str) -> None:
    with pytest.raises(UnitError) as error:
        unit(name)
    assert REFUSED[name].reason in str(error.value)
    assert all(unit(other) for other in REFUSED[name].instead)


@pytest.mark.parametrize(
    ("name", "hint"), [("PSI", "psi"), ("MM", "mm"), ("Nmm", ""), ("thuo", "thou"), ("LB-FT", "lb-ft"), ("", "")]
)
def test_an_unknown_name_brings_the_nearest(name: str, hint: str) -> None:
    with pytest.raises(UnitError, match="no unit") as error:
        unit(name)
    assert hint in error.value.hint


def test_the_table_is_closed_and_names_each_unit_once() -> None:
    lines = [line for table in NAMES.values() for line in table.replace(",\n", ",").strip().splitlines()]
    spellings = Counter(name.strip() for line in lines for name in line.partition(": ")[2].split(","))
    assert [name for name, count in spellings.items() if count > 1] == []
    assert not set(UNITS) & set(REFUSED)
    for name in ("kinch", "millithou", "Mm", "cfM", "dimensionless", "pa"):
        assert name not in UNITS


UNIT_FILE = Path(checker.__file__).parent / "units" / "units.txt"


def test_what_is_kept_of_the_unit_file_is_what_pint_makes_of_it() -> None:
    kept = UNIT_FILE.with_suffix(".json").read_text(encoding="ascii")
    assert kept == text_of(UNIT_FILE.read_bytes()), "renew units.json: see units/definitions.py"
    assert json.loads(kept)["units"] == definitions_in(UNIT_FILE.read_text(encoding="ascii"))


def test_another_unit_file_is_worked_out_anew() -> None:
    kept = UNIT_FILE.with_suffix(".json").read_bytes()
    fathom = UNIT_FILE.read_bytes() + b"fathom = 6 * ft\n"
    assert "fathom" not in definitions_of(UNIT_FILE.read_bytes(), kept)
    # The international fathom, 1.8288 m (NIST SP 811, appendix B.9).
    assert definitions_of(fathom, kept)["fathom"] == {"factor": 1.8288, "offset": 0.0, "dimension": {"length": 1}}


def test_the_unit_file_and_the_table_name_the_same_units() -> None:
    lines = UNIT_FILE.read_text(encoding="ascii").splitlines()
    defined = {line.partition(" = ")[0] for line in lines if " = " in line and not line.startswith("#")}
    assert set(NAMED_UNITS) == defined - {"degF", "degC"} | {"delta_degF", "delta_degC"}
    assert not any(keyword.iskeyword(name) or not name.isidentifier() for name in NAMED_UNITS)
