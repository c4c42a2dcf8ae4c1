"""What the packs compute against general-purpose libraries, asked while the test runs."""

from __future__ import annotations

import math

import psychrolib
import pytest
from judging import finding, report
from molmass import Formula
from pressfit import fit
from screw_thread_lib import Assembly
from screw_thread_lib.data import ASME_M_6g6H_dict, ASME_UN_2A2B_dict
from uncertainties import ufloat

INCH = 0.0254
LB_PER_HP_H = 0.45359237 / (745.69987158227 * 3600)
USE = "street-performance"


@pytest.mark.parametrize("thread", [name for name in ASME_UN_2A2B_dict if ASME_UN_2A2B_dict[name]["dbsc"] >= 0.25])
def test_inch_stress_areas_are_those_of_the_thread_library(thread: str) -> None:
    """FED-STD-H28/2B, formula 1b, as screw_thread_lib gives it: the proof load of one bolt in grade 8 steel."""
    made = Assembly.from_database("ASME_UN_2A2B", thread)
    preload = made.As_FEDSTD_1b() * 120_000
    found = report(
        USE,
        {
            "thread_standard": "inch",
            "fastener_grade": "SAE 8",
            "thread_diameter": f"{made.dbsc} in",
            "thread_pitch": f"{1 / made.n:.8f} in",
            "fastener_preload": f"{preload:.4f} lbf",
        },
    )
    assert finding(found, "fastener-preload").value == pytest.approx(1.0, rel=5e-5)


@pytest.mark.parametrize("thread", ASME_M_6g6H_dict)
def test_metric_stress_areas_are_those_of_the_thread_library(thread: str) -> None:
    """ISO/TR 16224, 4.2.2.2, as screw_thread_lib gives it in inches: the proof load of one bolt in class 10.9 steel."""
    made = Assembly.from_database("ASME_M_6g6H", thread)
    found = report(
        USE,
        {
            "thread_standard": "metric",
            "fastener_grade": "10.9",
            "thread_diameter": f"{made.dbsc * 25.4:.4f} mm",
            "thread_pitch": f"{25.4 / made.n:.4f} mm",
            "fastener_preload": f"{made.As_ISO() * 25.4**2 * 830:.4f} N",
        },
    )
    assert finding(found, "fastener-preload").value == pytest.approx(1.0, rel=5e-5)


@pytest.mark.parametrize("specification", ["25 H7/g6", "22 H6/h5", "24 H7/f6"])
def test_a_floating_pin_has_the_clearances_of_its_iso_fit(specification: str) -> None:
    """ISO 286 by pressfit, extremes of both parts as two cylinders."""
    asked = fit(specification)
    (least_bore, greatest_bore), (least_pin, greatest_pin) = asked.hole_limits_mm, asked.shaft_limits_mm
    low, high = asked.clearance_um
    found = report(
        USE,
        {
            "piston_pin_bore": [f"{least_bore} mm", f"{greatest_bore} mm"],
            "piston_pin_diameter": [f"{greatest_pin} mm", f"{least_pin} mm"],
        },
        facts={"pin_fit": "floating"},
    )
    computed = [finding(found, "floating-pin-in-piston", cylinder).value * 1e6 for cylinder in (1, 2)]
    assert computed == pytest.approx([low, high], abs=1e-6)


@pytest.mark.parametrize("specification", ["25 H7/p6", "60 H7/s6"])
def test_a_damper_hub_has_the_press_of_its_iso_fit(specification: str) -> None:
    """ISO 286 by pressfit: interference is clearance below nothing."""
    asked = fit(specification)
    (least_hub, greatest_hub), (least_snout, greatest_snout) = asked.hole_limits_mm, asked.shaft_limits_mm
    presses = [
        finding(
            report(USE, {"hub_bore": f"{hub} mm", "crank_snout_diameter": f"{snout} mm"}, facts={"hub_fit": "press"}),
            "hub-press",
        ).value
        for hub, snout in ((least_hub, greatest_snout), (greatest_hub, least_snout))
    ]
    assert [-press * 1e6 for press in presses] == pytest.approx(list(asked.clearance_um), abs=1e-6)


@pytest.mark.parametrize("celsius", range(0, 51, 5))
def test_correction_factors_with_the_vapour_pressure_of_the_air_library(celsius: int) -> None:
    """SAE J1349 with psychrolib's saturation pressure, in damp air on a hot or a cold day."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    dry = 100_000 - 0.8 * psychrolib.GetSatVapPres(celsius)
    expected = 1.18 * (99_000 / dry) * math.sqrt((celsius + 273) / 298) - 0.18
    found = report(
        USE,
        {
            "pull_barometer": "1000 mbar",
            "pull_humidity": "80 %",
            "pull_air_temperature": f"{celsius} degC",
            "correction_standard": "SAE J1349",
        },
    )
    assert finding(found, "correction-factor-range").value == pytest.approx(expected, rel=1e-4)


def stoichiometric(carbon: float, hydrogen: float, oxygen: float) -> float:
    """Air for a unit mass of fuel; air holds 23.14 per cent of oxygen by mass."""
    atoms = {"C": carbon, "H": hydrogen, "O": oxygen}
    mass = sum(count * Formula(symbol).mass for symbol, count in atoms.items())
    return (carbon + hydrogen / 4 - oxygen / 2) * Formula("O2").mass / 0.2314 / mass


def test_the_alcohol_pack_wants_as_much_more_e85_as_its_air_demands() -> None:
    """Molar masses by molmass; E85 is 85 per cent ethanol by volume, 0.857 by mass."""
    petrol, ethanol = stoichiometric(1, 1.87, 0), stoichiometric(2, 6, 1)
    more = petrol / (0.857 * ethanol + 0.143 * petrol)
    found = report(
        "drag",
        {"expected_fuel_rate": "0.70 lb/hp-h"},
        packs=("alcohol",),
        facts={"fuel": "e85"},
        rule_packs={"alcohol": ">=1,<2"},
    )
    low, high = (edge.value for edge in finding(found, "alcohol-fuel-rate").edges)
    assert [low, high] == pytest.approx([rate * more * LB_PER_HP_H for rate in (0.45, 0.50)], rel=0.02)


@pytest.mark.parametrize(("fuel", "atoms"), [("methanol", (1, 4, 1)), ("ethanol", (2, 6, 1)), ("propane", (3, 8, 0))])
def test_lambda_is_the_same_whatever_scale_the_gauge_has(fuel: str, atoms: tuple[int, int, int]) -> None:
    """The stoichiometric ratio of each fuel by molmass: a tenth rich is a lambda of 0.9 on any of them."""
    ratio = stoichiometric(*atoms)
    found = report(
        USE,
        {"displayed_air_fuel_ratio": f"{0.9 * ratio:.6f}", "gauge_stoichiometric_ratio": f"{ratio:.6f}"},
        facts={"fuel": "petrol"},
    )
    assert finding(found, "lambda-full-throttle").value == pytest.approx(0.9, abs=1e-6)


def test_uncertainty_of_a_clearance_is_that_of_the_uncertainties_library() -> None:
    clearance = ufloat(0.9277, 0.0001) - ufloat(0.9271, 0.00005)
    found = report(
        USE,
        {
            "piston_pin_bore": {"with": "air-gauge", "values": {"1": "0.9277 in"}},
            "piston_pin_diameter": {"with": "micrometer", "values": {"1": "0.9271 in"}},
        },
        facts={"pin_fit": "floating"},
        instruments={
            "air-gauge": {"expanded_uncertainty": "0.2 thou"},
            "micrometer": {"expanded_uncertainty": "0.1 thou"},
        },
    )
    made = finding(found, "floating-pin-in-piston")
    assert made.value == pytest.approx(clearance.nominal_value * INCH, rel=1e-9)
    assert made.uncertainty == pytest.approx(2 * clearance.std_dev * INCH, rel=1e-6)


def test_uncertainty_of_a_compression_ratio_is_that_of_the_uncertainties_library() -> None:
    bore, stroke, chamber = ufloat(86.0, 0.005), ufloat(86.0, 0.02), ufloat(40.0, 0.25)
    swept = math.pi / 4 * bore**2 * stroke / 1000
    gasket = math.pi / 4 * 87.0**2 * 1.2 / 1000
    ratio = 1 + swept / (chamber + 5.0 + gasket + math.pi / 4 * bore**2 * 0.3 / 1000)
    found = report(
        "diesel",
        {
            "cylinder_bore": {"with": "bore-gauge", "values": {"1": "86.0 mm"}},
            "stroke": {"with": "dial", "values": {"1": "86.0 mm"}},
            "chamber_volume": {"with": "burette", "values": {"1": "40.0 cc"}},
            "piston_crown_volume": "5.0 cc dish",
            "head_gasket_bore": "87.0 mm",
            "head_gasket_thickness": "1.2 mm",
            "deck_clearance": "0.3 mm",
        },
        facts={"fuel": "diesel"},
        instruments={
            "bore-gauge": {"expanded_uncertainty": "0.01 mm"},
            "dial": {"expanded_uncertainty": "0.04 mm"},
            "burette": {"expanded_uncertainty": "0.5 cc"},
        },
    )
    made = finding(found, "compression-ratio-for-fuel")
    assert made.value == pytest.approx(ratio.nominal_value, rel=1e-9)
    # On a curve the larger of the moves to either side counts, so that doubt is never told too small.
    assert 2 * ratio.std_dev <= made.uncertainty <= 1.02 * 2 * ratio.std_dev
