"""The name that was meant: what the standard library finds nearest, found without comparing every name."""

from __future__ import annotations

from difflib import get_close_matches

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checker.errors import nearest_name
from checker.units.units import UNITS

NAMES = st.text("ab_", max_size=6)


@given(NAMES, st.lists(NAMES, max_size=8), st.sampled_from([0.3, 0.6, 0.9]))
def test_it_is_the_one_that_the_standard_library_finds(name: str, known: list[str], alike: float) -> None:
    expected = next(iter(get_close_matches(name, [each for each in known if name + each], 1, alike)), "")
    assert nearest_name(name, known, alike) == expected


@pytest.mark.parametrize("name", ["milimeter", "parsec", "lb-ftt", "Nm ", "thousandths", "x", ""])
def test_so_it_is_of_the_units(name: str) -> None:
    assert nearest_name(name, UNITS) == next(iter(get_close_matches(name, UNITS, 1, 0.6)), "")
