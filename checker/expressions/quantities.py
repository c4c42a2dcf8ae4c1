"""Quantities as written in an expression: a number, a space and a unit, as in `0.5 thou per in`.

They are found in the text before it is read as a tree: where a unit stood there are blanks then, so that every part
keeps its column.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from checker.errors import Problem, nearest
from checker.expressions.names import WORDS_OF_THE_LANGUAGE
from checker.expressions.problems import fault
from checker.units import dimensions
from checker.units.dimensions import Dimension
from checker.units.units import UNITS, UnitError, unit

_FIGURE = re.compile(
    r"(?<![A-Za-z0-9_.])(?P<figure>(?:[0-9]++\.?+[0-9]*+|\.[0-9]++)(?:[eE][+-]?[0-9]++)?+) +(?=[A-Za-z%])"
)
_WORD = re.compile(r"[A-Za-z%][A-Za-z0-9_]*")
_PER = re.compile(r" +per +")
_GOES_ON = re.compile(r"[A-Za-z0-9_%]")
_FRACTION = re.compile(r"(?<![A-Za-z0-9_.)])(?<!\*\*)(?P<over>[0-9]+) */ *$")


class Written(NamedTuple):
    """A text whose units are blanked out, what stood there by the column behind the number, and what is wrong."""

    text: str
    units: Mapping[int, tuple[str, int]]
    problems: tuple[Problem, ...]


def written_quantities(text: str) -> Written:
    """Find the quantities in a text that has nothing quoted in it: the unit and its end by the end of its number."""
    units: dict[int, tuple[str, int]] = {}
    problems: list[Problem] = []
    end = 0
    while match := _FIGURE.search(text, end):
        start, end = match.end(), _end_of_units(text, match.end())
        if start == end and (word := _WORD.match(text, start)):
            end = word.end()
            if word[0] not in WORDS_OF_THE_LANGUAGE:
                problems.append(_no_unit(word[0], start + 1))
            continue
        unit_words = text[start:end]
        over = _FRACTION.search(text, 0, match.start())
        if over and match["figure"].isdigit() and int(match["figure"]) > 1:
            value = float(over["over"]) / float(match["figure"])
            message = f"'{over['over']}/{match['figure']} {unit_words}' can be read in two ways"
            problems.append(fault(message, over.start() + 1, f"write {value:g} {unit_words}"))
        units[match.end("figure")] = " ".join(unit_words.split()), end
    return Written(_blanked(text, units), units, tuple(problems))


def _end_of_units(text: str, start: int) -> int:
    """Where a unit that starts here ends, or one per another; the start where there is none."""
    end = _end_of_unit(text, start)
    per = _PER.match(text, end) if end > start else None
    other = _end_of_unit(text, per.end()) if per else end
    return other if per and other > per.end() else end


def _end_of_unit(text: str, start: int) -> int:
    for name in _longest_first().get(text[start : start + 1], ()):
        if text.startswith(name, start) and not _GOES_ON.match(text, start + len(name)):
            return start + len(name)
    return start


@lru_cache(maxsize=1)
def _longest_first() -> Mapping[str, Sequence[str]]:
    """The names of units by the letter that they begin with."""
    names: dict[str, list[str]] = {}
    for name in sorted(UNITS, key=len, reverse=True):
        names.setdefault(name[0], []).append(name)
    return names


def _no_unit(word: str, column: int) -> Problem:
    try:
        unit(word)
    except UnitError as error:
        hint = error.hint or nearest(word, UNITS) or "put * between a number and a name"
        return fault(f"{word!r} is not a unit", column, hint)
    return fault(f"{word!r} cannot stand here", column)


def _blanked(text: str, units: Mapping[int, tuple[str, int]]) -> str:
    for start, (_, end) in units.items():
        text = text[:start] + " " * (end - start) + text[end:]
    return text


@lru_cache(maxsize=256)
def unit_of(name: str) -> tuple[float, Dimension] | None:
    """The factor and the dimension of a unit, or of one per another; none where its zero lies elsewhere."""
    factor, dimension = 1.0, dimensions.DIMENSIONLESS
    parts = [name] if name in UNITS else name.split(" per ")
    for power, part in zip((1, -1), parts, strict=False):
        known = UNITS[part]
        if known.offset:
            return None
        factor *= known.factor**power
        dimension = dimensions.multiply(dimension, dimensions.power(known.dimension, power))
    return factor, dimension
