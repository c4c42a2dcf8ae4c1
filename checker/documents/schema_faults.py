"""Says in plain words what keeps a document from a JSON Schema.

The registry is empty, so that nothing is ever fetched. Schemas stay within KEYWORDS.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from typing import Any, TypeAlias

from jsonschema import Draft202012Validator, ValidationError
from jsonschema.validators import extend
from referencing import Registry

from checker.documents.document import Document
from checker.documents.write import one_line
from checker.errors import MOST_PROBLEMS, TOO_MANY, Problem, nearest

Failure: TypeAlias = Any  # a ValidationError; the library's types call each of its fields unset until it is reported

_LONGEST_EXCERPT = 60
_LONGEST_EXAMPLE = 120
_MOST_NAMES = 30

_KINDS = {
    "object": "a mapping",
    "array": "a list",
    "string": "text",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "null": "nothing",
}
_FORMS = {
    "^[a-z][a-z0-9-]{0,63}$": "small letters, digits and hyphens, such as shop-policy",
    "^[a-z][a-z0-9_]{0,63}$": "small letters, digits and underscores, such as shaft_diameter",
    "^((must|should) of )?[a-z][a-z0-9-]{0,63}$": "the name of a rule, or must of and its name",
    "^before .+$": "a text that begins with before, such as before the gears go on",
    "^(each|one|one per [a-z][a-z0-9-]{0,63})$": "each, one, or one per and a kind of station, such as one per shaft",
    "^[a-z][a-z -]{0,63}$": "words in small letters, such as ahead of the mark",
    "^[a-z][a-z ]{0,39}$": "a kind of quantity in small letters, such as length",
    "^[A-Za-z]([A-Za-z' -]{0,38}[A-Za-z])?$": "a word of letters, such as ahead",
    "^[0-9]{4}-[0-9]{2}-[0-9]{2}$": "year, month and day, such as 2026-05-02",
}
_WORDS = re.compile(r"\^\(([a-z ]+(?:\|[a-z ]+)+)\)\$")
"""A pattern of some words and no others."""
_BOUNDS = {  # the relation, and what is counted
    "minimum": ("at least", ""),
    "maximum": ("at most", ""),
    "exclusiveMinimum": ("more than", ""),
    "exclusiveMaximum": ("less than", ""),
    "minLength": ("at least", " characters"),
    "maxLength": ("at most", " characters"),
    "minItems": ("at least", " items"),
    "maxItems": ("at most", " items"),
    "minProperties": ("at least", " entries"),
    "maxProperties": ("at most", " entries"),
}
_ANNOTATIONS = {"$schema", "$id", "$defs", "$ref", "title", "description", "examples"}
_APPLIED = {"properties", "additionalProperties", "propertyNames", "items"}
KEYWORDS = frozenset({*_ANNOTATIONS, *_APPLIED, *_BOUNDS, "type", "required", "enum", "pattern"})


def faults(document: Document, schema: Mapping[str, Any]) -> list[Problem]:
    """What keeps a document from a schema, in the order of the file."""
    errors = _Validator(schema, registry=Registry()).iter_errors(document.data)
    outermost = schema.get("properties", {})
    problems = {
        problem for error in islice(errors, MOST_PROBLEMS) for problem in _explained(document, error, outermost)
    }
    in_order = sorted(problems, key=lambda problem: problem.position)
    return [*in_order, *(Problem(TOO_MANY, document.place()) for _ in islice(errors, 1))]


def _entry_shown(outermost: Mapping[str, Any], path: Sequence[Any]) -> str:
    """An entry as the example of its section has one; it shows more than the keys that every entry must have."""
    examples = outermost.get(path[0], {}).get("examples", ()) if len(path) == len(("section", "name")) else ()
    entries = [entry for example in examples if isinstance(example, dict) for entry in example.values()]
    return next((_as_in(one_line(entry)) for entry in entries if isinstance(entry, dict)), "")


def _fits_pattern(_validator: Any, pattern: str, value: Any, _schema: Any) -> Iterator[ValidationError]:
    """The whole text must fit; Python's $ would let a line end follow."""
    if isinstance(value, str) and not re.fullmatch(pattern, value):
        yield ValidationError("")


_Validator = extend(Draft202012Validator, {"pattern": _fits_pattern})  # type: ignore[no-untyped-call]


def _explained(document: Document, error: Failure, outermost: Mapping[str, Any]) -> Iterator[Problem]:
    path = list(error.absolute_path)
    if "propertyNames" in error.absolute_schema_path:
        path.append(error.instance)  # the library points at the mapping, but the key is at fault
    keyword = str(error.validator)
    if keyword == "additionalProperties":
        known = list(error.schema.get("properties", {}))
        for key in sorted(set(error.instance) - set(known)):
            hint = nearest(key, known) or _listed(known)
            if key in outermost:
                hint = "it stands outermost, at the left margin of the file"
            yield Problem(f"unknown key {key!a}", document.place(*path, key), hint)
        return
    message, hint = _MESSAGES.get(keyword, _bound)(error)
    if keyword == "type" and "object" in error.validator_value and error.instance is not None:
        hint = _entry_shown(outermost, path) or hint
    yield Problem(message, document.place(*path), hint)


def _type(error: Failure) -> tuple[str, str]:
    wanted = [error.validator_value] if isinstance(error.validator_value, str) else error.validator_value
    kinds = " or ".join(_KINDS[kind] for kind in wanted)
    bare = isinstance(error.instance, bool | int | float) and "string" in wanted
    return f"expected {kinds}, found {_shown(error.instance)}", "put it in quotes" if bare else _type_hint(
        error, wanted
    )


def _type_hint(error: Failure, wanted: list[str]) -> str:
    if error.instance is None and "object" in wanted:
        return "what belongs to it stands below it, two spaces further in"
    shown = [_holding(error, example) for example in error.schema.get("examples", []) if isinstance(example, dict)]
    return f"as in {one_line(shown[0])}" if shown and "object" in wanted else _purpose(error)


def _holding(error: Failure, example: dict[str, Any]) -> dict[str, Any]:
    """An example mapping, with what was written where that is one of a key's words."""
    words = {key: node.get("enum", ()) for key, node in error.schema.get("properties", {}).items()}
    return {key: error.instance if error.instance in words.get(key, ()) else value for key, value in example.items()}


def _required(error: Failure) -> tuple[str, str]:
    missing = [key for key in error.validator_value if key not in error.instance]
    known = error.schema.get("properties", {})
    shown = (_example(known.get(key, {}), key) for key in missing)
    message = f"{', '.join(map(repr, missing))} {'is' if len(missing) == 1 else 'are'} missing"
    return message, _as_in(", ".join(filter(None, shown)))


def _enum(error: Failure) -> tuple[str, str]:
    choices = [choice if isinstance(choice, str) else _shown(choice) for choice in error.validator_value]
    hint = nearest(error.instance, choices) if isinstance(error.instance, str) else ""
    if error.instance in choices:
        hint = "a number is written without quotes"
    return f"expected {' or '.join(choices)}, found {_shown(error.instance)}", hint


def _pattern(error: Failure) -> tuple[str, str]:
    if words := _WORDS.fullmatch(error.validator_value):
        choices = words[1].split("|")
        return f"expected {' or '.join(choices)}, found {_shown(error.instance)}", nearest(error.instance, choices)
    if not error.instance.strip():
        return "must not be empty", _purpose(error)
    form = _FORMS.get(error.validator_value)
    wanted = f"the form: {form}" if form else "the form it should have"
    hint = next((f"did you mean {name!r}?" for name in _respelt(error.instance) if _fits(error, name)), "")
    return f"{_shown(error.instance)} does not have {wanted}", hint or _purpose(error)


def _respelt(name: str) -> tuple[str, str]:
    """A name as those with hyphens and those with underscores are written."""
    words = re.sub(r"[ _-]+", "-", name.lower())
    return words, words.replace("-", "_")


def _fits(error: Failure, name: str) -> bool:
    return re.fullmatch(error.validator_value, name) is not None


def _bound(error: Failure) -> tuple[str, str]:
    relation, counted = _BOUNDS[str(error.validator)]
    actual = len(error.instance) if counted else error.instance
    if counted and not actual:
        return "must not be empty", _purpose(error)
    return f"expected {relation} {error.validator_value}{counted}, found {actual}", _purpose(error)


_MESSAGES = {"type": _type, "required": _required, "enum": _enum, "pattern": _pattern}


def _purpose(error: Failure) -> str:
    """What the key is for, and an example of it."""
    path = error.absolute_path
    own = path[-1] if path and isinstance(path[-1], str) else ""
    shown = _as_in(_example(error.schema, own))
    purpose = str(error.schema.get("description", ""))
    return ", ".join((purpose.removesuffix("."), shown)) if purpose and shown else purpose or shown


def _example(schema: Mapping[str, Any], key: str) -> str:
    """The example of a schema, behind its key."""
    shown = next(map(one_line, schema.get("examples", ())), "")
    return f"{key}: {shown}" if key and shown else shown


def _as_in(example: str) -> str:
    return f"as in {example}" if 0 < len(example) <= _LONGEST_EXAMPLE else ""


def _listed(names: list[str]) -> str:
    return f"known here: {', '.join(names)}" if 0 < len(names) <= _MOST_NAMES else ""


def _shown(value: Any) -> str:
    if isinstance(value, dict | list):
        return _KINDS["object" if isinstance(value, dict) else "array"]
    if value is None:
        return _KINDS["null"]
    if isinstance(value, bool):
        return str(value).lower()
    text = ascii(value)
    return text if len(text) <= _LONGEST_EXCERPT else f"{text[:_LONGEST_EXCERPT]}..."
