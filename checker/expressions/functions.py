"""What expressions may call: each function with its dimensions and its range.

A function works on whole arrays and names the dimension of each argument and of its result:

    LENGTH = dimension_of("inch")
    Function("taper", (LENGTH, LENGTH), LENGTH, call=lambda top, bottom: np.abs(top - bottom))
    Function("middle", (A, A), A, call=lambda a, b: (a + b) / 2)     # any dimension, both alike
    Function("longest", (A,), A, call=lambda values: values.max(axis=-1), across=True)

One that works `across` stations gets arrays of shape (rows, stations) and reduces the last axis. Give `bounds`, from
the ranges of the arguments to that of the result, where the result may be divided by; raise RangeError where it can
fail. No function needs to care for missing values: they come out as they went in, whatever `call` makes of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from enum import Enum
from functools import partial
from typing import Any, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from checker.expressions import mathematics, ranges
from checker.expressions.intervals import TRUTH, Interval, RangeError, bounded
from checker.expressions.plugin_results import fault_in
from checker.expressions.truth import CANNOT_TELL, FALSE, TRUE, Array
from checker.failure import told
from checker.frozen import Applied, FrozenMapping
from checker.units.dimensions import DIMENSIONLESS, Dimension, dimension_of


class Kind(Enum):
    """What an argument or result can be besides a number of some dimension."""

    CONDITION = "a condition"
    VALUE = "a characteristic, or one view of it"
    CHARACTERISTIC = "the plain name of a numeric characteristic"
    SERIES = "the plain name of a series characteristic"


class Free(NamedTuple):
    """Whatever dimension the arguments of this letter have in common, to a power."""

    letter: str
    power: float = 1.0


A, B = Free("a"), Free("b")

Argument: TypeAlias = Dimension | Free | Kind

KNOWN = "known "
"""The view that only asks whether there is a value; what it asks about follows it."""

_TOO_SHORT = 2
"""Bytes of a number that does not tell thousandths."""

UNKNOWN_RANGE = Interval(-1e30, 1e30)


class FunctionError(Exception):
    """A function fails, or returns something unfit; of which function, and whether a plugin added it."""

    def __init__(self, function: Function, words: str) -> None:
        super().__init__(f"function {function} {words}")
        self.function = function


@dataclass(frozen=True, slots=True, eq=False)
class Function:
    """A named calculation on arrays in SI, of shape (records, stations).

    `arguments` and `result` are dimensions (`dimension_of("mm")`), or `Free("a")` for whatever those of this letter
    have in common. A plugin states these, `call`, `bounds` and `across`; plugins/README.md tells of each. `view` marks
    one that reads a characteristic in another way.
    """

    name: str
    arguments: tuple[Argument, ...]
    result: Argument
    call: Callable[..., Any] | None = None
    bounds: Callable[..., Interval] | None = None
    across: bool = False
    is_monotone: bool = False
    """Whether it only grows, or only falls, as stations are added."""
    carries: bool = False
    """Whether it makes a missing value of a missing one by itself, and, where nothing is infinite, nothing infinite."""
    of_known: bool = False
    """Whether it takes any number of names, and is calculated across those that are known."""
    neighbour: int = 0
    """By how many stations the one is further on whose value it gives."""
    view: str = ""
    ends: bool = False
    """Whether it may be infinite, which means: not covered, off the end of a table."""
    plugin: str = ""
    """The plugin that adds it, with its version; set when plugins are gathered."""
    again: Callable[[str, str], Function] | None = None
    """Finds it in another program, by its plugin and its name; likewise."""

    def __post_init__(self) -> None:
        if sum((self.call is not None, bool(self.view), bool(self.neighbour))) != 1:
            raise ValueError(f"function {self.name!r} needs either something to call or a view")
        for stated in (*self.arguments, self.result):
            if not (isinstance(stated, (Free, Kind)) or _is_dimension(stated)):
                hint = 'arguments=(dimension_of("mm"),), result=dimension_of("mm")'
                raise ValueError(f"function {self.name!r}: {stated!r} is no dimension, as in {hint}")
        for called in (self.call, self.bounds):
            if not (called is None or callable(called)):
                raise ValueError(f"function {self.name!r}: {called!r} cannot be called")
        if isinstance(self.result, Kind) and self.result is not Kind.CONDITION:
            raise ValueError(f"function {self.name!r} cannot return {self.result.value}")
        if self.call and isinstance(self.result, Free) and self.result.letter not in self._letters():
            raise ValueError(f"function {self.name!r}: no argument has the dimension of the result")

    def __reduce__(self) -> tuple[Any, ...]:
        if FUNCTIONS.get(self.name) is self:
            return _of_every_expression, (self.name,)
        if self.again is not None:
            return self.again, (self.plugin, self.name)
        return Function, tuple(getattr(self, each.name) for each in fields(self))

    def _letters(self) -> set[str]:
        return {argument.letter for argument in self.arguments if isinstance(argument, Free)}

    def range_of(self, *arguments: Interval) -> Interval:
        """Where the result lies; raises RangeError where the calculation can fail."""
        if self.bounds is None:
            return TRUTH if self.result is Kind.CONDITION else UNKNOWN_RANGE
        try:
            low, high = self.bounds(*arguments)
            if low > high:
                raise ValueError(f"from {low:.6g} down to {high:.6g}")
            return bounded(low, high)
        except RangeError:
            raise
        except Exception as error:
            raise RangeError(f"the bounds of function {self} fail: {told(error)}") from error

    def __str__(self) -> str:
        return f"{self.name} of plugin {self.plugin}" if self.plugin else self.name

    def __call__(self, *arguments: Array) -> Array:
        """The result, missing where an argument is missing and not covered where one is not covered."""
        if self.call is None:
            raise FunctionError(self, "reads a characteristic and calculates nothing")
        given = tuple(item if type(item) is np.ndarray else np.atleast_2d(item) for item in arguments)
        if self.across:
            given = _by_station(given)
        if self.across and given[0].shape[-1] == 0:
            return np.full((given[0].shape[0], 1), np.nan)
        if self.plugin:
            given = tuple(map(_to_be_read, given))
        found = self._calculated(self.call, given)
        if self.plugin:
            range_of = None if self.bounds is None else self.range_of
            if fault := fault_in(found, given, range_of, partial(self._calculated, self.call)):
                raise FunctionError(self, fault)
        return found

    def _calculated(self, call: Callable[..., Any], given: tuple[Array, ...]) -> Array:
        try:
            result = self._numbers(call(*given))
        except (KeyboardInterrupt, FunctionError):
            raise
        except BaseException as error:  # an exit asked for in a plugin is a failure like any other
            raise FunctionError(self, f"failed: {told(error)}") from error
        found = self._shaped(result, given)
        if not self.carries or any(np.isinf(item).any() for item in given):
            found = self._carry(found, given)
        return found

    def _numbers(self, made: Any) -> npt.NDArray[Any]:
        """What was returned as a plain array; what is masked is missing."""
        if hasattr(made, "units") or hasattr(made, "unit"):
            raise FunctionError(self, "returned a quantity with a unit, not numbers in SI")
        plain = np.asarray(made)
        return np.where(made.mask, np.nan, plain) if hasattr(made, "mask") else plain

    def _shaped(self, result: npt.NDArray[Any], given: tuple[Array, ...]) -> Array:
        alike = len(given) == 1 or len({argument.shape for argument in given}) == 1
        expected = given[0].shape if alike else np.broadcast_shapes(*(argument.shape for argument in given))
        if self.across:
            expected = expected[:-1]
        is_number = result.dtype.kind in "iu" or (result.dtype.kind == "f" and result.dtype.itemsize > _TOO_SHORT)
        is_truth = result.dtype.kind == "b" and self.result is Kind.CONDITION
        if result.shape != expected or not (is_number or is_truth):
            raise FunctionError(self, f"returned {result.dtype} of shape {result.shape}, not numbers of {expected}")
        result = result.astype(np.float64, copy=bool(self.plugin))  # it may write its next result over this one
        return result[..., np.newaxis] if self.across else result

    def _carry(self, result: Array, given: tuple[Array, ...]) -> Array:
        """Let nothing be made of a missing value, and no failure pass for "not covered"."""
        if not self.ends and np.isinf(result).any():
            result = np.where(np.isinf(result), np.nan, result)
        is_own = False
        for kind, argument in zip(self.arguments, given, strict=True):
            values = _unknown_as_missing(kind, argument)
            blank = values.sum(axis=-1, keepdims=True) if self.across else values
            is_there = np.isfinite(blank)
            if not is_there.all():
                if not is_own:
                    result, is_own = np.array(result), True  # a function may hold on to what it returns
                np.copyto(result, blank, where=~is_there)
        if self.result is Kind.CONDITION:
            result = np.where((result == TRUE) | (result == FALSE), result, CANNOT_TELL)
        return result


def _is_dimension(stated: object) -> bool:
    return isinstance(stated, tuple) and all(isinstance(part, tuple) and len(part) == 2 for part in stated)


def _to_be_read(argument: Array) -> Array:
    """What several steps may share, so that none writes over it."""
    view = argument.view()
    view.flags.writeable = False
    return view


def _by_station(arguments: tuple[Array, ...]) -> tuple[Array, ...]:
    # numpy reduces long columns many times faster than short rows.
    alike = np.broadcast_arrays(*arguments) if len(arguments) > 1 else arguments
    return tuple(np.asfortranarray(argument) for argument in alike)


def _unknown_as_missing(kind: Argument, argument: Array) -> Array:
    if kind is Kind.CONDITION:
        return np.where(argument == CANNOT_TELL, np.nan, argument)
    return argument


def _reduction(
    name: str,
    arguments: tuple[Argument, ...],
    result: Argument,
    call: Callable[..., Any],
    bounds: Callable[..., Interval],
    is_monotone: bool = False,
) -> Function:
    carries = arguments == (A,)
    return Function(name, arguments, result, call, bounds, across=True, is_monotone=is_monotone, carries=carries)


ANGLE = dimension_of("rad")

_READINGS = [
    Function("computed", (Kind.CHARACTERISTIC,), A, view="computed", bounds=ranges.unchanged),
    Function("measured", (Kind.CHARACTERISTIC,), A, view="measured", bounds=ranges.unchanged),
    Function("least_reading", (Kind.CHARACTERISTIC,), A, view="least_reading", bounds=ranges.unchanged),
    Function("greatest_reading", (Kind.CHARACTERISTIC,), A, view="greatest_reading", bounds=ranges.unchanged),
    Function("spread_of_readings", (Kind.CHARACTERISTIC,), A, view="spread_of_readings", bounds=ranges.spread),
    Function("count_of_readings", (Kind.CHARACTERISTIC,), DIMENSIONLESS, view="count_of_readings", bounds=ranges.count),
    Function("is_permutation", (Kind.SERIES,), Kind.CONDITION, view="is_permutation"),
    Function("rises", (Kind.SERIES,), Kind.CONDITION, view="rises"),
    Function("known", (Kind.VALUE,), Kind.CONDITION, view=KNOWN),
]

_ACROSS_STATIONS = [
    _reduction("spread", (A,), A, mathematics.spread, ranges.spread, is_monotone=True),
    _reduction("least", (A,), A, mathematics.least, ranges.unchanged, is_monotone=True),
    _reduction("greatest", (A,), A, mathematics.greatest, ranges.unchanged, is_monotone=True),
    _reduction("mean", (A,), A, mathematics.mean, ranges.unchanged),
    _reduction("total", (A,), A, mathematics.total, ranges.total),
    _reduction("count", (Kind.CONDITION,), DIMENSIONLESS, mathematics.count, ranges.count, is_monotone=True),
]

_OF_WHAT_IS_KNOWN = [
    replace(function, name=f"{function.name}_known", of_known=True)
    for function in _ACROSS_STATIONS
    if function.name in ("least", "greatest", "mean")
]

_AT_A_NEIGHBOUR = [
    Function("next", (A,), A, bounds=ranges.unchanged, neighbour=1),
    Function("previous", (A,), A, bounds=ranges.unchanged, neighbour=-1),
]

_AT_EACH_STATION = [
    Function("abs", (A,), A, call=np.abs, bounds=ranges.absolute, carries=True),
    Function("sqrt", (A,), Free("a", 0.5), call=mathematics.square_root, bounds=ranges.square_root),
    Function("hypot", (A, A), A, call=np.hypot, bounds=ranges.hypotenuse),
    Function("smaller_of", (A, A), A, call=np.minimum, bounds=ranges.smaller, carries=True),
    Function("larger_of", (A, A), A, call=np.maximum, bounds=ranges.larger, carries=True),
    Function("round_up", (A, A), A, call=mathematics.round_up, bounds=ranges.round_up),
    Function("floor", (DIMENSIONLESS,), DIMENSIONLESS, call=mathematics.floor, bounds=ranges.floor),
    Function("ceiling", (DIMENSIONLESS,), DIMENSIONLESS, call=mathematics.ceiling, bounds=ranges.ceiling),
    Function("exp", (DIMENSIONLESS,), DIMENSIONLESS, call=np.exp, bounds=ranges.exponential),
    Function("log", (DIMENSIONLESS,), DIMENSIONLESS, call=np.log, bounds=ranges.logarithm),
    Function("log10", (DIMENSIONLESS,), DIMENSIONLESS, call=np.log10, bounds=ranges.decimal_logarithm),
    Function("sin", (ANGLE,), DIMENSIONLESS, call=np.sin, bounds=ranges.sine),
    Function("cos", (ANGLE,), DIMENSIONLESS, call=np.cos, bounds=ranges.cosine),
    Function("tan", (ANGLE,), DIMENSIONLESS, call=np.tan, bounds=ranges.tangent),
    Function("asin", (DIMENSIONLESS,), ANGLE, call=mathematics.arc_sine, bounds=ranges.arc_sine),
    Function("acos", (DIMENSIONLESS,), ANGLE, call=mathematics.arc_cosine, bounds=ranges.arc_cosine),
    Function("atan", (DIMENSIONLESS,), ANGLE, call=np.arctan, bounds=ranges.arc_tangent),
    Function("between_angles", (ANGLE, ANGLE), ANGLE, call=mathematics.between_angles, bounds=ranges.half_turn),
    Function("interpolate", (A, A, B, A, B), B, call=mathematics.interpolate, bounds=ranges.between, ends=True),
]


def of_plugins(calls: Iterable[Any]) -> tuple[Function, ...]:
    """The functions of plugins among calls, those over some of the stations too."""
    functions: list[Function] = []
    for call in calls:
        if isinstance(call, Applied):
            functions += of_plugins(call.first)
        elif isinstance(call, Function) and call.plugin:
            functions.append(call)
    return tuple(functions)


FUNCTIONS: Mapping[str, Function] = FrozenMapping(
    {
        function.name: function
        for function in (*_READINGS, *_ACROSS_STATIONS, *_OF_WHAT_IS_KNOWN, *_AT_A_NEIGHBOUR, *_AT_EACH_STATION)
    }
)
"""The functions every expression may call."""


def _of_every_expression(name: str) -> Function:
    return FUNCTIONS[name]
