"""What counts as fitting a schema without the library does so for a validator of another make."""

from __future__ import annotations

import copy
import json
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from hypothesis import given
from hypothesis import strategies as st
from places import DATA, DEMO_RECORD

from checker.documents.document import read_document
from checker.documents.fitting import fits
from checker.documents.schema_faults import KEYWORDS

PACK, RECORD = (
    json.loads((resources.files("checker_schema") / f"{name}.schema.json").read_text()) for name in ("pack", "record")
)
SOUND = [
    *((RECORD, path) for path in (DEMO_RECORD, *sorted((DATA / "honest").glob("street*.yaml")), DATA / "day_one.yaml")),
    *((PACK, path) for path in sorted((DATA / "gear_train").glob("*.yaml"))),
]
ODD: list[Any] = [None, True, False, 0, 1, 1.0, -1, 2.5, 1e300, "", "x", "0.5 in", "2026-05-02", "x" * 5000, [], {}]
ODD += [[1], ["a", 1], {"at": 1}, {"A b": "c"}, {"value": "1 in", "with": 3}, {"must": {"at_least": [1]}}, ["a"] * 300]


def plain(data: Any) -> Any:
    return json.loads(json.dumps(data))


@pytest.mark.parametrize(("schema", "path"), SOUND, ids=lambda it: it.name if isinstance(it, Path) else "")
def test_what_is_sound_needs_no_library(schema: dict[str, Any], path: Path) -> None:
    assert fits(read_document(path).data, schema, schema["$defs"])


@pytest.mark.parametrize(("schema", "path"), SOUND, ids=lambda it: it.name if isinstance(it, Path) else "")
@given(data=st.data())
def test_nothing_fits_that_another_validator_refuses(schema: dict[str, Any], path: Path, data: st.DataObject) -> None:
    changed = copy.deepcopy(plain(read_document(path).data))
    within = changed
    while True:
        steps = list(within) if isinstance(within, dict) else list(range(len(within)))
        step = data.draw(st.sampled_from(steps))
        if not isinstance(within[step], dict | list) or not within[step] or data.draw(st.booleans()):
            break
        within = within[step]
    match data.draw(st.sampled_from(["other", "gone", "more"])):
        case "gone":
            del within[step]
        case "more" if isinstance(within, dict):
            within[data.draw(st.sampled_from(["x", "A b", "value", "with", "", "name", "x" * 70]))] = data.draw(
                st.sampled_from(ODD)
            )
        case _:
            within[step] = data.draw(st.sampled_from(ODD))
    if fits(changed, schema, schema["$defs"]):
        assert jsonschema_rs.validator_for(schema).is_valid(changed)


@pytest.mark.parametrize("keyword", sorted(KEYWORDS - {"title", "description", "examples", "$schema", "$id", "$defs"}))
def test_every_keyword_is_held_to(keyword: str) -> None:
    """Of the table below, the first value fits and the second does not; for a validator of another make likewise."""
    asked, good, bad = {
        "$ref": ("#/$defs/text", "a", 1),
        "type": (["integer", "array"], 3, True),
        "enum": ([1, "a"], 1, True),
        "minimum": (2, 2, 1.9),
        "maximum": (2, 2, 2.1),
        "exclusiveMinimum": (2, 2.1, 2),
        "exclusiveMaximum": (2, 1.9, 2),
        "minLength": (2, "ab", "a"),
        "maxLength": (1, "a", "ab"),
        "pattern": ("^[a-z]$", "a", "a b"),
        "minItems": (1, [1], []),
        "maxItems": (1, [1], [1, 2]),
        "items": ({"type": "string"}, ["a"], ["a", 1]),
        "minProperties": (1, {"a": 1}, {}),
        "maxProperties": (1, {"a": 1}, {"a": 1, "b": 2}),
        "propertyNames": ({"maxLength": 1}, {"a": 1}, {"ab": 1}),
        "required": (["a"], {"a": 1}, {"b": 1}),
        "properties": ({"a": {"type": "string"}}, {"a": "b", "c": 1}, {"a": 1}),
        "additionalProperties": (False, {}, {"a": 1}),
    }[keyword]
    definitions = {"text": {"type": "string"}}
    schema = {"$defs": definitions, keyword: asked}
    for value, is_good in ((good, True), (bad, False)):
        assert fits(value, schema, definitions) == is_good
        assert jsonschema_rs.validator_for(schema).is_valid(value) == is_good


def test_what_is_not_known_never_fits() -> None:
    assert not fits({}, {"patternProperties": {}}, {})
    assert not fits("a", {"$ref": "https://example.org/schema.json"}, {})
    assert not fits("a", {"$ref": "#/$defs/nowhere"}, {})
    assert not fits(object(), {"type": "object"}, {})
