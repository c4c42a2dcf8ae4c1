"""Holds documents to our JSON Schemas, those in schema/ and no others.

One library tells at once that a document is sound, another explains what is wrong with one that is not.
"""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from typing import Any, NoReturn

from jsonschema_rs import Draft202012Validator

from checker.documents.document import Document
from checker.errors import Problem


def problems(
    document: Document, schema_name: str, definition: str | None = None, apart: str | None = None
) -> list[Problem]:
    """What keeps a document from a schema, or from one definition in it; what another defines is held to that apart."""
    schema, validator = _shipped(schema_name, definition, apart)
    if _is_sound(document.data, validator):
        return []
    from checker.documents.schema_faults import faults  # half as long to import as all that a check imports

    # Should the two libraries disagree, what one refuses is sound to nobody.
    return faults(document, schema) or [Problem(f"this is no {schema_name} as its schema has it", document.place())]


def _is_sound(data: Any, validator: Draft202012Validator) -> bool:
    try:
        return validator.is_valid(data)
    except ValueError:  # what JSON has no word for, as a key that is no text
        return False


@cache  # what is shipped does not change while the program runs
def _shipped(name: str, definition: str | None, apart: str | None) -> tuple[dict[str, Any], Draft202012Validator]:
    text = (resources.files("checker_schema") / f"{name}.schema.json").read_text(encoding="utf-8")
    left_out = {"$ref": f"#/$defs/{apart}"}
    schema: dict[str, Any] = json.loads(text, object_hook=lambda node: True if node == left_out else node)
    own = {"$defs": schema["$defs"], "$ref": f"#/$defs/{definition}"} if definition else schema
    return own, _validator(own)


def _validator(schema: dict[str, Any]) -> Draft202012Validator:
    return Draft202012Validator(schema, retriever=_nothing_is_fetched)


def _nothing_is_fetched(uri: str) -> NoReturn:
    raise LookupError(uri)
