"""Published figures, worked examples and standards' tables against what the packs compute; sources stand in data/."""

from __future__ import annotations

import pytest
from judging import finding, record, report
from reference_values import Figure, book, figures, rule_for, topics

from checker.units.units import unit


@pytest.mark.parametrize(
    "figure", [pytest.param(figure, id=figure.id) for topic in topics() for figure in figures(topic)]
)
def test_the_packs_compute_what_the_source_prints(figure: Figure) -> None:
    judged = book().check(record("street-performance", figure.given))
    found = finding(judged, rule_for(figure.asks, figure.unit))
    assert figure.agrees(unit(figure.unit).from_si(found.value)), f"{found.shown_value}: {figure.source}"


@pytest.mark.parametrize("figure", [pytest.param(figure, id=figure.id) for figure in figures("units")])
def test_units_convert_as_the_standards_say(figure: Figure) -> None:
    value = unit(figure.given["from"]).to_si(figure.given["value"])
    assert figure.agrees(unit(figure.unit).from_si(value)), figure.source


@pytest.mark.parametrize(
    ("one", "other", "expected", "tolerance"),
    [
        (("99 kPa", "100 degF"), ("99 kPa", "80 degF"), 1.022, 0.0005),
        (("29.5 inHg", "77 degF"), ("30 inHg", "77 degF"), 1.0204, 0.0002),
    ],
)
def test_iso_1585_moves_with_temperature_and_pressure_as_a_handbook_works_it(
    one: tuple[str, str], other: tuple[str, str], expected: float, tolerance: float
) -> None:
    """Automotive handbook, 5th edition, page 415, two worked ratios (read)."""
    factors = [
        finding(
            report(
                "street",
                {"dry_pressure": pressure, "pull_air_temperature": temperature, "correction_standard": "ISO 1585"},
            ),
            "correction-factor-range",
        ).value
        for pressure, temperature in (one, other)
    ]
    assert factors[0] / factors[1] == pytest.approx(expected, abs=tolerance)
