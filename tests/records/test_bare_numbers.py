"""Bare numbers: a record's units choose between the units of one family, never the family itself.

That lash preload is set in turns, vacuum read in inches of mercury, roughness in microinches or micrometres and
strength in thousands of psi is common practice. Factors: NIST SP 811:2008, appendix B.8.
"""

from __future__ import annotations

import judging
import pytest

from checker import Report
from checker.records.entry import Reading
from checker.units.names import FAMILIES
from checker.units.units import KINDS, UNITS, bare_unit, units_of

INCH = {"length": "in", "angle": "deg", "pressure": "psi", "torque": "lb-ft", "mass": "g", "volume": "cc"}
METRIC = {"length": "mm", "angle": "deg", "pressure": "kPa", "torque": "N m", "mass": "g", "volume": "cc"}
STATIONS = {"cylinder": 1, "valve": 2, "main": 1, "fastener": 1}


def report(name: str, number: object, units: dict[str, str]) -> Report:
    return judging.report("street", {name: number}, units=units, stations=STATIONS)


def reading(name: str, number: object, units: dict[str, str]) -> Reading:
    (found,) = report(name, number, units).readings
    return found


@pytest.mark.parametrize(
    ("name", "number", "units", "meant"),
    [
        ("adjuster_turn", [0.5], INCH, "0.5 turn"),
        ("adjuster_turn", ["180 deg"], INCH, "180 deg"),
        ("idle_vacuum", 17.5, INCH, "17.5 inHg"),
        ("idle_vacuum", 59, METRIC, "59 kPa"),
        ("bore_roughness", [14], INCH, "14 uin"),
        ("bore_roughness", [0.4], METRIC, "0.4 um"),
        ("altitude", 1200, INCH, "1200 ft"),
        ("altitude", 365, METRIC, "365 m"),
        ("fastener_proof_strength", [120], INCH, "120 ksi"),
        ("fastener_proof_strength", [830], METRIC, "830 MPa"),
        ("main_oil_clearance", [0.0025], INCH, "0.0025 in"),
        ("main_oil_clearance", [0.0635], METRIC, "0.0635 mm"),
        ("oil_pressure", 60, INCH, "60 psi"),
        ("oil_pressure", 400, METRIC, "400 kPa"),
        ("fastener_torque", [70], INCH, "70 lb-ft"),
        ("fastener_torque", [95], METRIC, "95 N m"),
        ("piston_mass", [500], {"mass": "lbm"}, "500 g"),
    ],
)
def test_a_bare_number_is_in_the_unit_its_characteristic_is_read_in(
    name: str, number: object, units: dict[str, str], meant: str
) -> None:
    value, name_of_unit = meant.split(" ", 1)
    found = report(name, number, units).readings[0]
    assert found.unit == UNITS[name_of_unit]
    assert found.low == pytest.approx(UNITS[name_of_unit].to_si(float(value)))


@pytest.mark.parametrize(
    ("name", "number", "units", "named"),
    [
        ("bore_roughness", [14], {"length": "um"}, "uin"),
        ("idle_vacuum", 450, INCH, "mbar"),
        ("cylinder_bore", [103.5], INCH, "a bare number in mm, 103.50 mm"),
    ],
)
def test_what_is_out_of_range_by_a_units_factor_names_that_unit(
    name: str, number: object, units: dict[str, str], named: str
) -> None:
    (flag,) = report(name, number, units).flags
    assert flag.is_refused
    assert named in flag.message


def test_a_written_unit_wins_over_all_of_it() -> None:
    assert reading("idle_vacuum", "8.6 psi", INCH).unit == UNITS["psi"]


def test_without_a_unit_of_its_kind_a_bare_number_is_refused_with_its_own_unit_first() -> None:
    with pytest.raises(Exception, match="it could be 14 uin or"):
        report("bore_roughness", [14], {"pressure": "psi"})


@pytest.mark.parametrize("kind", KINDS)
def test_every_choice_stays_within_the_kind_and_the_family(kind: str) -> None:
    families = FAMILIES.get(kind, ())
    for own in units_of(kind):
        assert bare_unit(own, None) is None
        assert bare_unit(own, own) == own
        for stated in units_of(kind):
            found = bare_unit(own, stated)
            assert found is not None
            assert found.kind == kind
            shared = [sides for sides in families if any(own.name in side for side in sides)][:1]
            assert not shared or any(found.name in side for side in shared[0])


def test_families_name_units_of_their_kind() -> None:
    for kind, families in FAMILIES.items():
        for name in (name for sides in families for side in sides for name in side):
            assert UNITS[name].kind == kind
            assert UNITS[name].name == name
