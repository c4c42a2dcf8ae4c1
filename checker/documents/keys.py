"""Keys: what the mappings of a document may say, each declared once, as a field of a named tuple.

A field whose type is annotated with a Key is a key of the mapping: its type says what may stand there, its default
whether it must. `Form`, `ByName` and `OneOrMore` beside it say how that is written. Fields without a Key are filled in:
`name` with the name under which the mapping stands, `origin` with where that is, others with what is stated around it.
From the declaration come the frozen data (structure.py), the JSON Schema and the tables of keys (key_schema.py).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, NamedTuple, TypeAlias, Union, get_args, get_origin

from checker.documents.document import Document
from checker.documents.tree import KeyPath
from checker.errors import Problem

Around: TypeAlias = Mapping[str, Any]
"""What is stated around a value and holds inside too, by attribute."""


class Source(NamedTuple):
    """The document that something is taken from, what its origin is there, and what no schema can find wrong in it."""

    document: Document
    origin: Callable[[KeyPath], Any]
    problems: list[Problem]


Take: TypeAlias = Callable[[Source, KeyPath, Any, Around], Any]
"""Makes what a key holds of the valid data at a path."""


@dataclass(frozen=True, slots=True, eq=False)  # what is annotated is hashed
class Key:
    """What a key means, told to people; with an example, and the one file it belongs in.

    What is `inherited` holds inside too, where nothing else is stated. An amendment changes what is stated `by_part`
    only in the parts it names. The value of one that `is_enough` may stand by itself in place of the mapping; that of
    one that `is_whole` never stands otherwise.
    """

    meaning: str
    example: Any = None
    written: str = ""
    inherited: bool = False
    by_part: bool = False
    only_in: str = ""
    is_enough: bool = False
    is_whole: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Form:
    """How a value is written, as keywords of JSON Schema, and how it is taken where it is not taken as it stands."""

    schema: Mapping[str, Any]
    take: Take | None = None


class ByName(NamedTuple):
    """Things written as a mapping from names of this form; where they may be `listed`, a key states the name."""

    form: Mapping[str, Any]
    listed: str = ""
    once: bool = True


class OneOrMore(NamedTuple):
    """One value, or a list of them."""

    least: int = 1
    most: int | None = None


class KeysOf(NamedTuple):
    """Some keys of another named tuple, each of which may be left out; by attribute, only those that are stated."""

    model: type


class Others(NamedTuple):
    """All other keys of the mapping: names of this form, each with a value of the type inside."""

    form: str


class WrittenAs(NamedTuple):
    """What is written is of another type than what is made of it."""

    type: Any


class Whole(NamedTuple):
    """The mapping itself is held, whatever its keys."""


class Declared(NamedTuple):
    """One key of a named tuple as declared: how it is written, the attribute that holds it, and its bare type."""

    written: str
    attribute: str
    type: Any
    key: Key
    marks: tuple[Any, ...]
    is_required: bool
    default: Any = None


@cache
def keys_of(model: type) -> Mapping[str, Declared]:
    """The keys of a named tuple as they are written, in the order of their declaration."""
    return {declared.written: declared for declared in _declared(model) if not declared.key.is_whole}


def is_model(bare: Any) -> bool:
    """Whether a type is a named tuple that declares keys, or holds a mapping as a whole."""
    return isinstance(bare, type) and issubclass(bare, tuple) and bool(keys_of(bare) or marked(bare, Whole))


@cache
def marked(model: type, kind: type) -> Mapping[str, Any]:
    """The fields with a mark of one kind, and that mark."""
    marks = {name: mark_of(given, kind) for name, (_, given) in _split_types(model).items()}
    return {name: mark for name, mark in marks.items() if mark is not None}


@cache
def filled_of(model: type) -> tuple[str, ...]:
    """The fields that are filled in, for nothing is stated of them."""
    stated = {name for kind in (Key, KeysOf, Others, Whole) for name in marked(model, kind)}
    return tuple(name for name in model.__annotations__ if name not in stated)


@cache
def alone_of(model: type) -> Declared | None:
    """What may stand by itself in place of the mapping; none where nothing may."""
    return next((declared for declared in _declared(model) if declared.key.is_enough or declared.key.is_whole), None)


def mark_of(marks: tuple[Any, ...], kind: type) -> Any:
    """The annotation of one kind; none where there is none."""
    return next((mark for mark in marks if isinstance(mark, kind)), None)


def form_of(marks: tuple[Any, ...]) -> Form:
    """All that is said of how a value is written; what is said last counts."""
    forms = [mark for mark in marks if isinstance(mark, Form)]
    schema = {keyword: value for form in forms for keyword, value in form.schema.items()}
    return Form(schema, next((form.take for form in reversed(forms) if form.take), None))


def split_type(kind: Any) -> tuple[Any, tuple[Any, ...]]:
    """A type without its annotations and without None, and those annotations."""
    if get_origin(kind) is Annotated:
        bare, marks = split_type(kind.__origin__)
        return bare, (*marks, *kind.__metadata__)
    inner = [argument for argument in get_args(kind) if argument is not NoneType]
    if get_origin(kind) in (Union, UnionType) and len(inner) == 1:
        return split_type(inner[0])
    return kind, ()


@cache
def _split_types(model: Any) -> Mapping[str, tuple[Any, tuple[Any, ...]]]:
    """The type of each field, without its annotations and with them apart."""
    return {name: split_type(given) for name, given in getattr(model, "__annotations__", {}).items()}


def _declared(model: Any) -> Iterator[Declared]:
    defaults = getattr(model, "_field_defaults", {})
    for name, (bare, marks) in _split_types(model).items():
        key = mark_of(marks, Key)
        if key is not None:
            written = key.written or name
            yield Declared(written, name, bare, key, marks, name not in defaults, defaults.get(name))
