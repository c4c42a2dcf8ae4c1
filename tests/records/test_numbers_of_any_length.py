"""Any number that JSON, CSV or YAML can hold is read; digits that no gauge shows are no resolution.

IEEE 754-2019, binary64: seventeen significant digits bring every double back.
"""

from __future__ import annotations

import json

import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from notation_tools import with_words_of_engines
from places import DATA

from checker import InputError
from checker.documents.document import parse_json, parse_yaml
from checker.notation.read import NotationError, read_quantity
from checker.records.entry import Reading
from checker.records.record import record_in
from checker.sheets.written import number_text, with_unit
from checker.units.units import unit

IN, MM = unit("in"), unit("mm")
BOOK = with_words_of_engines(DATA / "quantities")
HEAD = {"record": 1, "assembly": "T", "application": "any-use", "rule_packs": {"quantities": ">=1"}}


def reading_of(number: float | str, name: str = "a_length", **units: str) -> Reading:
    data = {**HEAD, "units": units or {"length": "in"}, "readings": {name: number}}
    (reading,) = BOOK.check(record_in(parse_json(json.dumps(data).encode(), "r.json"))).readings
    return reading


@pytest.mark.parametrize("text", ["2.44889763779", "2.952755905511811", "1e-3", "1E-05", "-1.3877787807814457e-17"])
def test_numbers_that_programs_write(text: str) -> None:
    (span,) = read_quantity(text, IN, IN).spans
    assert span.low == pytest.approx(float(text) * 0.0254, rel=1e-15)
    assert reading_of(float(text)).low == pytest.approx(float(text) * 0.0254, rel=1e-15)
    (from_yaml,) = BOOK.check(
        record_in(
            parse_yaml(
                f"record: 1\nassembly: T\napplication: any-use\nrule_packs: {{quantities: '>=1'}}\n"
                f"units: {{length: in}}\nreadings: {{a_length: {text}}}\n".encode(),
                "r.yaml",
            )
        )
    ).readings
    assert from_yaml.low == reading_of(float(text)).low


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_double_is_read_as_itself(number: float) -> None:
    for text in (repr(number), f"{number!r} mm", f"{number:.17g} mm"):
        (span,) = read_quantity(text, MM, MM).spans
        assert span.low == span.high == number * 0.001


@examples(50)
@given(st.floats(-9, 9, allow_nan=False))
def test_what_json_holds_is_what_is_read(number: float) -> None:
    assert reading_of(number).low == pytest.approx(number * 0.0254, rel=1e-15, abs=0)


@given(st.floats(1e-12, 1e12))
def test_what_a_spreadsheet_holds_is_read_to_its_fifteen_digits(number: float) -> None:
    (span,) = read_quantity(with_unit(number_text(number), MM), MM).spans
    assert span.low == pytest.approx(number * 0.001, rel=1e-14)


@pytest.mark.parametrize("text", ["1e999", "1e309 mm", "-1e309", "1.7e308 GPa"])
def test_what_no_double_holds_is_refused(text: str) -> None:
    expected = unit("psi") if "GPa" in text else MM
    with pytest.raises(NotationError, match="beyond any measurement"):
        read_quantity(text, expected, expected)


def test_a_number_beyond_what_is_possible_is_refused_by_its_range() -> None:
    assert "outside what is possible" in reading_of(1e300).set_aside


@pytest.mark.parametrize(
    ("text", "step"),
    [
        ("2.4489", 1e-4),
        ("2.44895", 1e-5),
        ("2.44889763779", 1e-4),  # 62.202 mm converted: an inch micrometer shows tenths
        ("0.002533333333", 1e-4),
        ("1e-17", 1e-4),
        ("2 7/16", 0.0),
    ],
)
def test_the_last_digit_of_a_computed_number_is_no_resolution(text: str, step: float) -> None:
    assert reading_of(text).last_digit == pytest.approx(step * 0.0254)


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("1,234.5", ("1234.5",)),
        ("1.234,5", ("1234.5",)),
        ("0,05", ("0.05",)),
        ("12,5", ("12.5",)),
        ("12,500", ("12.500", "12500")),
        ("1,4,3", ()),
    ],
)
def test_a_comma_is_asked_about_with_what_it_can_mean(text: str, readings: tuple[str, ...]) -> None:
    with pytest.raises(NotationError) as error:
        read_quantity(text, MM, MM)
    assert tuple(reading for reading in error.value.readings) == readings


@pytest.mark.parametrize("word", ["true", "False", "yes", "nan", ".inf", "-Infinity", "null", "n/a"])
def test_words_for_truth_and_for_nothing_are_no_numbers(word: str) -> None:
    with pytest.raises(NotationError) as error:
        read_quantity(word, MM, MM)
    assert "three" not in str(error.value)
    assert "number" in error.value.message


def test_truth_in_a_record_is_an_error_not_a_number() -> None:
    with pytest.raises(InputError) as error:
        reading_of(True)
    assert "three" not in str(error.value)
