"""The checks of the work as text of other languages: a line for each station, or for all stations at once in numpy."""

from __future__ import annotations

import ast
import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Sequence
from functools import cache, reduce
from typing import NamedTuple

from work import CHECKS, NAMED, SIZES, STATIONS, USES, Check, bare

CC = "16.387064"
"""Cubic centimetres in a cubic inch: 2.54 cubed, by the definition of the inch."""
_NAMED = {one.full: one for one in NAMED}
_SIZES = {size.full for size in SIZES}
_WHOLE = "eng"
_SIGNS = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"}


class Dialect(NamedTuple):
    """How a language writes a value at a station, and what has no sign of its own."""

    leaf: Callable[[str, int], str]
    number: Callable[[str], str] = str
    absolute: str = "abs({})"
    larger: Callable[[Sequence[str]], str] = lambda texts: f"max({', '.join(texts)})"
    smaller: Callable[[Sequence[str]], str] = lambda texts: f"min({', '.join(texts)})"
    choice: str = "({1} if {0} else {2})"
    by_use: Callable[[Sequence[str]], str] = lambda numbers: f"({', '.join(numbers)})[use]"


def two_at_a_time(function: str) -> Callable[[Sequence[str]], str]:
    """Calls of a function of two values, one within the other."""
    return lambda texts: reduce(lambda one, other: f"{function}({one}, {other})", texts)


class Line(NamedTuple):
    """One check at one station; `known` is a sum that is missing where anything is that it rests on."""

    number: int
    value: str
    low: str
    high: str
    known: str
    uses: tuple[int, ...]


def named_lines(dialect: Dialect) -> Iterator[tuple[str, int, str]]:
    """Name, station and text of what is worked out, in an order in which each rests on those before it."""
    for one in NAMED:
        for station in range(STATIONS[one.place]):
            yield one.full, station, _Line(dialect, one.place, station).text(_parsed(one.text))


def lines(dialect: Dialect) -> Iterator[Line]:
    """Every check at every station."""
    for number, check in enumerate(CHECKS):
        for station in range(check.stations):
            at = _Line(dialect, check.place, station)
            value, low, high = (at.text(_parsed(text)) if text else "" for text in (check.value, check.low, check.high))
            inputs = sorted(leaves(check, station))
            known = " + ".join(dialect.leaf(*leaf) for leaf in inputs)
            yield Line(number, value, low, high, known, tuple(USES.index(use) for use in check.uses))


def leaves(check: Check, station: int) -> frozenset[tuple[str, int]]:
    """The sizes on which a check at a station rests."""
    found: set[tuple[str, int]] = set()

    def leaf(name: str, at: int) -> str:
        if name in _NAMED:
            _Line(dialect, _NAMED[name].place, at).text(_parsed(_NAMED[name].text))
        else:
            found.add((name, at))
        return name

    dialect = Dialect(leaf)
    for text in filter(None, (check.value, check.low, check.high)):
        _Line(dialect, check.place, station).text(_parsed(text))
    return frozenset(found)


@cache
def _parsed(text: str) -> ast.expr:
    return ast.parse(bare(text), mode="eval").body


def _place_of(node: ast.AST) -> str:
    """The kind of station whose values something is made of."""
    places = [each.id.partition("_")[0] for each in ast.walk(node) if isinstance(each, ast.Name) and "_" in each.id]
    return next(place for place in places if place in STATIONS and place != _WHOLE)


class _Text(ABC):
    """Text of an expression, as far as it is alike for a line and for all stations at once."""

    dialect: Dialect

    def text(self, node: ast.AST) -> str:
        match node:
            case ast.Constant(value=value):
                return self.dialect.number(repr(value))
            case ast.UnaryOp(operand=operand):
                return f"(-{self.text(operand)})"
            case ast.BinOp(left=left, op=op, right=right):
                return f"({self.text(left)} {_SIGNS[type(op)]} {self.text(right)})"
            case ast.Compare(left=left, comparators=[right]):
                return f"{self.text(left)} > {self.text(right)}"
            case ast.IfExp(test=test, body=body, orelse=other):
                return self.dialect.choice.format(*map(self.text, (test, body, other)))
            case ast.Name(id="pi"):
                return self.dialect.number(repr(math.pi))
            case ast.Name(id=name):
                return self.name(name)
            case ast.Call(func=ast.Name(id=function), args=arguments):
                return self.call(function, arguments)
        raise ValueError(ast.dump(node))

    def call(self, function: str, arguments: Sequence[ast.expr]) -> str:
        match function:
            case "abs":
                return self.dialect.absolute.format(self.text(arguments[0]))
            case "larger_of" | "smaller_of":
                write = self.dialect.larger if function == "larger_of" else self.dialect.smaller
                return write([self.text(one) for one in arguments])
            case "cc":
                return f"({self.text(arguments[0])} / {self.dialect.number(CC)})"
            case "by_use":
                return self.dialect.by_use([self.dialect.number(ast.unparse(one)) for one in arguments])
            case "next" | "first" | "second":
                return self.neighbour(function, ast.unparse(arguments[0]))
            case "spread" if len(arguments) == 1:
                return f"({self.across('greatest', arguments)} - {self.across('least', arguments)})"
        return self.across(function, arguments)

    @abstractmethod
    def name(self, name: str) -> str:
        """A value by its name, at the station or at all of them."""

    @abstractmethod
    def neighbour(self, which: str, name: str) -> str:
        """The value of the next station, or of the first or second of a pair."""

    @abstractmethod
    def across(self, function: str, arguments: Sequence[ast.expr]) -> str:
        """A function of the values of several stations."""


class _Line(_Text):
    """Text at one station."""

    def __init__(self, dialect: Dialect, place: str, station: int) -> None:
        self.dialect = dialect
        self.place = place
        self.station = station

    def name(self, name: str) -> str:
        count, own = STATIONS[name.partition("_")[0]], STATIONS[self.place]
        return self.dialect.leaf(name, 0 if count == 1 else self.station * count // own)

    def neighbour(self, which: str, name: str) -> str:
        at = {"next": self.station + 1, "first": 2 * self.station, "second": 2 * self.station + 1}
        return self.dialect.leaf(name, at[which])

    def across(self, function: str, arguments: Sequence[ast.expr]) -> str:
        place = _place_of(arguments[0])
        count = STATIONS[place]
        each = count if len(arguments) == 1 else count // STATIONS[self.place]
        members = range(count) if len(arguments) == 1 else range(self.station * each, self.station * each + each)
        texts = [_Line(self.dialect, place, member).text(arguments[0]) for member in members]
        larger, smaller = self.dialect.larger(texts), self.dialect.smaller(texts)
        total = f"({' + '.join(texts)})"
        return {
            "greatest": larger,
            "least": smaller,
            "spread": f"({larger} - {smaller})",
            "total": total,
            "mean": f"({total} / {self.dialect.number(str(each))})",
        }[function]


class _Arrays(_Text):
    """Text for all stations at once: arrays of shape (stations, assemblies)."""

    dialect = Dialect(
        leaf=lambda name, _: name,
        absolute="np.abs({})",
        larger=two_at_a_time("np.maximum"),
        smaller=two_at_a_time("np.minimum"),
        choice="np.where({}, {}, {})",
        by_use=lambda numbers: f"np.array(({', '.join(numbers)}))[use]",
    )

    def __init__(self, place: str, has_next: bool = False, in_pairs: bool = False) -> None:
        self.place = place
        self.has_next = has_next
        self.in_pairs = in_pairs

    def name(self, name: str) -> str:
        count, own = STATIONS[name.partition("_")[0]], STATIONS[self.place]
        if count == 1:
            return f"{name}[0]"
        if count != own:
            return f"{name}[:, None]"
        if self.in_pairs:
            return f"{name}.reshape({own // 2}, 2, -1)"
        return f"{name}[:-1]" if self.has_next else name

    def neighbour(self, which: str, name: str) -> str:
        return f"{name}[{ {'next': '1:', 'first': '0::2', 'second': '1::2'}[which] }]"

    def across(self, function: str, arguments: Sequence[ast.expr]) -> str:
        place = _place_of(arguments[0])
        inner = _Arrays(place).text(arguments[0])
        if len(arguments) > 1:
            one, other = f"{inner}[0::2]", f"{inner}[1::2]"
            return f"np.abs({one} - {other})" if function == "spread" else f"({one} + {other})"
        reduced = {"greatest": "np.maximum", "least": "np.minimum", "mean": "np.add"}[function]
        whole = f"{reduced}.reduce({inner})"
        return f"({whole} / {STATIONS[place]})" if function == "mean" else whole


def numpy_source(tolerance: str = "1e-9") -> str:
    """A function `check(sizes, use, counts, np)` as somebody would write it who checks nothing but this."""
    body = [f"{name} = sizes[{name!r}]" for name in sorted(_SIZES)]
    body += [f"{one.full} = {_Arrays(one.place).text(_parsed(one.text))}" for one in NAMED]
    body += ["rejected = np.zeros(len(use), dtype=bool)"]
    for number, check in enumerate(CHECKS):
        body += _numpy_check(number, check, tolerance)
    indented = "\n".join(f"    {line}" for line in [*body, "return np.count_nonzero(rejected)"])
    return f"def check(sizes, use, counts, np):\n{indented}\n"


def _numpy_check(number: int, check: Check, tolerance: str) -> Iterator[str]:
    whole = ast.unparse(_parsed(check.value)) + check.low + check.high
    paired = check.place in ("ring", "valve") and "cyl_" in whole
    at = _Arrays(check.place, "next(" in check.value, paired)
    yield f"value = {at.text(_parsed(check.value))}"
    limits = [text for text in (check.low, check.high) if text]
    more = any("_" in text.replace("by_use", "") for text in limits) and paired
    total = f"{check.stations}*len(use)"
    if check.uses:
        yield "applies = " + " | ".join(f"(use == {USES.index(use)})" for use in check.uses)
        yield f"total = {check.stations}*np.count_nonzero(applies)"
        yield f"counts[{number}, 4] += {total} - total"
        total = "total"
    missed = []
    for side, text, sign, move in (("low", check.low, "<", "-"), ("high", check.high, ">", "+")):
        if text:
            yield f"limit = {at.text(_parsed(text))}"
            yield f"{side} = value {sign} limit {move} {tolerance}"
            missed.append(side)
            if check.uses:
                yield f"{side} &= applies"
            yield f"count_{side} = np.count_nonzero({side})"
            across = "(0, 1)" if paired else "0"
            worst = side if check.place == _WHOLE else f"{side}.any(axis={across})"
            yield f"if count_{side}: rejected |= {worst}"
            yield f"counts[{number}, {1 if side == 'low' else 2}] += count_{side}"
    unknown = "(value != value) | (limit != limit)" if more else "value != value"
    yield f"unknown = np.count_nonzero({f'({unknown}) & applies' if check.uses else unknown})"
    yield f"counts[{number}, 3] += unknown"
    yield f"counts[{number}, 0] += {total} - unknown" + "".join(f" - count_{side}" for side in missed)
