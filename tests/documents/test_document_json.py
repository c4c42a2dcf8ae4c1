"""JSON: what RFC 8259 allows is read, with lines; everything else is refused. The standard library is the reference."""

from __future__ import annotations

import json

import pytest
from examples import examples
from hypothesis import example, given
from hypothesis import strategies as st

from checker.documents.document import Document, parse_json
from checker.documents.tree import DEEPEST
from checker.errors import InputError

HEAD = '{"schema": "demo/1",\n "values": {"bore": '
REFUSED = {
    "not a number": (HEAD + "NaN}}", 2, "values.bore", "'NaN'"),
    "infinity": (HEAD + "Infinity}}", 2, "values.bore", "'Infinity'"),
    "minus infinity": (HEAD + "-Infinity}}", 2, "values.bore", "'-Infinity'"),
    "overflow": (HEAD + "1e400}}", 2, "values.bore", "too large"),
    "underflow": (HEAD + "1e-400}}", 2, "values.bore", "too small"),
    "5000 digits": (HEAD + "9" * 5000 + "}}", 2, "values.bore", "digits"),
    "decimal comma": (HEAD + "4,030}}", 2, "values", "decimal point"),
    "leading zero": (HEAD + "010}}", 2, "values.bore", "'010'"),
    "no digit before the point": (HEAD + ".5}}", 2, "values.bore", "'.5'"),
    "no digit after the point": (HEAD + "5.}}", 2, "values.bore", "'5.'"),
    "plus sign": (HEAD + "+5}}", 2, "values.bore", "'+5'"),
    "hexadecimal": (HEAD + "0x1F}}", 2, "values.bore", "'0x1F'"),
    "underscore": (HEAD + "1_000}}", 2, "values.bore", "'1_000'"),
    "number with a unit": (HEAD + "4.030in}}", 2, "values.bore", "'4.030in'"),
    "capital truth": (HEAD + "True}}", 2, "values.bore", "'True'"),
    "bare text": (HEAD + "cast}}", 2, "values.bore", "double quotes"),
    "single quotes": ("{'a': 1}", 1, "", "a key in double quotes"),
    "bare key": ("{a: 1}", 1, "", "a key in double quotes"),
    "number as key": ("{1: 2}", 1, "", "a key in double quotes"),
    "comma at the end of an object": ('{"a": 1,\n}', 2, "", "found '}'"),
    "comma at the end of a list": ('{"a": [1,\n]}', 2, "a, entry 2", "found ']'"),
    "no comma": ('{"a": 1\n "b": 2}', 2, "", "',' or '}'"),
    "no colon": ('{"a" 1}', 1, "a", "':'"),
    "two commas": ("[1,, 2]", 1, "entry 2", "a value"),
    "wrong bracket": ('{"a": [1}}', 1, "a, entry 2", "',' or ']'"),
    "comment": ('{"a": 1, // c\n}', 1, "", "a key in double quotes"),
    "text after the end": ('{"a": 1}\n x', 2, "", "the end of the file"),
    "second value": ("{}\n{}", 2, "", "the end of the file"),
    "not closed": ('{"a": [1', 1, "a, entry 2", "found the end of the file"),
    "quote not closed": ('{"a": "b\n}', 1, "a", "not closed"),
    "escape at the end": ('{"a": "b\\\n"}', 1, "a", "not closed"),
    "nothing": ("", 1, "", "found the end of the file"),
    "blanks": (" \n\n", 1, "", "found the end of the file"),
    "null": ("null", 1, "", "no data"),
    "same key twice": ('{"bore": 4,\n "stroke": 3,\n "bore": 9}', 3, "bore", "already on line 1"),
    "same key twice, once escaped": ('{"bore": 4, "b\\u006fre": 9}', 1, "bore", "twice"),
    "empty key": ('{"": 1}', 1, "", "empty key"),
    "lone surrogate": ('{"a": "\\ud800"}', 1, "a", "U+D800"),
    "lone surrogate in a key": ('{"\\ud800": 1}', 1, "", "U+D800"),
    "escape sequence": ('{"name": "\\u001b[2J"}', 1, "name", "U+001B"),
    "carriage return": ('{"name": "a\\rb"}', 1, "name", "U+000D"),
    "right-to-left override": ('{"name": "a\\u202eb"}', 1, "name", "U+202E"),
    "unknown escape": ('{"name": "a\\qb"}', 1, "name", "not a JSON string"),
    "raw tab in a string": ('{"name": "a\tb"}', 1, "name", "not a JSON string"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused(name: str) -> None:
    text, line, key, words = REFUSED[name]
    with pytest.raises(InputError) as caught:
        parse_json(text.encode(), "f.json")
    found = [problem for problem in caught.value.problems if words in str(problem)]
    assert found, caught.value
    place = found[0].place
    assert place is not None
    assert (place.line, place.key) == (line, key)
    assert str(found[0]).isprintable()


def test_all_problems_up_to_the_first_fault_of_form_are_found() -> None:
    text = '{"a": NaN,\n "b": 010,\n "c": {"d": 1, "d": 2},\n "a": 1,\n "e": 1 2,\n "f": NaN}'
    with pytest.raises(InputError) as caught:
        parse_json(text.encode(), "f.json")
    places = [(problem.place.line, problem.place.key) for problem in caught.value.problems if problem.place]
    assert places == [(1, "a"), (2, "b"), (3, "c.d"), (4, "a"), (5, "")]


def test_deep_lists_are_refused_at_the_limit() -> None:
    with pytest.raises(InputError, match=f"more than {DEEPEST} levels"):
        parse_json(b"[" * 100_000 + b"]" * 100_000, "f.json")


def test_blanks_around_tokens_cost_no_more_than_their_length() -> None:
    """A search that tried each blank anew would not end."""
    blanks = b" " * 600_000
    assert parse_json(blanks + b'{"a":' + blanks + b"1}" + blanks, "f.json").data == {"a": 1}


def test_tabs_and_a_byte_order_mark_are_read() -> None:
    document = parse_json(b'\xef\xbb\xbf{\r\n\t"bore": 4.030,\r\n\t"note": "a\\tb\\n\\u00b5"\r\n}\r\n', "f.json")
    assert document.data == {"bore": 4.03, "note": "a\tb\nµ"}
    assert document.written("bore") == "4.030"
    assert (document.place("note").line, document.place("note").column) == (3, 2)


def test_a_pair_of_surrogates_is_one_character() -> None:
    """RFC 8259, section 7: the G clef (U+1D11E) as the example of an escape outside the basic plane."""
    assert parse_json(b'{"clef": "\\uD834\\uDD1E"}', "f.json").data == {"clef": "\U0001d11e"}


def test_examples_of_the_standard() -> None:
    """RFC 8259, section 13: the first example and a part of the second."""
    image = (
        b'{"Image": {"Width": 800, "Height": 600, "Title": "View from 15th Floor", "Thumbnail": '
        b'{"Url": "http://www.example.com/image/481989943", "Height": 125, "Width": 100}, '
        b'"Animated" : false, "IDs": [116, 943, 234, 38793]}}'
    )
    place = b'[{"precision": "zip", "Latitude": 37.7668, "Longitude": -122.3959, "Address": ""}]'
    for raw in (image, place):
        assert parse_json(raw, "f.json").data == json.loads(raw)


# --- laws ------------------------------------------------------------------------------------------------------------

KEYS = st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=8)
SCALARS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**15) + 1, 10**15 - 1),
    st.floats(allow_nan=False, allow_infinity=False, allow_subnormal=False),
    st.text(st.characters(exclude_categories=("C", "Z"), include_characters=" \n\t"), max_size=12),
)
DATA = st.recursive(SCALARS, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4))


@examples(200)
@given(DATA.filter(lambda data: data is not None), st.sampled_from([None, 2, "\t"]), st.booleans())
def test_what_the_standard_library_writes_is_read_back(
    data: object, indent: int | str | None, ascii_only: bool
) -> None:
    written = json.dumps(data, indent=indent, ensure_ascii=ascii_only)
    assert repr(parse_json(written.encode(), "f.json").data) == repr(data)


PIECES = st.sampled_from(
    [
        *("{", "}", "[", "]", ":", ",", '"', "'", '"a"', '"b"', '"a": ', "1", "-", "0", "4.030", "1e3", "e", ".", "+"),
        *("true", "null", "NaN", "x", "\\", "\\u", "\\ud800", "/", "#", " ", "\n", "\r\n", "\t", "\x00", "\ufeff", "é"),
    ]
)


@examples(500)
@given(st.one_of(st.binary(max_size=100), st.lists(PIECES, max_size=30).map(lambda pieces: "".join(pieces).encode())))
@example(b'"\\')
def test_any_bytes_are_a_document_or_an_input_error(raw: bytes) -> None:
    try:
        document: Document | None = parse_json(raw, "f.json")
    except InputError as error:
        document = None
        assert all(problem.place and problem.place.line and str(problem).isprintable() for problem in error.problems)
    if document is not None:
        assert repr(document.data) == repr(json.loads(raw.decode("utf-8-sig")))
