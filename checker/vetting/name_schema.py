"""A JSON Schema of packs that knows every name one pack may use, for editors to complete and refuse by.

The pack may be half written: what of it cannot be read names nothing. Unlike the shipped schema this one uses anyOf,
so that an editor offers names also where an expression may stand.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from checker.documents.document import read_document
from checker.documents.each_of import written_out
from checker.documents.key_forms import IN_WORDS, WITH_HYPHENS
from checker.documents.key_schema import json_schema
from checker.errors import CheckerError, Problem, UsageError, nearest
from checker.expressions.functions import FUNCTIONS
from checker.expressions.names import WORDS_OF_THE_LANGUAGE
from checker.packs.limits import ANY, BANDS, BELOW, NONE
from checker.packs.pack import HEAD, Pack
from checker.packs.rule import ALWAYS
from checker.plugins import Plugins
from checker.units.units import NAMED_UNITS, UNITS

NAMES_FILE = "pack.schema.json"
"""What the schema is called where it stands beside the pack."""

_SECTIONS = (
    *("applications", "milestones", "inspection_levels", "stations"),
    *("constants", "tables", "characteristics", "rules"),
)
_KEYS_BY_SECTION = {
    "milestones": ("before",),
    "stations": ("per", "of", "as_many_as", "stations"),
    "applications": ("limits", "application", "not_for", "like"),
    "rules": ("limits_of", "amends", "retires", "cases", "drafts", "asks", "leaves_out"),
    "characteristics": ("given", "vary", "follows"),
    "inspection_levels": ("level", "inspection"),
    "constants": ("expansion",),
    "packs": ("builds_on",),
}
_NAMES_IN = {key: section for section, keys in _KEYS_BY_SECTION.items() for key in keys}
"""The kind of names that a key holds: as its text, in its list, or as the keys of its mapping."""
_WITH_ANY = frozenset({"limits", "application"})
_EXPRESSIONS = frozenset({"judges", "per_unit_of", "when", "unless", "occasion"})
_LIMITS = frozenset({"at_least", "at_most"})
_AN_EXPRESSION = {"$ref": "#/$defs/expression"}
_AN_AMOUNT = {"anyOf": [{"type": "number"}, _AN_EXPRESSION]}
_WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_MORE_WORDS = frozenset({"in", "pi", ALWAYS, NONE})

Names = Mapping[str, set[str]]


def name_schema(packs: Iterable[str | Path], plugins: Plugins) -> dict[str, Any]:
    """The schema of the files of packs that are used together, by name or folder; raises UsageError where one is not.

    What they build on is found by itself where it is installed.
    """
    names = names_for(packs, plugins)
    schema: dict[str, Any] = _with_names(json_schema(Pack, "pack", "Rule pack"), names)
    return {**schema, "$defs": {**schema["$defs"], "expression": _expression(names)}}


def names_for(packs: Iterable[str | Path], plugins: Plugins) -> Names:
    """Every name that packs and those they build on state, by section; names of packs and functions besides."""
    names: dict[str, set[str]] = defaultdict(set)
    names["packs"] = set(plugins.rule_packs)
    names["functions"] = {*FUNCTIONS, *plugins.functions}
    waiting, seen = [_folder(pack, plugins) for pack in packs], set[Path]()
    while waiting:
        folder = waiting.pop()
        seen.add(folder)
        for data in _readable(folder):
            names["packs"].update([data["pack"]] if isinstance(data.get("pack"), str) else ())
            for section in _SECTIONS:
                names[section].update(_texts(data.get(section)))
            names["choices"].update(_choices(data.get("characteristics")))
            bases = (plugins.rule_packs.get(name) for name in _texts(data.get("builds_on")))
            waiting.extend(base for base in bases if base and base not in seen)
    return names


def _folder(pack: str | Path, plugins: Plugins) -> Path:
    folder = plugins.rule_packs.get(str(pack), Path(pack))
    if not (folder / HEAD).is_file():
        known = f"installed packs: {', '.join(sorted(plugins.rule_packs))}; or give a folder"
        hint = nearest(str(pack), plugins.rule_packs) or known
        raise UsageError(Problem(f"no rule pack {str(pack)!r}", hint=hint))
    return folder


def _readable(folder: Path) -> Iterator[Mapping[str, Any]]:
    for path in sorted(folder.glob("*.yaml")):
        try:
            data = written_out(read_document(path)).data
        except CheckerError:
            continue
        if isinstance(data, dict):
            yield data


def _texts(section: Any) -> list[str]:
    return [text for text in section if isinstance(text, str)] if isinstance(section, dict | list) else []


def _choices(characteristics: Any) -> Iterator[str]:
    for given in characteristics.values() if isinstance(characteristics, dict) else ():
        yield from _texts(given.get("choices") if isinstance(given, dict) else None)


def _with_names(node: Any, names: Names) -> Any:
    """A schema, with what may be said by name told name by name."""
    if isinstance(node, list):
        return [_with_names(part, names) for part in node]
    if not isinstance(node, dict):
        return node
    copy = {inner: value if inner == "examples" else _with_names(value, names) for inner, value in node.items()}
    if "properties" in copy:
        copy["properties"] = {name: _of_key(name, part, names) for name, part in copy["properties"].items()}
    return copy


def _of_key(key: str, node: dict[str, Any], names: Names) -> dict[str, Any]:
    if key == "unit":
        return {**node, "enum": sorted(UNITS)}
    if key == "derived":
        facts = {"enum": sorted(names["characteristics"])}
        values = {"additionalProperties": _AN_AMOUNT}
        by_fact = {"type": "object", "propertyNames": facts, "additionalProperties": values}
        return {**node, "anyOf": [_AN_EXPRESSION, by_fact]}
    if key in _EXPRESSIONS:
        return {**node, **_AN_EXPRESSION}
    if key in _LIMITS:
        return {**node, **_AN_AMOUNT}
    known = names.get(_NAMES_IN.get(key, ""), set())
    if key in _WITH_ANY:
        known = known | {ANY}
    if key == "limits_of":
        known = known | {f"{band} of {name}" for band in BANDS for name in known}
    return _listed(node, {"enum": sorted(known)}) if known else node


def _listed(node: dict[str, Any], listed: Mapping[str, Any]) -> dict[str, Any]:
    """A node whose names are listed, where it holds names and does not give them to what stands there."""
    if _is_name(node):
        return {**node, **listed}
    if _is_name(node.get("items", {})):
        return {**node, "items": {**node["items"], **listed}}
    if _is_name(node.get("propertyNames", WITH_HYPHENS)) and node.get("type") != "array" and "type" in node:
        is_section = node.get("additionalProperties") == {"$ref": "#/$defs/stations"}
        return node if is_section else {**node, "propertyNames": listed}
    return node


def _is_name(node: Mapping[str, Any]) -> bool:
    return bool(node.get("pattern", IN_WORDS["pattern"]) != IN_WORDS["pattern"])


def _expression(names: Names) -> dict[str, Any]:
    """A characteristic by its name, or any text made of words that mean something in an expression."""
    either = "|".join(sorted(_words(names), key=lambda word: (-len(word), word)))
    number = r"[0-9.]+(?:[eE][+-]?[0-9]+)?"
    text = rf"^(?:(?:{either})(?![A-Za-z0-9_])|\"[^\"]*\"|'[^']*'|{number}|[^A-Za-z0-9_.\"'])*$"
    return {"anyOf": [{"enum": sorted(names["characteristics"])}, {"type": "string", "pattern": text}]}


def _words(names: Names) -> set[str]:
    """Every word that an expression or a quantity may be made of."""
    spelt = (*names["choices"], *names["stations"], *UNITS, *NAMED_UNITS)
    stated = (names["characteristics"], names["constants"], names["tables"], names["functions"])
    return {*WORDS_OF_THE_LANGUAGE, BELOW, *_MORE_WORDS, *_words_of(spelt)}.union(*stated)


def _words_of(texts: Iterable[str]) -> Iterator[str]:
    for text in texts:
        yield from _WORD.findall(text)
