"""One value printed in two units: compared by what the digits of both leave open, never by a flat share.

The inch is 25.4 mm exactly (NIST SP 811:2008, appendix B.8), the pound-force foot 1.355 818 N m and the pound-force
per square inch 6.894 757 kPa (the same, B.8). Which digits manuals print, and that some cut off instead of rounding, is
common practice.
"""

from __future__ import annotations

from decimal import ROUND_DOWN, ROUND_HALF_UP, Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from checker.notation.plain import SLIPPED
from checker.notation.read import NotationError, read_quantity
from checker.units.units import UNITS, unit

IN = unit("in")


def of_kind(name: str) -> str:
    return {"torque": "lb-ft", "pressure": "psi", "length": "in", "volume": "cc"}[UNITS[name].kind]


@pytest.mark.parametrize(
    ("text", "kept", "name"),
    [
        ("0.052 mm (0.002 in)", 0.052, "mm"),
        ("0.002 in (0.052 mm)", 0.052, "mm"),
        ("0.03 mm (0.001 in)", 0.03, "mm"),
        ("0.20 mm (.008)", 0.20, "mm"),
        ("0.10 mm (0.003 in)", 0.10, "mm"),  # 0.0039 cut off
        ("0.46 mm (0.018 in)", 0.46, "mm"),
        ("80.00 mm (3.1496 in)", 3.1496, "in"),
        ("80.01 mm (3.150 in)", 80.01, "mm"),
        (".078 in (1.983 mm)", 1.983, "mm"),
        ("25 N m (18 lb-ft)", 25, "N m"),
        ("120 N m (90 lb-ft)", 120, "N m"),
        ("10 N m (89 lb-in)", 89, "lb-in"),
        ("1400 kPa (200 psi)", 1400, "kPa"),
        ("350 kPa (50 psi)", 350, "kPa"),
        ("3 3/4 in (95.25 mm)", 3.75, "in"),
        ("5.7L / 5,665 cc", 5665, "cc"),
    ],
)
def test_both_are_one_value_the_finer_is_taken_and_the_other_kept(text: str, kept: float, name: str) -> None:
    found = unit(name)
    written = read_quantity(text, unit(of_kind(name)), IN if found.kind == "length" else None)
    (span,) = written.spans
    assert span.low == span.high
    assert found.from_si(span.low) == pytest.approx(kept, rel=1e-3)
    assert written.text == text
    assert any(note.startswith("also written as") for note in written.notes)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("81.0127 mm (3.150 in)", "3.150 in is 80.01 mm, 1.0027 mm from 81.0127 mm"),
        ("79.9973 mm (3.1396 in)", "3.1396 in is 79.7458 mm, 0.2515 mm from 79.9973 mm"),
        ("0.20 mm (.012)", ".012 in is 0.3048 mm, 0.1048 mm from 0.20 mm"),
        ("65 Nm (58 lb-ft)", "58 lb-ft is 78.6 N m, 13.6 N m from 65 N m"),
        ("0.0000 in (0.01 mm)", "0.01 mm is 0.0004 in, 0.0004 in from 0.0000 in"),
        ("140 ft lb (197 N-m)", "197 N m is 145.3 lb-ft, 5.3 lb-ft from 140 lb-ft"),
    ],
)
def test_a_disagreement_is_refused_and_told_in_numbers(text: str, told: str) -> None:
    expected = unit("lb-ft") if "Nm" in text or "N-m" in text else IN
    with pytest.raises(NotationError, match="do not agree") as error:
        read_quantity(text, expected, expected)
    assert told in error.value.message
    assert len(error.value.readings) == 2


def test_a_misplaced_point_is_flagged_and_the_first_kept() -> None:
    written = read_quantity(".0025 (.0063)", IN, IN)
    assert written.notes[0].endswith(SLIPPED)
    assert written.spans[0].low == pytest.approx(0.0025 * 0.0254)


SIZES = st.integers(1_000, 200_000).map(lambda tenths: Decimal(tenths) / 10_000)  # 0.1 to 20 in
WAYS = st.sampled_from((ROUND_HALF_UP, ROUND_DOWN))


def printed(value: Decimal, decimals: int, way: str) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-decimals), rounding=way)


@given(SIZES, st.integers(3, 4), st.integers(2, 4), WAYS, WAYS)
def test_no_sound_pair_is_refused(inches: Decimal, in_inches: int, in_metric: int, one: str, other: str) -> None:
    first, second = printed(inches, in_inches, one), printed(inches * Decimal("25.4"), in_metric, other)
    for text in (f"{first} in ({second} mm)", f"{second} mm ({first} in)"):
        assert not any(note.endswith(SLIPPED) for note in read_quantity(text, IN, IN).notes)


@given(SIZES, st.integers(3, 4), st.integers(2, 4), st.sampled_from(("0.010", "0.040", "-0.010", "0.100")), WAYS)
def test_a_misprint_of_ten_thousandths_never_passes(
    inches: Decimal, in_inches: int, in_metric: int, off: str, way: str
) -> None:
    first, second = printed(inches + Decimal(off), in_inches, way), printed(inches * Decimal("25.4"), in_metric, way)
    assume(first > 0)
    try:
        written = read_quantity(f"{second} mm ({first} in)", IN, IN)
    except NotationError as error:
        assert "do not agree" in error.message
    else:
        assert any(note.endswith(SLIPPED) for note in written.notes)
