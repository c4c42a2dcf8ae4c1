"""Holds documents to our JSON Schemas, those in schema/ and no others."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any

from checker.documents.document import Document
from checker.documents.fitting import fits
from checker.errors import Problem


def problems(
    document: Document, schema_name: str, definition: str | None = None, apart: str | None = None
) -> list[Problem]:
    """What keeps a document from a schema, or from one definition in it; what another defines is held to that apart."""
    return problems_under(document, _shipped(schema_name, definition, apart))


def problems_under(document: Document, schema: Mapping[str, Any]) -> list[Problem]:
    """What keeps a document from a schema that is not shipped."""
    if fits(document.data, schema, schema.get("$defs", {})):
        return []
    from checker.documents.schema_faults import faults  # a sound record does without the library

    return faults(document, schema)


@cache  # what is shipped does not change while the program runs
def _shipped(name: str, definition: str | None, apart: str | None) -> Mapping[str, Any]:
    text = (resources.files("checker_schema") / f"{name}.schema.json").read_text(encoding="utf-8")
    left_out = {"$ref": f"#/$defs/{apart}"}
    schema: Mapping[str, Any] = json.loads(text, object_hook=lambda node: True if node == left_out else node)
    return {"$defs": schema["$defs"], "$ref": f"#/$defs/{definition}"} if definition else schema
