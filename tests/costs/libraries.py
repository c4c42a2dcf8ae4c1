"""The work by hand, in numpy and plain Python, and in general libraries for frames and for expressions."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import groupby
from typing import Any, NamedTuple

import numpy as np
from work import CHECKS, USES
from work_data import Assemblies
from work_reference import TOLERANCE, as_lists, counted, in_lists, plain_python
from work_text import Dialect, Line, lines, named_lines, numpy_source, two_at_a_time

Counts = Any
ALL = 10**9
_BITS = 5
SLICE = 2048
"""So many assemblies at once fit a processor's cache."""


class Peer(NamedTuple):
    """Who does the work, how, at how many assemblies at most; prepared with its input, what makes the counts."""

    name: str
    how: str
    prepare: Callable[[Assemblies], Callable[[], Counts]]
    most: int = ALL


def in_columns(name: str, station: int) -> str:
    """The name of a column of a size at a station."""
    return f"{name}_{station}"


def _numpy(some: Assemblies) -> Callable[[], Counts]:
    namespace: dict[str, Any] = {}
    exec(numpy_source(TOLERANCE), namespace)

    def run() -> Counts:
        counts = np.zeros((len(CHECKS), 5), dtype=np.int64)
        for start in range(0, len(some.uses), SLICE):
            rows = slice(start, start + SLICE)
            namespace["check"]({name: one[:, rows] for name, one in some.sizes.items()}, some.uses[rows], counts, np)
        return counts

    return run


def _python(some: Assemblies) -> Callable[[], Counts]:
    check, records = plain_python(Dialect(in_lists)), as_lists(some)
    return lambda: counted(check, records, some)


def _limits(line: Line) -> Iterator[tuple[int, str, str]]:
    """The verdict, the sign and the limit of each side that has one."""
    if line.low:
        yield 1, "<", f"{line.low} - {TOLERANCE}"
    if line.high:
        yield 2, ">", f"{line.high} + {TOLERANCE}"


def _pandas(some: Assemblies) -> Callable[[], Counts]:
    import pandas as pd

    dialect = Dialect(
        lambda name, station: f"frame[{in_columns(name, station)!r}]",
        larger=two_at_a_time("np.maximum"),
        smaller=two_at_a_time("np.minimum"),
        choice="np.where({}, {}, {})",
        by_use=lambda numbers: f"np.array([{', '.join(numbers)}])[use]",
        absolute="{}.abs()",
    )
    body = [f"frame[{in_columns(name, station)!r}] = {text}" for name, station, text in named_lines(dialect)]
    for line in lines(dialect):
        body.append(f"value, count, among = {line.value}, counts[{line.number}], True")
        if line.uses:
            body += [f"among = np.isin(use, {line.uses})", "count[4] += len(use) - among.sum()"]
        body += [f"unknown = (({line.known}).isna() & among).sum()", "count[3] += unknown"]
        body.append(f"count[0] += {'among.sum()' if line.uses else 'len(use)'} - unknown")
        for verdict, sign, limit in _limits(line):
            body += [
                f"missed = ((value {sign} {limit}) & among).sum()",
                f"count[{verdict}] += missed",
                "count[0] -= missed",
            ]
    code = compile("\n".join(body), "pandas", "exec")
    given = pd.DataFrame(some.columns)

    def run() -> Counts:
        counts = np.zeros((len(CHECKS), 5), dtype=np.int64)
        frame = {name: given[name] for name in given}
        exec(code, {"frame": frame, "use": some.uses, "counts": counts, "np": np})
        return counts

    return run


def _polars(some: Assemblies) -> Callable[[], Counts]:
    import polars as pl

    def by_use(numbers: Any) -> str:
        first, *others = zip(range(len(USES)), numbers, strict=True)
        return f"pl.when(use == {first[0]}).then({first[1]})" + "".join(
            f".when(use == {use}).then({number})" for use, number in others
        )

    dialect = Dialect(
        lambda name, station: f"pl.col({in_columns(name, station)!r})",
        larger=lambda texts: f"pl.max_horizontal({', '.join(texts)})",
        smaller=lambda texts: f"pl.min_horizontal({', '.join(texts)})",
        choice="pl.when({}).then({}).otherwise({})",
        by_use=by_use,
        absolute="{}.abs()",
    )
    known = {"pl": pl, "use": pl.col("use")}
    frame = pl.DataFrame({**some.columns, "use": some.uses}).fill_nan(None)
    query = frame.lazy()
    for name, station, text in named_lines(dialect):
        query = query.with_columns(eval(text, known).alias(in_columns(name, station)))
    every = list(lines(dialect))
    asked = []
    for place, line in enumerate(every):
        is_known = eval(f"({line.known}).is_not_null()", known)
        if line.uses:
            is_known &= pl.col("use").is_in(list(line.uses))
        asked.append(is_known.sum().alias(f"known_{place}"))
        for verdict, sign, limit in _limits(line):
            missed = eval(f"({line.value}) {sign} ({limit})", known) & is_known
            asked.append(missed.sum().alias(f"verdict{verdict}_{place}"))
    query = query.select(asked)
    asked_of = {line.uses: int(np.isin(some.uses, line.uses).sum()) if line.uses else len(some.uses) for line in every}

    def run() -> Counts:
        row = query.collect().row(0, named=True)
        return _from_sums(every, asked_of, len(some.uses), row)

    return run


def _from_sums(every: list[Line], asked_of: Any, rows: int, row: Any) -> Counts:
    """Counts by check from sums by line: how many are known, and how many of these are beyond each limit."""
    counts = np.zeros((len(CHECKS), 5), dtype=np.int64)
    for place, line in enumerate(every):
        low, high = (int(row.get(f"verdict{verdict}_{place}", 0)) for verdict in (1, 2))
        known, asked = int(row[f"known_{place}"]), asked_of[line.uses]
        counts[line.number] += (known - low - high, low, high, asked - known, rows - asked)
    return counts


def _duckdb(some: Assemblies) -> Callable[[], Counts]:
    import duckdb
    import pyarrow as pa

    dialect = Dialect(
        in_columns,
        larger=lambda texts: f"greatest({', '.join(texts)})",
        smaller=lambda texts: f"least({', '.join(texts)})",
        choice="CASE WHEN {} THEN {} ELSE {} END",
        by_use=lambda numbers: (
            "CASE use " + " ".join(f"WHEN {use} THEN {one}" for use, one in enumerate(numbers)) + " END"
        ),
        number=lambda text: f"{float(text)!r}::DOUBLE",
    )
    steps, source = [], "given"
    for name, group in groupby(named_lines(dialect), lambda line: line[0]):
        columns = ", ".join(f"{text} AS {in_columns(name, station)}" for _, station, text in group)
        steps.append(f"with_{name} AS (SELECT *, {columns} FROM {source})")
        source = f"with_{name}"
    told: dict[int, list[str]] = {}
    for line in lines(dialect):
        cases = [(f"use NOT IN ({', '.join(map(str, line.uses))})", 4)] if line.uses else []
        cases.append((f"({line.known}) IS NULL", 3))
        cases += [(f"{line.value} {sign} {limit}", verdict) for verdict, sign, limit in _limits(line)]
        whens = " ".join(f"WHEN {condition} THEN {1 << _BITS * verdict}" for condition, verdict in cases)
        told.setdefault(line.number, []).append(f"CASE {whens} ELSE 1 END")
    # How often a check says each thing of an assembly stands in a few bits of one number.
    packed = ", ".join(f"({' + '.join(cases)})::INT AS check_{number}" for number, cases in told.items())
    steps.append(f"told AS (SELECT {packed} FROM {source})")
    sums = (f"sum((check_{number} >> {_BITS * verdict}) & {2**_BITS - 1})" for number in told for verdict in range(5))
    text = f"WITH {', '.join(steps)} SELECT {', '.join(sums)} FROM told"
    connection = duckdb.connect()
    connection.execute("SET threads=1")
    # Its own table, as its users would hold it; missing values are nulls there.
    table = pa.table(
        {name: pa.array(one, mask=np.isnan(one)) for name, one in some.columns.items()} | {"use": some.uses}
    )
    connection.register("table_of_arrow", table)
    connection.execute("CREATE TABLE given AS SELECT * FROM table_of_arrow")
    return lambda: np.array(connection.execute(text).fetchone(), dtype=np.int64).reshape(len(told), 5)


def _numexpr(some: Assemblies) -> Callable[[], Counts]:
    import numexpr

    numexpr.set_num_threads(1)
    dialect = Dialect(
        in_columns,
        larger=two_at_a_time("maximum"),
        smaller=two_at_a_time("minimum"),
        choice="where({}, {}, {})",
        by_use=lambda numbers: (
            f"where(use == 0, {numbers[0]}, where(use == 1, {numbers[1]}, where(use == 2, {numbers[2]}, {numbers[3]})))"
        ),
    )
    named = [(in_columns(name, station), text) for name, station, text in named_lines(dialect)]
    every = []
    for line in lines(dialect):
        text = "0"
        for verdict, sign, limit in _limits(line):
            text = f"where({line.value} {sign} {limit}, {verdict}, {text})"
        text = f"where(({line.known}) != ({line.known}), 3, {text})"
        if line.uses:
            among = " | ".join(f"(use == {use})" for use in line.uses)
            text = f"where({among}, {text}, 4)"
        every.append((line.number, text))

    def run() -> Counts:
        counts = np.zeros((len(CHECKS), 5), dtype=np.int64)
        values = {**some.columns, "use": some.uses}
        for name, text in named:
            values[name] = numexpr.evaluate(text, values, {}, optimization="none")
        for number, text in every:
            codes = numexpr.evaluate(text, values, {}, optimization="none")
            counts[number] += np.bincount(np.asarray(codes).ravel(), minlength=5)
        return counts

    return run


def _line_by_line(parse: Callable[[str], Any], value: Callable[[Any, dict[str, Any]], Any], some: Assemblies) -> Any:
    """The counts where a library is handed an expression at a time; what is missing or not for a use we leave out."""
    dialect = Dialect(in_columns, by_use=lambda numbers: f"[{', '.join(numbers)}][use]")
    named = [(in_columns(name, station), parse(text)) for name, station, text in named_lines(dialect)]
    every = []
    for line in lines(dialect):
        text = "0"
        for verdict, sign, limit in _limits(line):
            text = f"{verdict} if {line.value} {sign} {limit} else ({text})"
        every.append((line.number, frozenset(line.known.split(" + ")), line.uses, parse(text)))
    records = [
        dict(zip(some.columns, row, strict=True))
        for row in zip(*(one.tolist() for one in some.columns.values()), strict=True)
    ]

    def run() -> Counts:
        counts = np.zeros((len(CHECKS), 5), dtype=np.int64)
        for one, use in zip(records, some.uses.tolist(), strict=True):
            missing = {name for name, found in one.items() if found != found}
            names = {**one, "use": use}
            for name, parsed in named:
                names[name] = value(parsed, names)
            for number, inputs, uses, parsed in every:
                is_left_out = 4 if uses and use not in uses else 3 if not inputs.isdisjoint(missing) else 0
                counts[number, is_left_out or value(parsed, names)] += 1
        return counts

    return run


def _asteval(some: Assemblies) -> Callable[[], Counts]:
    import asteval

    interpreter = asteval.Interpreter(use_numpy=False)

    def value(parsed: Any, names: dict[str, Any]) -> Any:
        interpreter.symtable.update(names)
        return interpreter.run(parsed)

    return _line_by_line(interpreter.parse, value, some)


def _simpleeval(some: Assemblies) -> Callable[[], Counts]:
    import simpleeval

    calculator = simpleeval.EvalWithCompoundTypes(functions={"abs": abs, "min": min, "max": max})

    def value(parsed: Any, names: dict[str, Any]) -> Any:
        calculator.names = names
        return calculator.eval("", previously_parsed=parsed)

    return _line_by_line(calculator.parse, value, some)


PEERS = (
    Peer("numpy by hand", "arrays (stations, assemblies), 2,048 at a time", _numpy),
    Peer("plain Python by hand", "an assembly at a time, lists of floats", _python, 2_000),
    Peer("frames (polars)", "one lazy query, an expression for each verdict", _polars),
    Peer("frames (pandas)", "a column at a time", _pandas),
    Peer("SQL (duckdb)", "one query on a table of its own", _duckdb),
    Peer("arrays (numexpr)", "an expression for each verdict", _numexpr),
    Peer("expressions (asteval)", "parsed once, a verdict at a time", _asteval, 20),
    Peer("expressions (simpleeval)", "parsed once, a verdict at a time", _simpleeval, 20),
)
