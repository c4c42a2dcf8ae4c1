"""The schemas themselves: a validator of another make agrees with ours, and editors find words and examples in them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from pack_tools import GEAR_TRAIN, gear_record, gear_rulebook
from places import DATA

from checker.documents.document import Document, read_document
from checker.documents.schemas import problems
from checker.errors import CheckerError
from checker.expressions.syntax import parse
from checker.plugins import gather
from checker.records.record import record_in
from checker.reports.json_report import report_data
from checker.reports.report_keys import PARTS

NAMES = ("pack", "record", "report")
SCHEMAS: dict[str, dict[str, Any]] = {
    name: json.loads((resources.files("checker_schema") / f"{name}.schema.json").read_text()) for name in NAMES
}
VALIDATORS = {name: jsonschema_rs.validator_for(schema) for name, schema in SCHEMAS.items()}
FOLDERS = [GEAR_TRAIN, *gather().rule_packs.values()]
PACK_FILES = [path for folder in FOLDERS for path in sorted(folder.rglob("*.yaml"))]


def title(path: Path) -> str:
    return "/".join(path.parts[-3:])


def readable(folder: str) -> Iterator[tuple[Path, Document]]:
    """The wrong files of a folder that are YAML as we read it; of the others there is nothing to validate."""
    for path in sorted((DATA / folder).glob("*.yaml")):
        try:
            yield path, read_document(path)
        except CheckerError:
            continue


def test_every_file_of_every_shipped_pack_fits() -> None:
    assert len(PACK_FILES) > 60
    for path in PACK_FILES:
        assert [str(error) for error in VALIDATORS["pack"].iter_errors(read_document(path).data)] == [], title(path)


@pytest.mark.parametrize("name", ["pack", "record"])
def test_both_validators_refuse_the_same(name: str) -> None:
    found = {
        path.stem: (VALIDATORS[name].is_valid(document.data), problems(document, name) == [])
        for path, document in readable(f"wrong_{name}s")
    }
    assert {stem: valid for stem, valid in found.items() if valid[0] != valid[1]} == {}
    assert {False, True} == {ours for _, ours in found.values()}


def test_of_a_record_the_schema_alone_refuses_what_reading_it_does() -> None:
    """Misspelt keys beside a reading too; no schema reads version ranges, or sees that facts and readings repeat."""
    refused, valid = set(), set()
    for path, document in readable("wrong_records"):
        valid |= {path.stem} if VALIDATORS["record"].is_valid(document.data) else set()
        try:
            record_in(document)
        except CheckerError:
            refused.add(path.stem)
    assert refused & valid == {"pack_range", "written_twice"}
    assert refused | valid == {path.stem for path, _ in readable("wrong_records")}


def test_the_report_fits() -> None:
    report = gear_rulebook().check(gear_record({"gear_module": "{1: 2 mm}", "backlash": "{1: 0.14 mm}"}))
    assert [str(error) for error in VALIDATORS["report"].iter_errors(report_data(report, PARTS))] == []


@pytest.mark.parametrize("name", NAMES)
def test_the_schema_is_one(name: str) -> None:
    jsonschema_rs.meta.validate(SCHEMAS[name])


def nodes(schema: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every schema within a schema, with the way to it."""
    yield path, schema
    inner = [(f"{path}/{key}", value) for key, value in schema.get("properties", {}).items()]
    inner += [(f"{path}/$defs/{key}", value) for key, value in schema.get("$defs", {}).items()]
    inner += [(f"{path}/{key}", schema[key]) for key in ("additionalProperties", "items") if key in schema]
    for where, node in inner:
        if isinstance(node, dict):
            yield from nodes(node, where)


@pytest.mark.parametrize("name", NAMES)
def test_every_key_explains_itself(name: str) -> None:
    for path, node in nodes(SCHEMAS[name]):
        for key, value in node.get("properties", {}).items():
            assert "description" in value or "$ref" in value, f"{name}{path}/{key}"
    for key, value in SCHEMAS[name].get("$defs", {}).items():
        assert "description" in value, f"{name}/$defs/{key}"


@pytest.mark.parametrize("name", ["pack", "record"])
def test_what_people_write_has_titles_and_examples(name: str) -> None:
    schema = SCHEMAS[name]
    for key, value in [*schema["properties"].items(), *schema.get("$defs", {}).items()]:
        assert "title" in value, f"{name}/{key}"
    shown = [path for path, node in nodes(schema) if node.get("examples")]
    assert len(shown) >= 10


def test_every_example_of_an_expression_reads_in_the_language() -> None:
    examples = [
        example
        for _, node in nodes(SCHEMAS["pack"])
        for key, value in node.get("properties", {}).items()
        for example in value.get("examples", [])
        if key in ("judges", "derived", "when", "unless", "occasion", "per_unit_of", "at_least", "at_most")
    ]
    assert len(examples) >= 10
    for example in examples:
        parse(example)


@pytest.mark.parametrize("name", NAMES)
def test_every_example_fits_where_it_stands(name: str) -> None:
    for path, node in nodes(SCHEMAS[name]):
        validator = jsonschema_rs.validator_for({**node, "$defs": SCHEMAS[name].get("$defs", {})})
        for example in node.get("examples", []):
            assert [str(error) for error in validator.iter_errors(example)] == [], f"{name}{path}"
