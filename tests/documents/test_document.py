"""Documents: what a file may be, where its values stand, how they were written, and the limits."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from checker.documents.document import MOST_BYTES, Document, parse_json, parse_yaml, read_document
from checker.documents.scalars import LONGEST_NUMBER, MOST_INTEGER_DIGITS
from checker.documents.tree import DEEPEST, LONGEST_KEY, LONGEST_SCALAR, MOST_ENTRIES, MOST_PROBLEMS
from checker.errors import InputError, Problem

RECORD = b"""\
assembly: Training engine 3
readings:
  main_journal_diameter: [2.4490, .5, "2.4490", 25 tenths]
  main_bearing_bore: {1: 2.4514, 2: null}
"""


def refused(raw: bytes, parse: object = parse_yaml) -> tuple[Problem, ...]:
    assert callable(parse)
    with pytest.raises(InputError) as caught:
        parse(raw, "record.yaml")
    return caught.value.problems


def test_data_is_plain() -> None:
    data = parse_yaml(RECORD, "record.yaml").data
    assert data["readings"]["main_journal_diameter"] == [2.449, 0.5, "2.4490", "25 tenths"]
    assert data["readings"]["main_bearing_bore"] == {"1": 2.4514, "2": None}


@pytest.mark.parametrize(
    ("path", "line", "column", "key"),
    [
        ((), 1, 1, ""),
        (("readings",), 2, 1, "readings"),
        (("readings", "main_journal_diameter", 1), 3, 35, "readings.main_journal_diameter, entry 2"),
        (("readings", "main_bearing_bore", "2"), 4, 34, "readings.main_bearing_bore.2"),
        (("readings", "main_bearing_bore", "3"), 4, 3, "readings.main_bearing_bore.3"),
        (("facts", "piston_alloy"), 1, 1, "facts.piston_alloy"),
    ],
    ids=lambda value: str(value),
)
def test_place_is_the_key_or_the_item_or_what_encloses_it(
    path: tuple[str | int, ...], line: int, column: int, key: str
) -> None:
    place = parse_yaml(RECORD, "record.yaml").place(*path)
    assert (place.file, place.line, place.column, place.key) == ("record.yaml", line, column, key)


def test_numbers_keep_their_written_text() -> None:
    document = parse_yaml(RECORD, "record.yaml")
    written = [document.written("readings", "main_journal_diameter", index) for index in range(4)]
    assert written == ["2.4490", ".5", "2.4490", "25 tenths"]
    assert parse_json(b'{"bore": 4.030e0}', "a.json").written("bore") == "4.030e0"


def test_digest_is_of_the_bytes_as_they_are(tmp_path: Path) -> None:
    raw = b"\xef\xbb\xbf" + RECORD.replace(b"\n", b"\r\n")
    path = tmp_path / "record.yaml"
    path.write_bytes(raw)
    document = read_document(path)
    assert document.digest == hashlib.sha256(raw).hexdigest()
    assert document.data == parse_yaml(RECORD, "record.yaml").data


# --- bytes -----------------------------------------------------------------------------------------------------------

BAD_BYTES = {
    "UTF-16 little-endian": ("a: 1".encode("utf-16"), 1, "UTF-16"),
    "UTF-16 big-endian": (b"\xfe\xff" + "a: 1".encode("utf-16-be"), 1, "UTF-16"),
    "UTF-16 without its mark": ("a: 1".encode("utf-16-le"), 1, "U+0000"),
    "Latin-1": ("a: 1\nb: 4 \xb5m".encode("latin-1"), 2, "not UTF-8"),
    "encoded surrogate": (b"a: \xed\xa0\x80", 1, "not UTF-8"),
    "null byte": (b"a: 1\n\0", 2, "U+0000"),
    "escape": (b"a: \x1b[2J", 1, "U+001B"),
    "C1 control": ("a: 1\nb: \x9b2J".encode(), 2, "U+009B"),
    "next line": ("a: 1\x85b: 2".encode(), 1, "U+0085"),
    "line separator": ("a: 1\nx: 1\u2028y: 2".encode(), 2, "U+2028"),
    "paragraph separator": ("x: 1\u2029y: 2".encode(), 1, "U+2029"),
    "lone carriage return": (b"a: 1\rb: 2\n", 1, "U+000D"),
    "no-break space": ("a:\n\xa0 b: 1".encode(), 2, "U+00A0"),
    "right-to-left override": ('a: "x\u202e"'.encode(), 1, "U+202E"),
    "zero-width space": ("bo\u200bre: 1".encode(), 1, "U+200B"),
    "byte order mark inside": ("a: 1\n\ufeffb: 2".encode(), 2, "U+FEFF"),
    "private use": ("a: \ue000".encode(), 1, "U+E000"),
}


@pytest.mark.parametrize("name", BAD_BYTES)
@pytest.mark.parametrize("parse", [parse_yaml, parse_json], ids=["yaml", "json"])
def test_bytes_with_two_readings_or_none_are_refused(name: str, parse: object) -> None:
    raw, line, words = BAD_BYTES[name]
    (problem,) = refused(raw, parse)
    assert problem.place is not None
    assert problem.place.line == line
    assert words in problem.message


def test_every_bad_line_is_named() -> None:
    problems = refused("a: \u200b\nb: 1\nc: \u200b".encode())
    assert [problem.place.line for problem in problems if problem.place] == [1, 3]


# --- files -----------------------------------------------------------------------------------------------------------


def file_refused(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_document(path)
    (problem,) = caught.value.problems
    assert str(problem).isprintable()
    return str(problem)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    assert "not a regular file" in file_refused(tmp_path / "pipe.yaml")


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no such device here")
def test_a_device_is_refused(tmp_path: Path) -> None:
    (tmp_path / "zero.yaml").symlink_to("/dev/zero")
    assert "not a regular file" in file_refused(tmp_path / "zero.yaml")


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_circle_of_links_is_refused(tmp_path: Path) -> None:
    (tmp_path / "one.yaml").symlink_to(tmp_path / "two.yaml")
    (tmp_path / "two.yaml").symlink_to(tmp_path / "one.yaml")
    assert "cannot be read" in file_refused(tmp_path / "one.yaml")


def test_a_folder_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    (tmp_path / "folder.yaml").mkdir()
    assert "cannot be read" in file_refused(tmp_path / "folder.yaml")
    assert "cannot be read" in file_refused(tmp_path / "missing.yaml")


@pytest.mark.parametrize("name", ["a\nb.yaml", "\udcff\x1b[2J.yaml", "nul\0.yaml"], ids=["line end", "escape", "null"])
def test_names_of_files_are_shown_escaped(tmp_path: Path, name: str) -> None:
    assert "cannot be read" in file_refused(tmp_path / name)


def test_the_kind_of_file_is_told_by_its_name(tmp_path: Path) -> None:
    (tmp_path / "record.JSON").write_text('{"a": 1}')
    (tmp_path / "record.yml").write_text("a: 1")
    assert read_document(tmp_path / "record.JSON").data == read_document(tmp_path / "record.yml").data
    (tmp_path / "record.txt").write_text("a: 1")
    assert ".yaml" in file_refused(tmp_path / "record.txt")


def test_a_file_may_be_shown_under_another_name(tmp_path: Path) -> None:
    (tmp_path / "rules.yaml").write_text("a: 1")
    assert read_document(tmp_path / "rules.yaml", shown_as="pack/rules.yaml").source == "pack/rules.yaml"


# --- limits: each at the limit and one past it -----------------------------------------------------------------------


def nested(levels: int) -> bytes:
    return b"[" * levels + b"1" + b"]" * levels


def padded(size: int) -> bytes:
    return b'{"a": 1}' + b" " * (size - 8)


LIMITS = {
    "bytes": (lambda extra: padded(MOST_BYTES + extra), "bytes"),
    "levels": (lambda extra: nested(DEEPEST + extra), "levels"),
    "entries": (lambda extra: b"[" + b"1, " * (MOST_ENTRIES - 2 + extra) + b"1]", "entries"),
    "scalar": (lambda extra: b'{"a": "' + b"x" * (LONGEST_SCALAR + extra) + b'"}', "characters"),
    "key": (lambda extra: b'{"' + b"x" * (LONGEST_KEY + extra) + b'": 1}', "characters"),
    "integer": (lambda extra: b'{"a": ' + b"9" * (MOST_INTEGER_DIGITS + extra) + b"}", "digits"),
    "number": (lambda extra: b'{"a": 0.' + b"9" * (LONGEST_NUMBER - 2 + extra) + b"}", "characters"),
}


@pytest.mark.parametrize("parse", [parse_yaml, parse_json], ids=["yaml", "json"])
@pytest.mark.parametrize("name", LIMITS)
def test_limit_holds_at_the_limit_and_refuses_one_more(name: str, parse: object) -> None:
    build, words = LIMITS[name]
    assert callable(parse)
    assert isinstance(parse(build(0), "at the limit"), Document)
    (problem,) = refused(build(1), parse)
    assert words in problem.message


def test_entries_of_mappings_count() -> None:
    entries = b"".join(b"k%d: 1\n" % index for index in range(MOST_ENTRIES))
    assert "entries" in refused(entries)[-1].message


def test_a_file_past_the_limit_is_refused_whole(tmp_path: Path) -> None:
    path = tmp_path / "big.json"
    path.write_bytes(padded(MOST_BYTES))
    assert read_document(path).data == {"a": 1}
    path.write_bytes(padded(MOST_BYTES + 1))
    assert "bytes" in file_refused(path)


def test_reading_ends_when_problems_are_too_many() -> None:
    def bad(count: int) -> bytes:
        return b"".join(b"k%d: no\n" % index for index in range(count))

    assert len(refused(bad(MOST_PROBLEMS))) == MOST_PROBLEMS
    problems = refused(bad(10 * MOST_PROBLEMS))
    assert len(problems) == MOST_PROBLEMS + 1
    assert "too many problems" in "".join(problem.message for problem in problems)
