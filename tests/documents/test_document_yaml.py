"""YAML: what is read, what is refused and where, under libyaml and under the pure parser alike."""

from __future__ import annotations

import math
from functools import partial
from unittest import mock

import pytest
import yaml
from examples import examples
from hypothesis import example, given
from hypothesis import strategies as st

from checker.documents import document
from checker.documents.document import Document, parse_yaml
from checker.documents.yaml_events import FASTEST, Loader, read_yaml
from checker.errors import InputError

LOADERS: dict[str, Loader] = {"pure": yaml.SafeLoader, "fastest": FASTEST}


def parse(text: str | bytes, loader: Loader) -> Document:
    """Reads with this parser, whichever is the fastest here."""
    raw = text.encode() if isinstance(text, str) else text
    with mock.patch.object(document, "read_yaml", partial(read_yaml, loader=loader)):
        return document.parse_yaml(raw, "f.yaml")


@pytest.fixture(params=LOADERS)
def loader(request: pytest.FixtureRequest) -> Loader:
    return LOADERS[request.param]


# --- numbers, words and text -----------------------------------------------------------------------------------------

# YAML 1.2.2, section 10.3.2, example of core schema tags: the decimal ones (figures from memory)
CORE_NUMBERS = {"0": 0, "-19": -19, "0.": 0.0, "-0.0": -0.0, ".5": 0.5, "+12e03": 12000.0, "-2E+05": -200000.0}
# The same example: read as octal, hexadecimal, capital truth, infinity or not a number there, otherwise elsewhere
CORE_REFUSED = ["0o7", "0x3A", "True", "FALSE", ".inf", "-.Inf", "+.INF", ".NAN"]
# Written as numbers, but text to readers of YAML 1.1 (its float form asks for a point, and a sign on the exponent)
NUMBERS = {"1e3": 1000.0, "1.e3": 1000.0, "1.0e3": 1000.0, "1E3": 1000.0, "1e-3": 0.001, "-.5": -0.5, "+.5": 0.5}


@pytest.mark.parametrize("written", CORE_NUMBERS | NUMBERS)
def test_numbers(written: str, loader: Loader) -> None:
    document = parse(f"a: {written}", loader)
    expected = (CORE_NUMBERS | NUMBERS)[written]
    value = document.data["a"]
    assert (type(value), value, math.copysign(1, value)) == (type(expected), expected, math.copysign(1, expected))
    assert document.written("a") == written


TWO_MEANINGS = [
    *CORE_REFUSED,
    *("yes", "No", "NO", "on", "Off", "TRUE", "False", "Null", "NULL"),
    *("1:30", "-1:30", "190:20:30", "10:1", "12:30:00", "1:30.5", "1_2:30"),
    *("010", "08", "-007", "00.5", "0025", "0b11", "0X1F", "0x_1"),
    *("1_000", "1_000.5", "1_000e3", "1.5_0", "1_"),
    *("inf", "-inf", "nan", "NaN", "Infinity", "1e400", "1.0e+400", "-1e999", "1e-400"),
    *("<<", "9" * 5000),
]


@pytest.mark.parametrize("shape", ["a: %s", "[%s]", "a: {b: %s}", "%s: 1"], ids=["entry", "item", "flow", "key"])
def test_scalars_with_two_meanings_are_refused_unless_quoted(shape: str, loader: Loader) -> None:
    taken = []
    for written in TWO_MEANINGS:
        try:
            taken.append((written[:12], parse(shape % written, loader).data))
        except InputError as error:
            assert {problem.place.line for problem in error.problems if problem.place} == {1}, written[:12]
        if len(written) < 200:
            assert parse(shape % f'"{written}"', loader).data, written
    assert taken == []


PLAIN_TEXT = [
    *("2.5 thou", "5/16 in", "7/16-20", "9.76:1", "2026-05-02", "2024-13-45", "4.03.1", "--4.03", "4,030", "0,05 mm"),
    *("y", "n", "Y", "N", "1.0.0", "1,<2", "yes please", "0025 in", "4032-T6", "1a:30", "no.", "4.030#nominal"),
    *("30 over", "10/10", "1-1/16", ".060 over", "+.020 in", "bore - stroke", "a_1", "12 %", "\uff14.03", "\u0664"),
]


@pytest.mark.parametrize("written", PLAIN_TEXT)
def test_everything_else_is_text(written: str, loader: Loader) -> None:
    assert parse(f"a: {written}\nb: 1", loader).data == {"a": written, "b": 1}


def test_true_false_and_nothing(loader: Loader) -> None:
    data = parse("[true, false, null, ~, ]\n", loader).data
    assert data == [True, False, None, None]
    assert parse("a:\nb: {c: , d: 1}", loader).data == {"a": None, "b": {"c": None, "d": 1}}


def test_a_comma_without_a_space_parts_what_is_certainly_two_values(loader: Loader) -> None:
    """Where the digits on both its sides could be one number with a decimal comma, it is refused."""
    assert parse("[4.030,4.031,.5]", loader).data == [4.03, 4.031, 0.5]
    assert parse("{low: 5 mm,high: 6 mm,of: [steel,iron,2.5 mm]}", loader).data == {
        "low": "5 mm",
        "high": "6 mm",
        "of": ["steel", "iron", "2.5 mm"],
    }
    for written in ("[4,030]", "[2.449,5]", "[1.5,030 in]", "{a: 4,030: 1}"):
        with pytest.raises(InputError, match="comma"):
            parse(written, loader)


def test_whole_numbers_and_dates_may_be_keys(loader: Loader) -> None:
    assert list(parse("{1: a, 0: b, 12: c, 2026-05-02: d}", loader).data) == ["1", "0", "12", "2026-05-02"]


@pytest.mark.parametrize("key", ["1.5", "-1", "+1", "1e3", "true", "null", "~", "", "bore:4.03", '"x\\n"', '""'])
def test_no_other_value_may_be_a_key(key: str, loader: Loader) -> None:
    with pytest.raises(InputError, match="key"):
        parse(f"{{? {key} : 1}}", loader)


# --- files that are refused: the fault, its line, its key, and words of the message -----------------------------------

HEAD = "schema: demo/1\nname: demo\nvalues:\n"
REFUSED = {
    "same key twice": (HEAD + "  bore: 4\n  stroke: 3\n  bore: 9\n", 6, "values.bore", "already on line 4"),
    "same key twice, in braces": (HEAD + "  bore: {value: 4, value: 9}\n", 4, "values.bore.value", "twice"),
    "same key twice, once in quotes": (HEAD + '  bore: 4\n  "bore": 9\n', 5, "values.bore", "already on line 4"),
    "same key twice, number and text": (HEAD + '  1: 4\n  "1": 9\n', 5, "values.1", "already on line 4"),
    "list as key": (HEAD + "  ? [a, b]\n  : 1\n", 4, "values", "cannot be a key"),
    "list as key, in braces": (HEAD + "  a: {[b]: 1}\n", 4, "values.a", "cannot be a key"),
    "no space after the colon": ("a: 1\nvalues: {bore:4.03, stroke: 3.48}\n", 2, "values", "a space must follow"),
    "decimal comma in braces": (HEAD + "  bore: {value: 4,030, unit: in}\n", 4, "values.bore.value", "comma"),
    "decimal comma in a list": (HEAD + "  bores: [4,030, 4,031]\n", 4, "values.bores, entry 1", "comma"),
    "decimal comma after a blank": (HEAD + "  bores: [4 ,030]\n", 4, "values.bores, entry 1", "comma"),
    "decimal comma after a line end": (HEAD + "  bores: [4\n  ,030]\n", 4, "values.bores, entry 1", "comma"),
    "no colon": (HEAD + "  bore:\n    value: 4.030\n      unit in\n", 5, "values.bore.value", "several lines"),
    "value on two lines": (HEAD + "  bore: 4.030\n    in\n", 4, "values.bore", "several lines"),
    "tag": (HEAD + "  bore: {value: !!int '', unit: in}\n", 4, "values.bore.value", "tags"),
    "tag on a list": (HEAD + "  bore: !!python/tuple [1]\n", 4, "values.bore", "tags"),
    "tag that means no tag": (HEAD + "  bore: ! 12\n", 4, "values.bore", "tags"),
    "tag on a key": (HEAD + "  !!str bore: 12\n", 4, "values", "tags"),
    "anchor": (HEAD + "  a: &x {value: 4.03}\n", 4, "values.a", "anchors"),
    "anchor on a key": (HEAD + "  &x a: 1\n", 4, "values", "anchors"),
    "alias": (HEAD + "  a: &x 1\n  b: *x\n", 5, "values.b", "aliases"),
    "alias as key": (HEAD + "  a: &x b\n  *x : 1\n", 5, "values", "aliases"),
    "alias of itself": ("&a [*a]\n", 1, "entry 1", "aliases"),
    "merge key": (HEAD + "  a: {<<: {value: 4.03}}\n", 4, "values.a", "merge keys"),
    "version directive": ("%YAML 1.2\n---\na: 1\n", 1, "", "directives"),
    "tag directive": ("# a\n\n%TAG ! tag:a,2000:\n---\na: !os.system x\n", 3, "", "directives"),
    "unknown directive": ("%FOO bar\n---\na: 1\n", 1, "", "directives"),
    "second document": (HEAD + "  bore: 4\n---\na: 1\n", 5, "", "second document"),
    "text after the end": (HEAD + "  bore: 4\n...\n}}}: [\n", 6, "", "not valid YAML"),
    "nothing": ("", 1, "", "no data"),
    "only a comment": ("# nothing\n", 1, "", "no data"),
    "only a start": ("---\n", 1, "", "no data"),
    "null": ("null\n", 1, "", "no data"),
    "tab as indentation": (HEAD + "\tbore: 4\n", 4, "", "tab"),
    "tab after a colon": (HEAD + "  bore:\t4\n", 4, "", "tab"),
    "tab before a comment": (HEAD + "  bore: 4\t# nominal\n", 4, "", "tab"),
    "tab in a block of text": (HEAD + "  note: |\n    a\tb\n", 5, "", "tab"),
    "tab after quotes": (HEAD + '  note: "a"\t\n', 4, "", "tab"),
    "escaped escape": (HEAD + '  note: "\\e[2J"\n', 4, "values.note", "U+001B"),
    "escaped carriage return": (HEAD + '  note: "ok\\r\\nverdict: within"\n', 4, "values.note", "U+000D"),
    "escaped override": (HEAD + '  note: "a\\u202eb"\n', 4, "values.note", "U+202E"),
    "escaped control in a key": (HEAD + '  "a\\u0007b": 1\n', 4, "values", "U+0007"),
    "escaped surrogate": (HEAD + '  note: "\\ud800"\n', 4, None, ""),
    "escape past the last character": (HEAD + '  note: "\\U00110000"\n', None, None, ""),
    "quote that is not closed": (HEAD + '  note: "abc\n', None, "", "is not closed"),
    "bracket that is not closed": (HEAD + "  note: [1, 2\n", None, "", "the bracket opened on line 4 is not closed"),
    "colon inside text": (HEAD + "  note: first: second\n", 4, "", "put text that holds ': ' in quotes"),
    "percent sign first": (HEAD + "  note: %d\n", 4, "", "quotes"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused(name: str, loader: Loader) -> None:
    text, line, key, words = REFUSED[name]
    with pytest.raises(InputError) as caught:
        parse(text, loader)
    found = [problem for problem in caught.value.problems if words in str(problem)]
    assert found, caught.value
    place = found[0].place
    assert place is not None
    assert line is None or place.line == line
    assert key is None or place.key == key
    assert str(found[0]).isprintable()


def test_all_problems_are_found_in_one_go(loader: Loader) -> None:
    text = "a: no\nb: 010\nc: {d: 1:30, d: 2}\na: 1\nf: *g\ne:\t1\nh: [\n"
    with pytest.raises(InputError) as caught:
        parse(text, loader)
    places = [(problem.place.line, problem.place.key) for problem in caught.value.problems if problem.place]
    assert places[:5] == [(1, "a"), (2, "b"), (3, "c.d"), (3, "c.d"), (4, "a")]
    assert (5, "f") in places
    assert (6, "") in places


# --- files that are read ---------------------------------------------------------------------------------------------

PLAIN = HEAD + "  bore: {value: 4.030, unit: in}\n  stroke: {value: 3.480, unit: in}\n"
PLAIN_DATA = {
    "schema": "demo/1",
    "name": "demo",
    "values": {"bore": {"value": 4.03, "unit": "in"}, "stroke": {"value": 3.48, "unit": "in"}},
}


@pytest.mark.parametrize(
    "raw",
    [
        PLAIN.encode(),
        b"\xef\xbb\xbf" + PLAIN.encode(),
        PLAIN.replace("\n", "\r\n").encode(),
        PLAIN.rstrip().encode(),
        f"---\n{PLAIN}...\n".encode(),
        f"# note\n\n{PLAIN}# end".encode(),
        b'{"schema": "demo/1", "name": "demo",\n "values": {"bore": {"value": 4.030, "unit": "in"},\n'
        b' "stroke": {"value": 3.480, "unit": "in"}}}',
    ],
    ids=["plain", "mark", "CRLF", "no last line end", "start and end", "comments", "braces"],
)
def test_controls_are_read_alike(raw: bytes, loader: Loader) -> None:
    assert parse(raw, loader).data == PLAIN_DATA


def test_tabs_and_line_ends_may_stand_in_quotes_and_blocks(loader: Loader) -> None:
    text = 'a: "x\ty"\nb: \'x\ty\'\nc: |\n  one\n  two\nd: "p\\tq\\nr"\ne: "one\n  two"\n'
    assert parse(text, loader).data == {"a": "x\ty", "b": "x\ty", "c": "one\ntwo\n", "d": "p\tq\nr", "e": "one two"}


def test_quoted_scalars_are_text(loader: Loader) -> None:
    assert parse('["4.030", \'1:30\', "no", \'null\', ""]', loader).data == ["4.030", "1:30", "no", "null", ""]


def test_question_mark_key_at_the_end_of_the_file(loader: Loader) -> None:
    """The mark of the missing value stands past the last line."""
    document = parse("? lines", loader)
    assert document.data == {"lines": None}
    assert document.place("lines").line == 1


# --- large files: refused by a limit or at the first fault, so that the cost stays bounded ----------------------------

LARGE = {
    "100 000 list signs on a line": (lambda: "- " * 100_000 + "1", "levels"),
    "100 000 open brackets": (lambda: "[" * 100_000 + "]" * 100_000, ""),
    "150 000 keys": (lambda: "values:\n" + "".join(f"  k{index}: 1\n" for index in range(150_000)), "entries"),
    "a value of 1.9 MB": (lambda: "a: " + "x" * 1_900_000, "characters"),
    "merges of 20 000 empty mappings": (
        lambda: "a: &a [" + ",".join(["{}"] * 20_000) + "]\n" + "".join(f"b{i}: {{<<: *a}}\n" for i in range(5000)),
        "anchors",
    ),
    "base sixty of 300 kB": (lambda: "v: 1" + ":59" * 100_000, "base sixty"),
}


@pytest.mark.parametrize("name", LARGE)
def test_large_files_are_refused(name: str) -> None:
    build, words = LARGE[name]
    with pytest.raises(InputError) as caught:
        parse_yaml(build().encode(), "f.yaml")
    assert words in str(caught.value)
    assert all(len(str(problem)) < 500 for problem in caught.value.problems)


# --- laws ------------------------------------------------------------------------------------------------------------

PIECES = st.sampled_from(
    [
        *("a", "b", "1", "4.030", "0", "µ", "no", "null", "~", ".inf", "1:30", "'", '"', "\\", "\\ud800", "\\e"),
        *("-", ":", ",", "[", "]", "{", "}", "#", "*a", "&a ", "!", "!!str ", "<<", "|", ">", "|2-", "%", "@", "`"),
        *("- ", "? ", ": ", ", ", " #", "\n", "\n  ", "\n    ", "\n- ", "\n---\n", " ", "\t", "---", "..."),
        *("lines", "\r\n", "\ufeff", "\u2028"),
    ]
)
SOUP = st.lists(PIECES, max_size=40).map("".join)
SPLICED = st.builds(
    lambda at, drop, soup: PLAIN[:at] + soup + PLAIN[at + drop :],
    st.integers(0, len(PLAIN)),
    st.integers(0, 12),
    SOUP,
)


@examples(300)
@given(st.one_of(st.binary(max_size=200), SOUP.map(str.encode), SPLICED.map(str.encode)))
@example(b"? lines")
@example(b"a: !!timestamp x")
@example(b"a: !!bool x")
@example(b"a: !!timestamp {}")
def test_any_bytes_are_a_document_or_an_input_error(raw: bytes) -> None:
    try:
        document = parse_yaml(raw, "f.yaml")
    except InputError as error:
        lines = raw.count(b"\n") + raw.count(b"\r") + 1
        for problem in error.problems:
            assert str(problem).isprintable()
            assert problem.place is not None
            assert problem.place.line is not None
            assert 1 <= problem.place.line <= lines + 1
    else:
        assert document.place().line is not None


@examples(600)
@given(st.one_of(SOUP, SPLICED))
def test_both_parsers_agree_on_what_both_accept(text: str) -> None:
    read = []
    for loader in LOADERS.values():
        try:
            document = parse(text, loader)
        except InputError:
            continue
        read.append(repr(document.data))
    assert len(set(read)) < 2


WORDS = st.text("bno µé-", min_size=1, max_size=12)
SCALARS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**15) + 1, 10**15 - 1),
    st.floats(allow_nan=False, allow_infinity=False, allow_subnormal=False),
    WORDS,
)
DATA = st.recursive(SCALARS, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(WORDS, inner, max_size=4))


class PlainDumper(yaml.SafeDumper):
    def ignore_aliases(self, data: object) -> bool:
        return True


@examples(150)
@given(DATA.filter(lambda data: data is not None))
def test_what_the_library_writes_is_read_back(data: object) -> None:
    """PyYAML's writer is the reference here, in block style: in flow style it may break lines."""
    written = yaml.dump(data, Dumper=PlainDumper, allow_unicode=True, width=10**6, sort_keys=False)
    assert repr(parse_yaml(written.encode(), "f.yaml").data) == repr(data)
