"""Makes frozen data of valid plain data, by the keys its named tuple declares: one walk for all of them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache, partial
from typing import Any, NamedTuple, TypeVar, get_args, get_origin

from checker.documents.keys import (
    Around,
    ByName,
    Declared,
    KeysOf,
    OneOrMore,
    Source,
    Take,
    Whole,
    alone_of,
    filled_of,
    form_of,
    is_model,
    keys_of,
    mark_of,
    marked,
    split_type,
)
from checker.documents.tree import KeyPath
from checker.frozen import FrozenMapping

_Model = TypeVar("_Model", bound=tuple[Any, ...])


class _Plan(NamedTuple):
    """How a named tuple is made: by key the attribute and how it is taken, wholly or only in the parts stated."""

    wholly: Mapping[str, tuple[str, Take | None]]
    by_part: Mapping[str, tuple[str, Take | None]]
    inherited: tuple[str, ...]
    around: tuple[str, ...]
    has_name: bool
    has_origin: bool
    held: tuple[str, Take | None] | None
    rest: tuple[str, type] | None
    alone: tuple[str, Take | None] | None


def structured(model: type[_Model], source: Source, path: KeyPath, data: Mapping[str, Any], around: Around) -> _Model:
    """The named tuple that the valid mapping at a path says."""
    plan = _plan(model)
    values: dict[str, Any] = {}
    for attribute in plan.around:
        if attribute in around:
            values[attribute] = around[attribute]
    if plan.has_name:
        values["name"] = path[-1]
    if plan.has_origin:
        values["origin"] = source.origin(path)
    whole = plan.held if isinstance(data, dict) else plan.alone
    if whole is not None:
        attribute, take = whole
        values[attribute] = data if take is None else take(source, path, data, around)
        return model(**values)
    if plan.rest is not None:
        attribute, other = plan.rest
        rest = {key: value for key, value in data.items() if key not in plan.wholly}
        values[attribute] = FrozenMapping(stated(other, source, path, rest, around, by_part=True))
        data = {key: value for key, value in data.items() if key in plan.wholly}
    values.update(stated(model, source, path, data, around))
    return model(**values)


def unstructured(value: Any) -> Any:
    """Plain data that says what named tuples say, all of whose fields are keys; every key is written."""
    if isinstance(value, tuple):
        keys = keys_of(type(value))
        if not keys:
            return [unstructured(part) for part in value]
        return {key: unstructured(part) for key, part in zip(keys, value, strict=True)}
    return {key: unstructured(part) for key, part in value.items()} if isinstance(value, dict) else value


def stated(
    model: type, source: Source, path: KeyPath, data: Mapping[str, Any], around: Around, by_part: bool = False
) -> dict[str, Any]:
    """By attribute, what the mapping at a path states of a named tuple; of what is stated by part, only the parts."""
    plan = _plan(model)
    keys = plan.by_part if by_part else plan.wholly
    for key in plan.inherited:
        if key in data:
            attribute, take = keys[key]
            inner = data[key] if take is None else take(source, (*path, key), data[key], around)
            around = {**around, attribute: inner}
    values = {}
    for key, value in data.items():
        attribute, take = keys[key]
        values[attribute] = value if take is None else take(source, (*path, key), value, around)
    return values


@cache
def _plan(model: Any) -> _Plan:
    keys, filled, annotations = keys_of(model), filled_of(model), model.__annotations__
    inherited = tuple(key for key, declared in keys.items() if declared.key.inherited)
    around = (*filled, *(keys[key].attribute for key in inherited))
    return _Plan(
        wholly={key: (declared.attribute, _take(declared)) for key, declared in keys.items()},
        by_part={key: (declared.attribute, _take_parts(declared)) for key, declared in keys.items()},
        inherited=inherited,
        around=tuple(name for name in around if name not in ("name", "origin")),
        has_name="name" in filled,
        has_origin="origin" in filled,
        held=next(((name, _take_type(*split_type(annotations[name]))) for name in marked(model, Whole)), None),
        alone=(alone.attribute, _take(alone)) if (alone := alone_of(model)) else None,
        rest=next(((name, mark.model) for name, mark in marked(model, KeysOf).items()), None),
    )


def _take(declared: Declared) -> Take | None:
    return _take_type(declared.type, declared.marks)


def _take_parts(declared: Declared) -> Take | None:
    return partial(_parts, declared.type) if declared.key.by_part and is_model(declared.type) else _take(declared)


def _take_type(bare: Any, marks: tuple[Any, ...]) -> Take | None:
    """How data of a type is taken; none where it is as it should be."""
    form = form_of(marks)
    if form.take is not None:
        return form.take
    if is_model(bare):
        return partial(structured, bare)
    if bare in (int, float):
        return partial(_number, bare)
    by_name, is_one_or_more = mark_of(marks, ByName), mark_of(marks, OneOrMore) is not None
    if by_name is not None:
        return partial(_named, get_args(bare)[0], by_name)
    inner = [_take_type(*split_type(argument)) for argument in get_args(bare) if argument is not ...]
    if get_origin(bare) is tuple:
        return partial(_one_or_more if is_one_or_more else _listed, inner[0])
    if get_origin(bare) is Mapping and inner[1] is not None:
        return partial(_mapped, inner[1])
    return None


def _parts(model: type, source: Source, path: KeyPath, data: Any, around: Around) -> Mapping[str, Any]:
    return FrozenMapping(stated(model, source, path, data, around, by_part=True))


def _number(kind: type, _source: Source, _path: KeyPath, value: Any, _around: Around) -> Any:
    return kind(value)  # a whole number may be written with a point


def _mapped(each: Take, source: Source, path: KeyPath, data: Any, around: Around) -> Mapping[str, Any]:
    return FrozenMapping((name, each(source, (*path, name), value, around)) for name, value in data.items())


def _named(model: type, mark: ByName, source: Source, path: KeyPath, data: Any, around: Around) -> tuple[Any, ...]:
    """Things by name, or a list of them that state their names."""
    if isinstance(data, list):
        return _listed(partial(structured, model), source, path, data, around)
    named = {name: {mark.listed: name, **value} for name, value in data.items()} if mark.listed else data
    return tuple(structured(model, source, (*path, name), value, around) for name, value in named.items())


def _listed(each: Take | None, source: Source, path: KeyPath, data: Any, around: Around) -> tuple[Any, ...]:
    if each is None:
        return tuple(data)
    return tuple(each(source, (*path, number), value, around) for number, value in enumerate(data))


def _one_or_more(each: Take | None, source: Source, path: KeyPath, data: Any, around: Around) -> tuple[Any, ...]:
    if isinstance(data, list):
        return _listed(each, source, path, data, around)
    return (data if each is None else each(source, path, data, around),)
