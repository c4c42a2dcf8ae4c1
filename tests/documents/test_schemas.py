"""Schemas: every way to miss one is told in plain words, at the line of the value, and nothing is ever fetched."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from importlib import resources
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from referencing.exceptions import Unresolvable

from checker.documents.document import parse_json, parse_yaml
from checker.documents.schema_faults import KEYWORDS, faults
from checker.documents.schemas import problems
from checker.errors import MOST_PROBLEMS, TOO_MANY, Problem
from checker.generated_files import generated

SCHEMA: dict[str, Any] = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "type": "object",
    "required": ["record", "assembly"],
    "additionalProperties": False,
    "properties": {
        "record": {"type": "integer", "enum": [1]},
        "assembly": {"type": "string", "minLength": 1, "maxLength": 20, "description": "Name of the assembly."},
        "application": {"enum": ["street", "drag", "marine"]},
        "date": {"type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"},
        "stations": {
            "type": "object",
            "minProperties": 1,
            "maxProperties": 2,
            "propertyNames": {"pattern": "^[a-z][a-z0-9-]{0,63}$"},
            "additionalProperties": {"type": "integer", "minimum": 1, "maximum": 64},
        },
        "uncertainty": {"type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 1},
        "limit": {"type": ["number", "string"]},
        "plausible": {"type": "array", "minItems": 2, "maxItems": 2, "items": {"$ref": "#/$defs/quantity"}},
        "flagged": {"type": "boolean"},
        "basis": {
            "type": "object",
            "required": ["kind", "source", "evidence"],
            "additionalProperties": False,
            "properties": {"kind": {"type": "string"}, "source": {"type": "string"}, "evidence": {"type": "string"}},
        },
    },
    "$defs": {"quantity": {"type": "string", "pattern": "^[-0-9.]+ [a-z]+$", "description": "Such as 2.5 thou."}},
}
BASIS = "basis: {kind: handbook, source: sheet, evidence: read"
HEAD = "record: 1\nassembly: Training engine 3\n"
GOOD = HEAD + (
    "application: drag\ndate: 2026-05-02\nstations: {main: 5}\nuncertainty: 0.2\nlimit: 0.5\n"
    f'plausible: ["0 in", 1 in]\nflagged: true\n{BASIS}}}\n'
)
MISSED = {
    "wrong kind": ("assembly: [a]", 3, "assembly", "expected text, found a list", "Name of the assembly"),
    "number for text": ("date: 2026", 3, "date", "expected text, found 2026", "put it in quotes"),
    "text for number": ("uncertainty: 0.2 thou", 3, "uncertainty", "expected a number, found '0.2 thou'", ""),
    "truth for number": ("uncertainty: true", 3, "uncertainty", "expected a number, found true", ""),
    "number for truth": ("flagged: 1", 3, "flagged", "expected true or false, found 1", ""),
    "nothing": ("date:", 3, "date", "expected text, found nothing", ""),
    "one of two kinds": ("limit: {a: 1}", 3, "limit", "expected a number or text, found a mapping", ""),
    "fraction": ("stations: {main: 5.5}", 3, "stations.main", "expected a whole number, found 5.5", ""),
    "other choice": (
        "application: stret",
        3,
        "application",
        "expected street or drag or marine",
        "did you mean 'street'?",
    ),
    "version": ("record: 2", 3, "record", "expected 1, found 2", ""),
    "unknown key": ("aplication: drag", 3, "aplication", "unknown key 'aplication'", "did you mean 'application'?"),
    "two alphabets": ("d\u0430te: 1", 3, "d\u0430te", "unknown key 'd\\u0430te'", "did you mean 'date'?"),
    "nested unknown key": (f"{BASIS},\n  knd: a}}", 4, "basis.knd", "unknown key 'knd'", "did you mean 'kind'?"),
    "far from any": (f"{BASIS}, xyz: a}}", 3, "basis.xyz", "unknown key 'xyz'", "known here: kind, source, evidence"),
    "outermost": (f"{BASIS}, date: 2026-05-02}}", 3, "basis.date", "unknown key 'date'", "it stands outermost"),
    "missing keys": ("basis: {kind: a}", 3, "basis", "'source', 'evidence' are missing", ""),
    "missing key": ("basis: {kind: a, source: b}", 3, "basis", "'evidence' is missing", ""),
    "form": ("date: 2 May", 3, "date", "'2 May' does not have the form: year, month and day", ""),
    "form with a line end": ("date: |\n  2026-05-02\n", 3, "date", "does not have the form", ""),
    "form of a key": ("stations:\n  Main: 5", 4, "stations.Main", "'Main' does not have the form: small letters", ""),
    "form of its own": ("plausible: [1 in, 2]", 3, "plausible, entry 2", "expected text, found 2", "put it in quotes"),
    "form by reference": (
        "plausible: [1 in,\n 2in]",
        4,
        "plausible, entry 2",
        "'2in' does not have the form",
        "2.5 thou",
    ),
    "empty text": ('assembly: ""', 3, "assembly", "must not be empty", "Name of the assembly"),
    "long text": (f"assembly: {'x' * 21}", 3, "assembly", "expected at most 20 characters, found 21", ""),
    "empty mapping": ("stations: {}", 3, "stations", "must not be empty", ""),
    "large mapping": ("stations: {a: 1, b: 2, c: 3}", 3, "stations", "expected at most 2 entries, found 3", ""),
    "short list": ("plausible: [1 in]", 3, "plausible", "expected at least 2 items, found 1", ""),
    "long list": ("plausible: [1 in, 2 in, 3 in]", 3, "plausible", "expected at most 2 items, found 3", ""),
    "below": ("stations: {main: 0}", 3, "stations.main", "expected at least 1, found 0", ""),
    "above": ("stations: {main: 65}", 3, "stations.main", "expected at most 64, found 65", ""),
    "on the lower edge": ("uncertainty: 0", 3, "uncertainty", "expected more than 0, found 0", ""),
    "on the upper edge": ("uncertainty: 1", 3, "uncertainty", "expected less than 1, found 1", ""),
}


def found_in(text: str) -> list[Problem]:
    return faults(parse_yaml(text.encode(), "f.yaml"), SCHEMA)


@pytest.mark.parametrize("name", MISSED)
def test_each_fault_is_told_at_its_line(name: str) -> None:
    text, line, key, message, hint = MISSED[name]
    own_key = text.split(":")[0]
    head = [other if not other.startswith(f"{own_key}:") else "#" for other in HEAD.splitlines()]  # no key twice
    (problem,) = found_in("\n".join([*head, text]))
    assert problem.place is not None
    assert (problem.place.line, problem.place.key) == (line, key)
    assert message in problem.message
    assert hint in problem.hint


def test_what_fits_has_no_problems() -> None:
    assert found_in(GOOD) == []
    assert faults(parse_json(b'{"record": 1, "assembly": "a"}', "f.json"), SCHEMA) == []


def test_all_faults_are_listed_by_line() -> None:
    found = found_in("record: 2\nasembly: a\nflagged: maybe\nstations: {Main: 0}\n")
    assert [problem.place.line for problem in found if problem.place] == [1, 1, 2, 3, 4, 4]
    assert "'assembly' is missing" in [problem.message for problem in found]


@pytest.mark.parametrize("raw", [b"text", b"- 1", b"5"])
def test_a_document_that_is_no_mapping_is_told_at_its_start(raw: bytes) -> None:
    (problem,) = faults(parse_yaml(raw, "f.yaml"), SCHEMA)
    assert problem.place is not None
    assert problem.place.line == 1
    assert "expected a mapping" in problem.message


def test_messages_stay_short_whatever_stands_in_the_document() -> None:
    text = f"date: {'x' * 15_000}\n" + "".join(f"unknown{index}: {'y' * 5_000}\n" for index in range(50))
    for problem in found_in(text):
        assert len(str(problem)) < 500
        assert str(problem).isprintable()


def test_no_more_is_listed_than_anyone_reads() -> None:
    entries = "".join(f"  S{index}: 0\n" for index in range(MOST_PROBLEMS))
    found = found_in(f"{HEAD}stations:\n{entries}")
    assert len(found) == MOST_PROBLEMS + 1
    assert found[-1].message == TOO_MANY


@pytest.mark.parametrize("target", ["http://127.0.0.1:9/a.json", "file:///etc/hostname", "urn:elsewhere"])
def test_nothing_is_fetched(target: str, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[object] = []
    monkeypatch.setattr("urllib.request.urlopen", lambda *given, **_options: opened.append(given))
    monkeypatch.setattr("socket.socket.connect", lambda *given: opened.append(given))
    with pytest.raises(Unresolvable, match=target):
        faults(parse_yaml(b"a: 1", "f.yaml"), {"$ref": target})
    assert not opened


def test_what_one_library_refuses_and_the_other_lets_pass_is_no_sound_document() -> None:
    """To one of them what is no number is one."""
    record = parse_yaml(f"{HEAD}application: drag\nprobability: 0.9\nreadings: {{}}\n".encode(), "f.yaml")
    assert problems(record, "record") == []
    (problem,) = problems(replace(record, data={**record.data, "probability": math.nan}), "record")
    assert str(problem) == "f.yaml:1:1: this is no record as its schema has it"


# --- the schemas that are shipped ------------------------------------------------------------------------------------

SHIPPED = {
    file.name.removesuffix(".schema.json"): json.loads(file.read_text(encoding="utf-8"))
    for file in resources.files("checker_schema").iterdir()
    if file.name.endswith(".schema.json")
}


def parts_of(schema: Any) -> list[dict[str, Any]]:
    """The schema and every schema inside it."""
    if not isinstance(schema, dict):
        return []
    inner = [schema.get(keyword) for keyword in ("items", "additionalProperties", "propertyNames")]
    for keyword in ("properties", "$defs"):
        inner.extend(schema.get(keyword, {}).values())
    return [schema, *(part for each in inner for part in parts_of(each))]


def test_what_is_written_from_the_code_is_up_to_date() -> None:
    stale = [path for path, text in generated() if path.read_text(encoding="utf-8") != text]
    assert not stale, "run python -m checker.generated_files"


@pytest.mark.parametrize("name", sorted(SHIPPED))
def test_shipped_schemas_stay_within_what_is_explained(name: str) -> None:
    Draft202012Validator.check_schema(SHIPPED[name])
    for part in parts_of(SHIPPED[name]):
        assert set(part) <= KEYWORDS
        assert part.get("$ref", "#/").startswith("#/")
        pattern = part.get("pattern", "^$")
        assert pattern.startswith("^")
        assert pattern.endswith("$")
        if {"minimum", "maximum"} & set(part):
            kinds = [part["type"]] if isinstance(part["type"], str) else part["type"]
            assert {"number", "integer"} & set(kinds)  # elsewhere a bound has no meaning


@pytest.mark.parametrize("name", sorted(SHIPPED))
def test_shipped_schemas_are_found_by_name_and_definition(name: str) -> None:
    assert problems(parse_yaml(b"- 1", "f.yaml"), name)
    for definition in SHIPPED[name].get("$defs", {}):
        assert isinstance(problems(parse_yaml(b"a: 1", "f.yaml"), name, definition), list)
