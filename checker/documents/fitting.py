"""Whether data is beyond doubt what a schema asks for: the rest is for the library of schemas to judge and explain.

To import that, and to hold a sound record to its schema with it, would be a tenth of every check. A keyword or a kind
of value that is not known here counts as not fitting.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

_Schema: TypeAlias = Mapping[str, Any]
_Holds: TypeAlias = Callable[[Any, Any, _Schema, _Schema], bool]
"""Of a value, what a keyword asks of it, the schema that the keyword stands in, and the definitions."""

_HERE = "#/$defs/"
_NUMBER = (int, float)
_KINDS: Mapping[type, tuple[str, ...]] = {
    bool: ("boolean",),
    int: ("integer", "number"),
    float: ("number",),
    str: ("string",),
    type(None): ("null",),
}


def fits(value: Any, schema: _Schema | bool, definitions: _Schema) -> bool:
    """Whether a value is beyond doubt what a schema asks for; `definitions` are those that it may refer to."""
    if isinstance(schema, bool):
        return schema
    for keyword, asked in schema.items():
        kind, holds = _KEYWORDS.get(keyword, _UNKNOWN)
        if isinstance(value, kind) and not holds(value, asked, schema, definitions):
            return False
    return True


def _is_of_kind(value: Any, asked: Any, *_: _Schema) -> bool:
    kinds = ("object",) if isinstance(value, dict) else ("array",) if isinstance(value, list) else ()
    return any(
        kind in asked if isinstance(asked, list) else kind == asked for kind in kinds or _KINDS.get(type(value), ())
    )


def _is_as_referred(value: Any, asked: str, _: _Schema, definitions: _Schema) -> bool:
    return asked.startswith(_HERE) and fits(value, definitions.get(asked.removeprefix(_HERE), False), definitions)


def _is_a_choice(value: Any, asked: Any, *_: _Schema) -> bool:
    return any(type(value) is type(choice) and value == choice for choice in asked)


def _has_properties(value: Any, asked: _Schema, _: _Schema, definitions: _Schema) -> bool:
    return all(fits(value[key], schema, definitions) for key, schema in asked.items() if key in value)


def _has_others(value: Any, asked: Any, schema: _Schema, definitions: _Schema) -> bool:
    own = schema.get("properties", {})
    return all(fits(inner, asked, definitions) for key, inner in value.items() if key not in own)


_UNKNOWN: tuple[type, _Holds] = object, lambda *_: False
_KEYWORDS: Mapping[str, tuple[type | tuple[type, ...], _Holds]] = {
    **dict.fromkeys(("$schema", "$id", "$defs", "title", "description", "examples"), (object, lambda *_: True)),
    "$ref": (object, _is_as_referred),
    "type": (object, _is_of_kind),
    "enum": (object, _is_a_choice),
    "minimum": (_NUMBER, lambda value, asked, *_: value >= asked),
    "maximum": (_NUMBER, lambda value, asked, *_: value <= asked),
    "exclusiveMinimum": (_NUMBER, lambda value, asked, *_: value > asked),
    "exclusiveMaximum": (_NUMBER, lambda value, asked, *_: value < asked),
    "minLength": (str, lambda value, asked, *_: len(value) >= asked),
    "maxLength": (str, lambda value, asked, *_: len(value) <= asked),
    "pattern": (str, lambda value, asked, *_: re.fullmatch(asked, value) is not None),
    "minItems": (list, lambda value, asked, *_: len(value) >= asked),
    "maxItems": (list, lambda value, asked, *_: len(value) <= asked),
    "items": (list, lambda value, asked, _, definitions: all(fits(each, asked, definitions) for each in value)),
    "minProperties": (dict, lambda value, asked, *_: len(value) >= asked),
    "maxProperties": (dict, lambda value, asked, *_: len(value) <= asked),
    "propertyNames": (dict, lambda value, asked, _, definitions: all(fits(key, asked, definitions) for key in value)),
    "required": (dict, lambda value, asked, *_: all(key in value for key in asked)),
    "properties": (dict, _has_properties),
    "additionalProperties": (dict, _has_others),
}
