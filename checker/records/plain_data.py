"""What a program holds as if it stood in a file: mappings, lists, numbers, texts, arrays and quantities.

Nothing is imported for arrays and quantities: an array is what has `tolist` and a shape, a quantity what has a
`magnitude` and `units` that print as a unit's name, as pint's do. What is no number (NaN) is not measured.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from itertools import permutations
from numbers import Integral, Real
from typing import Any, NamedTuple

from checker.documents.document import Document, digest_of
from checker.documents.printable import printable
from checker.documents.tree import Findings, Position, Tree
from checker.errors import nearest
from checker.frozen import frozen
from checker.units.units import UNITS, Unit

_NOWHERE: Position = (None, None)
_KINDS = "a mapping, a list, a text, a number, a date, an array or a quantity with a unit, as pint's"
TOO_SHORT = "a number of 16 bits tells no more than three or four digits, 2.449 as 2.45"
LONG_ENOUGH = "hold it in 32 bits or more"
_NEVER_MEASURED = "cmSV"
"""Kinds of arrays whose values are no measurements: complex numbers, spans of time, bytes and records."""
_PRODUCT = 3
"""Of how many units a product may be for its factors to be tried in every order."""
_SPELT = {"**": "^", " ": "", "µ": "u", "μ": "u", "Δ°": "delta deg", "delta_degree_Celsius": "delta degC"}
_KNOWN = {"pound": "lbm", "dimensionless": "1", "delta_degree_Fahrenheit": "delta degF"}
"""Names that say more to a library of units than to a reader: its pound is never a force."""


class _Scalar(NamedTuple):
    """A value that holds no others, and how it would be written."""

    value: str | float | bool | None
    written: str


_NOTHING = _Scalar(None, "")


def document_of(data: Any, source: str) -> Document:
    """A document with this content; its places are paths of keys, for it has no lines.

    Raises InputError naming all that could not stand in a file.
    """
    findings = Findings(printable(source))
    tree = Tree(findings)
    _put(tree, data)
    findings.settle()
    if not isinstance(tree.data, dict) or not tree.data:
        findings.stop(f"expected a mapping with keys, found {type(data).__name__}", _NOWHERE)
    content = json.dumps([tree.data, [[*path, text] for path, text in tree.texts.items()]])
    return Document(frozen(tree.data), findings.source, digest_of(content.encode()), tree.positions, tree.texts)


def _put(tree: Tree, data: Any) -> None:
    """Read data into a tree, as a file is read."""
    if isinstance(data, Mapping):
        tree.open({}, _NOWHERE)
        for key, value in data.items():
            if isinstance(key, bool) or not isinstance(key, str | Integral):
                tree.problem(f"the key {key!r} is neither a text nor the number of a station", _NOWHERE)
            tree.key(str(key), _NOWHERE)
            _put(tree, value)
        tree.close()
        return
    try:
        parts = _parts(data)
        scalar = _scalar(data) if parts is None else _NOTHING
    except ValueError as error:
        tree.problem(str(error), _NOWHERE)
        parts, scalar = None, _NOTHING
    if parts is None:
        tree.scalar(scalar.value, scalar.written, _NOWHERE)
        return
    tree.open([], _NOWHERE)
    for value in parts:
        _put(tree, value)
    tree.close()


def _parts(data: Any) -> list[Any] | None:
    """What a list, an array, or a quantity that is an array holds; nothing where it is one value."""
    if isinstance(data, Sequence) and not isinstance(data, str | bytes | bytearray):
        return list(data)
    if _is_quantity(data):
        inner = _parts(data.magnitude)
        return None if inner is None else [_Measured(value, data.units) for value in inner]
    if str(getattr(data, "dtype", getattr(data, "type", ""))).lower().endswith(("float16", "halffloat")):
        raise ValueError(f"{TOO_SHORT}; {LONG_ENOUGH}")
    if (kind := getattr(getattr(data, "dtype", None), "kind", "")) and kind in _NEVER_MEASURED:
        raise ValueError(f"found {data.dtype}, expected {_KINDS}")  # once, not of each value
    if getattr(data, "shape", ()) and hasattr(data, "tolist"):
        return list(data) if _is_counted(data) else None
    # Columns of Arrow and of polars, which have no labels.
    plain = next((name for name in ("to_pylist", "to_list") if hasattr(data, name)), None)
    return getattr(data, plain)() if plain is not None and not hasattr(data, "to_dict") else None


def _is_counted(data: Any) -> bool:
    """Whether its values stand in the order of the stations: labels, where it has any, may say that they do not."""
    return not hasattr(data, "columns") and list(getattr(data, "index", range(len(data)))) == list(range(len(data)))


@dataclass(frozen=True, slots=True)
class _Measured:
    """One value of an array with a unit."""

    magnitude: Any
    units: Any


def quantity_written(data: Any) -> str:
    """One quantity with a unit as a bench writes it, nothing for what is none; raises ValueError where it cannot be."""
    return _scalar(data).written if _is_quantity(data) else ""


def _is_quantity(data: Any) -> bool:
    return hasattr(data, "magnitude") and hasattr(data, "units")


def _scalar(data: Any) -> _Scalar:
    """One value; raises ValueError for what none can be made of."""
    if _is_quantity(data):
        number = _scalar(data.magnitude)
        if isinstance(number.value, bool | str):
            raise ValueError(f"{data!r} is no number with a unit")
        name = unit_named(data.units)
        written = f"{number.written} {'ratio' if name == '1' else name}"
        return number if number.value is None else _Scalar(written, written)
    if data is None or isinstance(data, str):
        return _Scalar(data, data or "")
    if hasattr(data, "index") and hasattr(data, "to_dict"):
        kind = type(data).__name__
        raise ValueError(
            f"a {kind} with labels of its own; give its to_dict() by station, or to_numpy() in their order"
        )
    if hasattr(data, "mask") or type(data).__name__ in ("NAType", "NaTType"):
        return _NOTHING
    if isinstance(data, date):
        return _Scalar(data.isoformat()[:10], data.isoformat()[:10])
    if getattr(getattr(data, "dtype", None), "kind", "") == "M":
        day = str(data)[:10]
        return _NOTHING if day == "NaT" else _Scalar(day, day)
    if hasattr(data, "tolist") and hasattr(data, "dtype"):
        try:
            plain = data.tolist()
        except NotImplementedError:  # of an array that would lose its unit
            plain = data
        return _of_plain(plain, data)  # 0.3 of 32 bits is 0.3, not what 64 bits make of it
    return _of_plain(data, data)


def _of_plain(data: Any, shown: Any) -> _Scalar:
    if isinstance(data, bool):
        return _Scalar(data, str(data).lower())
    if isinstance(data, str):
        return _Scalar(data, data)
    if isinstance(data, Real | Decimal):
        if isinstance(data, Decimal) and data.is_nan():
            return _NOTHING  # also one that signals, which no float can be
        try:
            number = float(data)
        except OverflowError:
            raise ValueError("a number beyond any measurement") from None
        if math.isnan(number):
            return _NOTHING
        if math.isinf(number):
            raise ValueError("a number without end cannot be measured; leave it out, or write above: or below:")
        # Fractions of a rule are texts, such as "1 31/32 in".
        written = str(number if isinstance(data, Fraction) else shown)
        return _Scalar(int(data) if isinstance(data, Integral) else number, written)
    raise ValueError(f"found {type(data).__name__}, expected {_KINDS}")


def unit_named(stated: Any) -> str:
    """The unit that a library of units names so, as it is written here; raises ValueError where there is none."""
    for name in _names_of(stated):
        known = UNITS.get(name)
        if known is not None and _is_alike(stated, known):
            return known.name
    near = nearest(str(stated), UNITS)
    raise ValueError(f"the unit {str(stated)!r} is none that is read here{f' ({near})' if near else ''}")


def _is_alike(stated: Any, unit: Unit) -> bool:
    """Whether a unit has the dimensions that its library states, if any: a short name may mean another unit there."""
    theirs = getattr(stated, "dimensionality", None)
    if not isinstance(theirs, Mapping):
        return True
    ours = {f"[{base}]": exponent for base, exponent in unit.dimension if base != "angle"}
    return {base: int(exponent) for base, exponent in theirs.items()} == ours


def _names_of(stated: Any) -> Iterator[str]:
    """The ways in which a unit may be written, the surest first."""
    plain = str(stated)
    yield _KNOWN.get(plain, plain)
    for form in ("~C", "~P"):
        try:
            short = format(stated, form)
        except (ValueError, TypeError):
            continue
        for old, new in _SPELT.items():
            short = short.replace(old, new)
        yield short
        factors = short.replace("·", "*").split("*")
        if 1 < len(factors) <= _PRODUCT:
            for order in permutations(factors):
                yield "*".join(order)
