"""What declared keys look like to others: a JSON Schema for validators and editors, tables for a guide.

A schema stays without anyOf and oneOf, so that what is wrong can be told in plain words.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from types import NoneType
from typing import Any, get_args, get_origin

from checker.documents.keys import (
    ByName,
    Declared,
    KeysOf,
    OneOrMore,
    Others,
    Whole,
    WrittenAs,
    alone_of,
    form_of,
    is_model,
    keys_of,
    mark_of,
    marked,
    split_type,
)
from checker.documents.write import one_line

_KINDS = {str: "string", int: "integer", float: "number", bool: "boolean"}


def json_schema(model: type, name: str, title: str, is_closed: bool = True) -> dict[str, Any]:
    """The JSON Schema of documents that state keys of a named tuple; one that is not closed lets others be added."""
    properties = {key: {"title": _words(key), **node} for key, node in _properties(keys_of(model)).items()}
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": f"urn:assembly-checker:{name}"}
    schema = {"title": title, "description": meaning(model), "type": "object"}
    bounds = {
        **_bounds(is_closed),
        **_least(declared for declared in keys_of(model).values() if not declared.key.only_in),
    }
    definitions = {
        name: definition for inner in models_within(model) for name, definition in _definitions(inner, is_closed)
    }
    for nullable in () if is_closed else _nullable((model, *models_within(model))):
        definitions[_name(nullable)]["type"] = ["object", "null"]
    return {**head, **schema, **bounds, "properties": properties, "$defs": definitions}


def key_table(model: type) -> list[str]:
    """The keys of a named tuple as a table in Markdown: what each means, and an example; empty without keys."""
    if not _all_keys(model):
        return []
    keys = [(f"`{key}`{_needed(declared)}", declared) for key, declared in _all_keys(model).items()]
    if (alone := alone_of(model)) is not None and alone.key.is_whole:
        keys = [("by itself", alone), *keys]
    rows = (f"| {name} | {declared.key.meaning} | {_example(declared)} |" for name, declared in keys)
    return ["| key | what it says | example |", "|---|---|---|", *rows]


def _all_keys(model: type) -> Mapping[str, Declared]:
    """Its keys, and those of another of which it holds some, none of which is then required."""
    others = {
        key: declared._replace(is_required=False)
        for mark in marked(model, KeysOf).values()
        for key, declared in keys_of(mark.model).items()
    }
    return {**others, **keys_of(model)}


def models_within(model: type) -> Iterator[type]:
    """The named tuples that a named tuple is made of, itself left out, in the order of their declaration."""
    waiting, seen = [model], {model}
    while waiting:
        current = waiting.pop(0)
        for kind in current.__annotations__.values():
            for inner in _models_in(kind):
                if inner not in seen:
                    seen.add(inner)
                    waiting.append(inner)
                    yield inner


def _nullable(models: Iterable[type]) -> Iterator[type]:
    """The named tuples in whose place nothing may stand; what is written says so with null."""
    for kind in (kind for model in models for kind in model.__annotations__.values()):
        bare = split_type(kind)[0]
        if is_model(bare) and any(NoneType in get_args(argument) for argument in get_args(kind)):
            yield bare


def _models_in(kind: Any) -> Iterator[type]:
    bare, marks = split_type(kind)
    if (written := mark_of(marks, WrittenAs)) is not None:
        bare = written.type
    if is_model(bare):
        yield bare
    for inner in get_args(bare):
        yield from _models_in(inner)


def _definitions(model: type, is_closed: bool) -> Iterator[tuple[str, dict[str, Any]]]:
    """A definition for a named tuple; where it may stand in a list or by its name, one for each."""
    head = {"title": words_of(model), "description": meaning(model)}
    for mark in marked(model, Whole):
        yield _name(model), {**_node(*split_type(model.__annotations__[mark])), **_in_a_word(model), **head}
        return
    keys = _all_keys(model)
    shape = {"type": "object", **_bounds(is_closed), **_least(keys.values()), **_in_a_word(model), **_others(model)}
    shown = shape.get("required") or list(keys)[:1]
    examples = _examples({key: keys[key].key.example for key in shown}) if is_closed else {}
    yield _name(model), {**head, **shape, "properties": _properties(keys), **examples}


def _in_a_word(model: type) -> dict[str, Any]:
    """What may stand in place of the mapping; what is said of its form must say nothing of mappings."""
    if (alone := alone_of(model)) is None:
        return {}
    node = _node(alone.type, alone.marks)
    words = {"pattern": f"^({'|'.join(node.pop('enum'))})$"} if "enum" in node else {}
    kinds = node.get("type", "string")
    return {**node, **words, "type": ["object", *([kinds] if isinstance(kinds, str) else kinds)]}


def _others(model: type) -> dict[str, Any]:
    """What may stand under other names than those of its keys."""
    for name, mark in marked(model, Others).items():
        _, value = get_args(split_type(model.__annotations__[name])[0])
        names = "|".join((mark.form, *_all_keys(model)))
        return {"additionalProperties": _node(*split_type(value)), "propertyNames": {"pattern": f"^({names})$"}}
    return {}


def _bounds(is_closed: bool) -> dict[str, Any]:
    return {"additionalProperties": False} if is_closed else {}


def _examples(example: Any) -> dict[str, Any]:
    return {} if example is None else {"examples": [example]}


def _least(keys: Iterable[Declared]) -> dict[str, Any]:
    """The keys that must be there, or that some must."""
    required = [declared.written for declared in keys if declared.is_required]
    return {"required": required} if required else {"minProperties": 1}


def _properties(keys: Mapping[str, Declared]) -> dict[str, dict[str, Any]]:
    return {
        key: {
            **_node(declared.type, declared.marks),
            "description": declared.key.meaning,
            **_examples(declared.key.example),
        }
        for key, declared in keys.items()
    }


def _node(bare: Any, marks: tuple[Any, ...]) -> dict[str, Any]:
    """The schema of a type; what is said of its form besides counts for more."""
    written = mark_of(marks, WrittenAs)
    derived = _derived(bare, marks) if written is None else _node(*split_type(written.type))
    return {**derived, **form_of(marks).schema}


def _derived(bare: Any, marks: tuple[Any, ...]) -> dict[str, Any]:
    by_name, one_or_more = mark_of(marks, ByName), mark_of(marks, OneOrMore)
    if by_name is not None:
        return _by_name(by_name, get_args(bare)[0])
    if is_model(bare):
        return {"$ref": f"#/$defs/{_name(bare)}"}
    inner = [_node(*split_type(argument)) for argument in get_args(bare) if argument is not ...]
    if get_origin(bare) is tuple:
        if one_or_more is not None:
            bounds = {"minItems": one_or_more.least} | ({"maxItems": one_or_more.most} if one_or_more.most else {})
            return {**inner[0], "type": [inner[0]["type"], "array"], **bounds, "items": inner[0]}
        length = {"minItems": 1} if ... in get_args(bare) else {"minItems": len(inner), "maxItems": len(inner)}
        return {"type": "array", **length, "items": inner[0]}
    if get_origin(bare) is Mapping:
        names = {keyword: value for keyword, value in inner[0].items() if keyword != "type"}
        named = {"propertyNames": names} if names else {}
        return {"type": "object", "minProperties": 1, **named, "additionalProperties": inner[1] or True}
    return {"type": _KINDS[bare]} if bare in _KINDS else {}


def _by_name(by_name: ByName, model: type) -> dict[str, Any]:
    ref = {"$ref": f"#/$defs/{_name(model)}"}
    names = {"propertyNames": dict(by_name.form)} if by_name.form else {}
    mapping = {"type": "object", "minProperties": 1, **names, "additionalProperties": ref}
    keys = {key: declared for key, declared in keys_of(model).items() if key != by_name.listed}
    shape = {
        "type": "object",
        "additionalProperties": False,
        **_least(keys.values()),
        "properties": _properties(keys),
    }
    if not by_name.listed:
        return mapping
    return {**mapping, "type": ["object", "array"], "minItems": 1, "additionalProperties": shape, "items": ref}


def _name(model: type) -> str:
    return re.sub(r"(?<!^)(?=[A-Z])", "_", model.__name__).lower().removesuffix("_keys")


def words_of(model: type) -> str:
    """What a named tuple is called."""
    return _words(_name(model))


def _words(name: str) -> str:
    return name.replace("_", " ").capitalize()


def meaning(model: type) -> str:
    """What is said of it first."""
    return " ".join((model.__doc__ or "").split("\n\n")[0].split())


def _needed(declared: Declared) -> str:
    return " (required)" if declared.is_required else ""


def _example(declared: Declared) -> str:
    return f"`{one_line(declared.key.example)}`".replace("|", "\\|")
