"""A table judged as one block says of each row what checking that row as a record says."""

from __future__ import annotations

from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from examples import examples
from hypothesis import given
from hypothesis import strategies as st
from judging import rulebook
from pack_tools import gear_rulebook
from places import HONEST
from record_heads import ENGINE, TRAIN
from small_packs import rulebook as small_rulebook
from trial_agreement import disagreements

import checker
from checker import InputError, Report, Rulebook, UsageError, Verdict
from checker.packs.limit_set import POSITIONS
from checker.units.units import UNITS

pa = pytest.importorskip("pyarrow", reason="the extra `tables` is not installed")
pytest.importorskip("pyarrow.parquet")

from checker.tables.arithmetic import cells_of  # noqa: E402
from checker.tables.arrow import Table  # noqa: E402

DAY = date(2026, 6, 1)
MISSED = (Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY)
COMPARED = tuple(set(Verdict) - {Verdict.NOT_APPLICABLE, Verdict.NOT_ASKED, Verdict.NOT_MEASURED})
GEARS = gear_rulebook()


class _Centimetres(np.ndarray):
    """An array of a library that keeps the unit beside the numbers, and gives Arrow the numbers alone."""

    units = "centimetre"


WITH_UNIT = np.array([0.005]).view(_Centimetres)


def cells(*usual: Any, low: float, high: float) -> st.SearchStrategy[Any]:
    """Something measured: usual values, any between two ends, nothing, and now and then what cannot be."""
    odd = st.sampled_from([None, -5.0, 1e4, "above 0.1 mm", "0.002 in", "what?", "-"])
    return st.one_of(st.sampled_from(usual), st.floats(low, high), st.floats(low, high), st.none(), odd)


GEAR_CELLS = {
    "shaft_diameter": (2, cells(50.0, 40.0, 100.0, low=20, high=120)),
    "bearing_bore": (2, cells(50.05, 40.04, low=20, high=120)),
    "gear_bore": (4, cells(49.97, 39.97, low=20, high=120)),
    "gear_mass": (4, cells(3, 9.0, low=0.1, high=20)),
    "end_float": (2, cells(0.03, 0.15, 0.25, low=0, high=0.4)),
    "shaft_length": (2, cells(500, low=100, high=900)),
    "backlash": (2, cells(0.04, 0.16, 0.10, low=0, high=0.3)),
    "gear_module": (2, cells(2, 2.5, low=1, high=4)),
    "oil": (0, st.sampled_from(["mineral", "synthetic", "grease", None, "butter"])),
    "bearing_kind": (0, st.sampled_from(["plain", "rolling", None])),
    "joint_gap": (0, cells(0.03, 0.05, low=0, high=0.1)),
}
ENGINE_CELLS = {
    "main_journal_diameter": (3, cells(2.449, 2.4485, low=2.448, high=2.450)),
    "main_bearing_bore": (3, cells(2.4515, 2.4512, low=2.450, high=2.453)),
    "main_oil_clearance": (3, cells(0.0025, 0.0022, low=0.0, high=0.006)),
    "leak_down": (4, st.sampled_from(["5 %", "12 %", None])),
    "cranking_pressure": (4, cells(150.0, 180.0, low=100, high=220)),
    "top_ring_gap": (4, cells(0.016, 0.018, low=0.005, high=0.03)),
    "cylinder_bore": (4, cells(4.03, low=4.0, high=4.06)),
    "crankshaft_place": (0, st.sampled_from(["out of the block", "left in the block", None])),
    "top_ring_material": (0, st.sampled_from(["ductile iron", "grey iron", None])),
}


@st.composite
def tables(draw: st.DrawFn, known: dict[str, tuple[int, st.SearchStrategy[Any]]]) -> dict[str, list[Any]]:
    """Some columns of some rows; where a column holds a text, all of it is texts."""
    rows = draw(st.integers(1, 5))
    chosen = draw(st.lists(st.sampled_from(sorted(known)), min_size=1, max_size=5, unique=True))
    found: dict[str, list[Any]] = {}
    for name in chosen:
        stations, strategy = known[name]
        for label in [f"{name}@{number}" for number in range(1, stations + 1)] or [name]:
            column = draw(st.lists(strategy, min_size=rows, max_size=rows))
            is_text = any(isinstance(cell, str) for cell in column)
            found[label] = [None if cell is None else str(cell) if is_text else float(cell) for cell in column]
    return found


def one_by_one(book: Rulebook, base: dict[str, Any], table: dict[str, list[Any]], row: int, **how: Any) -> Report:
    """The report on one row, written as a record."""
    facts: dict[str, Any] = {}
    readings: dict[str, Any] = dict(base.get("readings", {}))
    for label, column in table.items():
        name, _, station = label.partition("@")
        is_fact = book.characteristics[name].unit is None
        value = column[row]
        if station:
            readings.setdefault(name, {})[station] = value
        else:
            (facts if is_fact else readings)[name] = value
    for name, gauge in how.pop("instruments", {}).items():
        readings[name] = {"with": gauge, "values": readings[name]}
    data = {"assembly": "one", **base, "facts": {**base.get("facts", {}), **facts}, "readings": readings}
    return book.check(checker.record_from(data), on=DAY, **how)


def lines_of(report: Report) -> list[tuple[Any, ...]]:
    """What a single check says of each station, in SI: rule, station, verdict, value, and its four limits."""
    return [
        (
            one.rule.name,
            None if one.rule.stations is None else station + 1,
            str(Verdict(code)),
            *(np.nan if one.rule.is_demand else number for number in (value, *limits)),
        )
        for one in report.judged
        for station, (code, value, *limits) in enumerate(
            zip(one.codes[0], one.measures.value[0], *one.measures.limits[:, 0], strict=True)
        )
        if Verdict(code) in COMPARED
    ]


def assert_same(book: Rulebook, base: dict[str, Any], table: dict[str, list[Any]], **how: Any) -> Counter[str]:
    """Holds the table against its rows one by one; how many findings of each verdict were compared."""
    found = book.check_table(pa.table(table), base, verdicts=COMPARED, on=DAY, **how)
    # Where what is within need not be told, it is told by comparing: all else must come out the same.
    fewer = book.check_table(pa.table(table), base, verdicts=MISSED, on=DAY, **how)
    missed = [line for line in found.findings.to_pylist() if line["verdict"] in map(str, MISSED)]
    assert (fewer.counts, fewer.findings.to_pylist()) == (found.counts, missed)
    counts = {line["row"]: line for line in found.counts.to_pylist()}
    aside = {line["row"]: line["reason"] for line in found.set_aside.to_pylist()}
    told: dict[int, list[dict[str, Any]]] = {}
    for line in found.findings.to_pylist():
        told.setdefault(line["row"], []).append(line)
    compared: Counter[str] = Counter()
    for row in range(len(next(iter(table.values())))):
        try:
            alone = one_by_one(book, base, table, row, **how)
        except InputError:
            assert row in aside and row not in counts
            continue
        assert row not in aside, aside[row]
        assert counts[row]["status"] == alone.status
        assert counts[row]["must_open"] == alone.must_open
        assert counts[row]["refused"] == sum(bool(reading.set_aside) for reading in alone.readings)
        for verdict in Verdict:
            assert counts[row][str(verdict).replace(" ", "_")] == alone.counts[verdict]
            compared[str(verdict)] += alone.counts[verdict]
        expected = lines_of(alone)
        assert [(line["rule"], line["station"], line["verdict"]) for line in told.get(row, [])] == [
            one[:3] for one in expected
        ]
        for line, (*_, value, a, b, c, d) in zip(told.get(row, []), expected, strict=True):
            unit = UNITS[line["unit"]]
            for key, in_si in zip(("value", *(f"{x}_{y}" for x, y in POSITIONS)), (value, a, b, c, d), strict=True):
                if line[key] is None:
                    assert not np.isfinite(in_si), (line, key)
                else:
                    assert np.isclose(unit.to_si(line[key]), in_si, rtol=1e-12, atol=1e-15), (line, key)
    return compared


@examples(40)
@given(
    tables(GEAR_CELLS),
    st.sampled_from(["general", "heavy", "precise"]),
    st.lists(st.sampled_from(["micrometer", "bore-gauge", "feeler", None]), min_size=6, max_size=6),
    st.sampled_from([None, None, "simple", "guarded", "probability"]),
)
def test_a_table_of_gear_trains_says_what_its_rows_say(
    table: dict[str, list[Any]], use: str, gauges: list[str | None], rule: str | None
) -> None:
    lengths = ("shaft_diameter", "backlash", "end_float", "gear_bore", "bearing_bore", "joint_gap")
    measured = {name.partition("@")[0] for name in table}
    named = {name: gauge for name, gauge in zip(lengths, gauges, strict=True) if gauge and name in measured}
    decision = checker.Decision(rule) if rule else None
    assert_same(GEARS, {**TRAIN, "application": use}, table, instruments=named, decision=decision)


@pytest.mark.parametrize("rule", ["simple", "where-known", "guarded", "probability"])
@pytest.mark.parametrize("gauge", ["micrometer", "bore-gauge", "feeler", None])
def test_values_about_their_limits_are_decided_as_one_by_one(gauge: str | None, rule: str) -> None:
    """A press and a backlash all the way across their limits; what a gauge shares cancels in the press."""
    backlash = np.linspace(0.03, 0.17, 31).round(5)
    bores = np.linspace(49.945, 50.005, 31).round(5)
    table = {
        "backlash@1": backlash.tolist(),
        "shaft_diameter@1": [50.0] * 31,
        "gear_bore@1": bores.tolist(),
        "gear_bore@2": bores[::-1].tolist(),
    }
    named = dict.fromkeys(("backlash", "shaft_diameter", "gear_bore"), gauge) if gauge else {}
    base = {**TRAIN, "readings": {"gear_module": [2, 2]}}
    compared = assert_same(GEARS, base, table, instruments=named, decision=checker.Decision(rule))
    is_guarded = rule != "simple" and (gauge is not None or rule != "where-known")
    assert (compared["undecided"] > 20) == is_guarded


@pytest.mark.parametrize("shared", [{}, {"shared": "0.1 mm"}], ids=["by itself", "alike in all"])
@pytest.mark.parametrize("rule", ["where-known", "guarded", "probability"])
def test_a_limit_that_jumps_is_decided_as_one_by_one(rule: str, shared: dict[str, str], tmp_path: Path) -> None:
    """Widths and heights all about where a limit of one turns on the other."""
    limit, must = "5.2 mm if width > 10 mm else 5 mm", "    unit: mm\n    limits: {any: {must: {at_most: MOST}}}"
    asked = {"height": limit, f"width + ({limit})": "15.1 mm"}
    rules = [
        f"judges: {text}\n{must.replace('MOST', most)}\n    remedy: {{high: Less.}}" for text, most in asked.items()
    ]
    book = small_rulebook(tmp_path, *rules)
    heights, widths = (
        each.ravel().round(3).tolist() for each in np.meshgrid(np.linspace(4.6, 5.6, 11), np.linspace(9.6, 10.4, 9))
    )
    base = {**GAUGED, "instruments": {"gauge": {"expanded_uncertainty": "0.15 mm", **shared}}}
    table, named = {"height@1": heights, "width@1": widths}, {"height": "gauge", "width": "gauge"}
    compared = assert_same(book, base, table, instruments=named, decision=checker.Decision(rule))
    assert min(compared[verdict] for verdict in ("within", "undecided", "outside")) > 10


@examples(8)
@given(tables(ENGINE_CELLS), st.booleans())
def test_a_table_of_engines_says_what_its_rows_say(table: dict[str, list[Any]], is_measured: bool) -> None:
    """Facts that nobody stated, occasions, samples, and clearances that do not agree with their bores."""
    gauges = {"main_journal_diameter": "micrometer", "main_bearing_bore": "bore-gauge", "cylinder_bore": "bore-gauge"}
    measured = {name.partition("@")[0] for name in table}
    named = {name: gauge for name, gauge in gauges.items() if is_measured and name in measured}
    assert_same(rulebook("four-stroke"), ENGINE, table, instruments=named)


def disturbed(text: str, random: np.random.Generator) -> str:
    """Mostly a reading as it was; else beside it by some of its last digit, two readings, in words, or nothing."""
    chance, last = random.random(), 10.0 ** -len(text.partition(".")[2])
    if chance < 0.8 or not text.replace(".", "", 1).isdigit():
        return text
    beside = f"{float(text) + last * random.integers(1, 6):.{len(text.partition('.')[2])}f}"
    forms = (beside, f"{text} to {beside}", "-", f"above {text}")
    return forms[np.searchsorted((0.95, 0.96, 0.995), chance)]


def test_a_whole_engine_says_what_its_rows_say() -> None:
    """All that a competent shop writes down, a cell each: what rests on much of it is judged as in a record."""
    book, record = rulebook("four-stroke"), checker.read_record(HONEST / "street_six_ringed_anew.yaml")
    random = np.random.default_rng(4)
    cell_notes = [note for note in record.readings if note.form in ("value", "listed") and note.station != "all"]
    base = record._replace(readings=tuple(note for note in record.readings if note not in cell_notes))
    labels = ["@".join(filter(None, (note.characteristic, note.station))) for note in cell_notes]
    rows = [[disturbed(note.written[0], random) for note in cell_notes] for _ in range(6)]
    table = pa.table(dict(zip(labels, zip(*rows, strict=True), strict=True)))
    found = book.check_table(table, base, verdicts=COMPARED, on=DAY)
    assert found.set_aside.num_rows == 0
    told = [(line["row"], line["rule"], line["station"], line["verdict"]) for line in found.findings.to_pylist()]
    for number, row in enumerate(rows):
        readings = (note._replace(written=(text,)) for note, text in zip(cell_notes, row, strict=True))
        alone = book.check(base._replace(readings=(*base.readings, *readings)), on=DAY)
        assert [line[1:] for line in told if line[0] == number] == [line[:3] for line in lines_of(alone)]
    assert {"within", "advisory", "undecided", "outside"} <= {verdict for *_, verdict in told}


def test_part_sheets_and_facts_of_the_record_count_for_every_row() -> None:
    sheet = {"backlash": {"at_least": "0.06 mm", "source": "wheel maker's sheet"}}
    base = {**TRAIN, "part_limits": sheet, "facts": {"bearing_kind": "plain"}, "readings": {"gear_module": [2, 2]}}
    table = {
        "backlash@1": [0.05, 0.07, None, 0.17],
        "backlash@2": [0.1, 0.1, 0.12, 0.1],
        "shaft_diameter@1": [50.0, 50.0, 50.0, 50.0],
        "bearing_bore@1": [50.06, 50.03, 50.11, 50.05],
    }
    compared = assert_same(GEARS, base, table)
    assert compared["outside"] and compared["advisory"] and compared["within"]


@pytest.mark.parametrize(
    "sheet",
    [
        {"rod_side_clearance": {"at_least": "0.10 in", "at_most": "0.20 in"}},  # millimetres as inches: suspect
        {"rod_side_clearance": {"at_least": "0.010 in", "at_most": "0.020 in"}},
        {"cylinder_bore": {"at_least": "4.029 in", "at_most": "4.031 in"}},  # no rule judges it
        {"top_ring_gap": {"at_least": "0.018 in", "at_most": "0.024 in", "for": ["marine"]}},
    ],
)
def test_a_sheet_counts_in_a_table_as_it_does_in_a_record(sheet: dict[str, dict[str, Any]]) -> None:
    base = {
        **ENGINE,
        "stations": {**ENGINE["stations"], "rod": 4},
        "part_limits": {name: {**limits, "source": "the maker's sheet"} for name, limits in sheet.items()},
    }
    table = {
        "rod_side_clearance@1": [0.15, 0.015, None],
        "cylinder_bore@1": [4.03, 4.04, 4.03],
        "top_ring_gap@1": [0.020, 0.012, 0.025],
    }
    book = rulebook("four-stroke")
    assert_same(book, base, table)
    if "rod_side_clearance" in sheet and sheet["rod_side_clearance"]["at_least"] == "0.10 in":
        found = book.check_table(table, base, on=DAY, verdicts=[Verdict.WITHIN]).findings.to_pylist()
        assert not [one for one in found if one["rule"] == "rod-side-clearance" and one["station"] == 1]


ENGINE_SHEETS = {
    "main_oil_clearance": [
        ("0.0015 in", "0.0030 in"),
        ("0.0015 in", None),
        ("0.015 in", "0.030 in"),
        (None, "0.002 in"),
    ],
    "cylinder_bore": [("4.029 in", "4.031 in"), ("4.029 mm", "4.031 mm")],
    "main_journal_diameter": [("2.4481 in", "2.4490 in")],
    "top_ring_gap": [("0.018 in", "0.024 in"), ("0.05 in", "0.06 in"), ("0.010 in", None), (None, "0.012 in")],
    "second_ring_gap": [("0.018 in", "0.024 in"), ("0.004 in", "0.005 in")],
    "cranking_pressure": [("120 psi", "190 psi")],
}


@st.composite
def part_limits(draw: st.DrawFn) -> dict[str, dict[str, Any]]:
    found = {}
    for name in draw(st.lists(st.sampled_from(sorted(ENGINE_SHEETS)), min_size=1, max_size=3, unique=True)):
        low, high = draw(st.sampled_from(ENGINE_SHEETS[name]))
        ends = {key: end for key, end in (("at_least", low), ("at_most", high)) if end is not None}
        uses = draw(st.sampled_from([{}, {}, {"for": ["marine"]}, {"for": ["street"]}]))
        confirmed = {"confirmed_by": "bench lead", "confirmed_on": "2026-05-03"} if draw(st.booleans()) else {}
        found[name] = {**ends, "source": "the maker's sheet", **uses, **confirmed}
    return found


@examples(25)
@given(tables(ENGINE_CELLS), part_limits(), st.sampled_from(["street", "marine"]), st.booleans())
def test_sheets_count_in_a_table_of_engines_as_in_its_rows(
    table: dict[str, list[Any]], sheets: dict[str, dict[str, Any]], use: str, is_measured: bool
) -> None:
    """For the use they were printed for, for others, confirmed or suspect, and for what no rule of the packs judges."""
    gauges = {"main_journal_diameter": "micrometer", "main_bearing_bore": "bore-gauge", "cylinder_bore": "bore-gauge"}
    measured = {name.partition("@")[0] for name in table}
    named = {name: gauge for name, gauge in gauges.items() if is_measured and name in measured}
    base = {**ENGINE, "part_limits": sheets}
    assert_same(rulebook("four-stroke"), base, table, instruments=named, application=use)


def test_rows_beside_a_sheet_are_judged_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fleet by its maker's own drawing: what packs allow of it is told for all rows at once."""
    sheets = {"backlash": ("0.07 mm", "0.15 mm"), "shaft_diameter": ("49.99 mm", "50.01 mm")}
    limits = {name: {"at_least": low, "at_most": high, "source": "drawing"} for name, (low, high) in sheets.items()}
    base = {**TRAIN, "part_limits": limits}
    table = {"backlash@1": np.linspace(0.05, 0.16, 12), "shaft_diameter@1": np.full(12, 50.0)}
    report = GEARS.check_table(pa.table(table), base, on=DAY)
    monkeypatch.setattr("checker.tables.verdicts.check_record", lambda *_: pytest.fail("a row was judged by itself"))
    assert GEARS.check_table(pa.table(table), base, on=DAY).counts == report.counts
    assert report.findings.num_rows == 3


MANY = {
    "backlash@1": [0.09, 0.30, None],
    "backlash@2": [0.08, 0.08, 0.02],
    "gear_module@1": [2.0, 2.0, 2.0],
    "gear_module@2": [2.0, 2.0, 2.0],
}


@pytest.mark.parametrize("library", ["pyarrow", "polars", "pandas", "duckdb", "columns"])
def test_any_table_that_speaks_arrow_is_read(library: str) -> None:
    if library == "columns":
        given: Any = MANY
    elif library == "duckdb":
        given = pytest.importorskip(library).arrow(pa.table(MANY))
    else:
        made = pytest.importorskip(library)
        given = pa.table(MANY) if library == "pyarrow" else made.DataFrame(MANY)
    found = GEARS.check_table(given, TRAIN)
    assert [(line["row"], line["rule"], line["station"], line["verdict"]) for line in found.findings.to_pylist()] == [
        (1, "backlash", 1, "outside"),
        (2, "backlash", 2, "outside"),
    ]


def test_from_a_frame_to_a_frame_of_findings_in_five_lines() -> None:
    pl = pytest.importorskip("polars")
    frame = pl.DataFrame({"serial": ["A", "B"], "gap": [0.02, 0.06]})
    found = GEARS.check_table(
        frame, {"application": "general"}, assembly="serial", columns={"gap": "joint_gap"}, units={"length": "mm"}
    )
    findings = pl.DataFrame(found.findings)
    assert findings.select("assembly", "rule", "verdict", "value", "unit", "must_high").rows() == [
        ("B", "joint-gap", "outside", 0.06, "mm", 0.05)
    ]


def test_words_that_polars_tells_once_are_read_as_words() -> None:
    """It tells them as views, which the kernels of Arrow do not take out of a dictionary."""
    pl = pytest.importorskip("polars")
    told = {"serial": ["A", None, "B"], "gap": ["0.02", "0.06", None]}
    frame = pl.DataFrame(told, schema=dict.fromkeys(told, pl.Categorical))
    found = GEARS.check_table(
        frame, {"application": "general"}, assembly="serial", columns={"gap": "joint_gap"}, units={"length": "mm"}
    )
    assert found.counts.column("assembly").to_pylist() == ["A", "", "B"]
    assert [(line["row"], line["rule"], line["verdict"]) for line in found.findings.to_pylist()] == [
        (1, "joint-gap", "outside")
    ]


def test_a_frame_of_pandas_takes_findings_of_rules_with_one_unit() -> None:
    """Its categories must each be told once, however many rules are shown in a unit."""
    pytest.importorskip("pandas")
    table = {"joint_gap": [0.06], "backlash@1": [0.30], "gear_module@1": [2.0]}
    frame = GEARS.check_table(table, {**TRAIN, "units": {"length": "mm"}}).findings.to_pandas()
    told = frame.loc[frame["verdict"] == "outside", ["rule", "unit"]]
    assert sorted(map(tuple, told.to_numpy())) == [("backlash", "mm"), ("joint-gap", "mm")]


def test_rows_chosen_from_a_frame_of_pandas_are_judged_as_they_stand(tmp_path: Path) -> None:
    """It hands on the numbers of the rows as a column, and writes it into files."""
    pandas = pytest.importorskip("pandas")
    frame = pandas.DataFrame({"joint_gap": [0.02, 0.06, 0.07]}, index=[3, 1, 2])
    chosen = frame[frame["joint_gap"] > 0.05]
    chosen.to_parquet(tmp_path / "chosen.parquet")
    for table in (chosen, pa.parquet.read_table(tmp_path / "chosen.parquet")):
        told = GEARS.check_table(table, {**TRAIN, "units": {"length": "mm"}})
        assert (told.counts["assembly"].to_pylist(), told.findings["value"].to_pylist()) == (["0", "1"], [0.06, 0.07])


# A gauge set to 0.030 mm tells hundredths from there.
DEVIATIONS = {"set_to": [0.03, 0.03, 0.03], "hundredths": [-0.5, 3.0, None], "note": ["a", "b", "c"]}


def test_a_column_may_be_worked_out_from_others() -> None:
    """A row that lacks one of them has no value there, and never passes."""
    found = GEARS.check_table(
        DEVIATIONS,
        {"application": "general"},
        columns={"set_to + hundredths / 100": "joint_gap"},
        units={"length": "mm"},
        verdicts=tuple(Verdict),
    )
    told = {
        line["row"]: (line["verdict"], line["value"])
        for line in found.findings.to_pylist()
        if line["rule"] == "joint-gap"
    }
    assert told[0] == ("within", pytest.approx(0.025))
    assert told[1] == ("outside", pytest.approx(0.06))
    assert told.get(2, ("not measured", None))[0] == "not measured"


def test_nothing_is_worked_out_of_what_is_missing() -> None:
    """numpy makes one of anything to the power of nought, also of what is no number."""
    numbers = cells_of("hundredths**0 + 1**hundredths", Table(DEVIATIONS)).numbers
    assert numbers is not None
    assert np.isnan(numbers).tolist() == [False, False, True]


ARITHMETIC: dict[str, Any] = {
    "a + b": np.add,
    "a - 2*b": lambda a, b: a - 2 * b,
    "(a + 1) / 4": lambda a, b: (a + 1) / 4,
    "-a + b**2": lambda a, b: -a + b**2,
    "4.03 + a/1000": lambda a, b: 4.03 + a / 1000,
}


@examples(100)
@given(st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=5), st.sampled_from(list(ARITHMETIC)))
def test_arithmetic_of_columns_is_that_of_numpy(values: list[float], text: str) -> None:
    columns = {"a": np.array(values), "b": np.arange(len(values), dtype=float)}
    cells = cells_of(text, Table(columns))
    assert cells.numbers is not None
    assert cells.numbers.tolist() == ARITHMETIC[text](columns["a"], columns["b"]).tolist()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("set_to + hundreths", "no column 'hundreths' (did you mean 'hundredths'?)"),
        ("set_to + note", "column 'note' holds texts"),
        ("abs(set_to)", "no column 'abs(set_to)'"),
        ("set_to.real", "no column 'set_to.real'"),
        ("set_to if set_to else 1", "no column"),
        ("0.03 + 1", "no column"),
        ("set_to ** 10000000", "cannot be calculated"),
        ("set_to + " * 100 + "set_to", "no column"),
        ("(" * 150 + "set_to", "no column"),
    ],
)
def test_what_is_no_arithmetic_of_numbers_is_refused(text: str, words: str) -> None:
    with pytest.raises(UsageError) as caught:
        GEARS.check_table(DEVIATIONS, {"application": "general"}, columns={text: "joint_gap"}, units={"length": "mm"})
    assert words in str(caught.value)


LONG = {
    "assembly": ["A", "A", "A", "B", "B", "B"],
    "characteristic": ["backlash", "gear_module", "backlash", "gear_module", "backlash", "joint_gap"],
    "station": [1, 1, 2, 1, 1, None],
    "value": [0.09, 2.0, 0.08, 2.0, 0.0118, 0.02],
    "unit": ["mm", "mm", "mm", "mm", "in", "mm"],
}


def test_a_line_may_stand_for_each_value() -> None:
    found = GEARS.check_table(LONG, TRAIN, layout="long")
    wide = {
        "backlash@1": ["0.09 mm", "0.0118 in"],
        "gear_module@1": ["2 mm", "2 mm"],
        "backlash@2": ["0.08 mm", None],
        "joint_gap": [None, "0.02 mm"],
    }
    other = GEARS.check_table(wide, TRAIN)
    drop = ["assembly"]
    assert found.counts.drop_columns(drop).equals(other.counts.drop_columns(drop))
    assert found.findings.drop_columns(drop).equals(other.findings.drop_columns(drop))
    assert found.counts["assembly"].to_pylist() == ["A", "B"]


def test_several_lines_at_one_place_are_several_readings() -> None:
    lines = {key: [*LONG[key], LONG[key][0]] for key in LONG}
    lines["value"][-1] = 0.15
    found = GEARS.check_table(lines, TRAIN, layout="long", verdicts=[Verdict.OUTSIDE])
    rules = [(line["assembly"], line["rule"]) for line in found.findings.to_pylist()]
    assert rules == [("A", "backlash-runout"), ("B", "backlash")]


def test_every_row_is_judged_or_set_aside_with_its_reason() -> None:
    found = GEARS.check_table(
        {"serial": ["A", "B", "C"], "joint_gap": ["0.02", "wide", "0.06"]}, TRAIN, assembly="serial"
    )
    assert found.counts["assembly"].to_pylist() == ["A", "C"]
    assert found.set_aside.to_pylist() == [
        {
            "row": 1,
            "assembly": "B",
            "reason": "row 1: joint_gap: no unit or word 'wide' (expected a number and its unit, as in 1.5 mm)",
        }
    ]


@pytest.mark.parametrize(
    ("table", "how", "words"),
    [
        ({"backlsh@1": [0.1]}, {}, "column 'backlsh@1': unknown characteristic 'backlsh' .did you mean 'backlash'"),
        (
            {"assembly": ["A"], "backlash@1": [0.1]},
            {},
            "names each, say so: assembly=.assembly., or --assembly assembly",
        ),
        (
            {"joint_gap": [0.1], "backlash@2": ["0.1"], "oil": ["mineral"], "gear_mass@1": [3.0]},
            {"units": {}},
            "length are the numbers of 'joint_gap' .usually mm., 'backlash@2' .usually mm.."
            " .state it in the record, as in units: .length: mm..\n.*mass are the numbers of 'gear_mass@1'",
        ),
        ({"joint_gap": [0.1]}, {"columns": {"gap": "joint_gap"}}, "no column 'gap' .it has joint_gap"),
        ({"backlash@front": [0.1]}, {}, "'front' is no number of a station"),
        ({"backlash@7": [0.1]}, {}, "no mesh 7: there are 2"),
        ({"backlash": [0.1]}, {}, "backlash is measured at each mesh"),
        ({"joint_gap": [date(2026, 1, 1)]}, {}, "column 'joint_gap' holds date32.*, expected numbers"),
        ({"joint_gap": [0.1]}, {"layout": "tall"}, "no layout 'tall' of tables"),
        ({"joint_gap": [0.1]}, {"layout": "long"}, "no column 'assembly'"),
        ({"joint_gap": [0.1]}, {"instruments": {"backlash": "micrometer"}}, "no column of 'backlash'"),
        ({"joint_gap": [0.1]}, {"instruments": {"joint_gap": "ruler"}}, "no instrument 'ruler'"),
        ({"joint_gap": [0.1]}, {"record": {**TRAIN, "readings": {"joint_gap": 0.1}}}, "both the table and the record"),
        (
            {"joint_gap": [0.1]},
            {"record": {**TRAIN, "parts": {"wheel": {"fitted": "2026-01-01", "bears_on": ["backlash"]}}}},
            "states parts",
        ),
        ({"joint_gap": [0.1], "backlash@1": [0.1, 0.2]}, {}, "these columns make no table: .*length"),
        ({"joint_gap": [10**400]}, {}, "column 'joint_gap' cannot be read: .*too large"),
        ({"joint_gap": 0.1, "backlash@1": [0.1, "x"]}, {}, "'backlash@1' cannot be read: .*\n.*'joint_gap' cannot"),
        ({"joint_gap": WITH_UNIT}, {}, "column 'joint_gap' is in a unit of its own, centimetre .give its numbers"),
        ({"joint_gap": np.array([0.05], dtype=np.float16)}, {}, "column 'joint_gap': a number of 16 bits"),
        (
            pa.Table.from_arrays([pa.array([0.1]), pa.array([0.2])], names=["gap", "gap"]),
            {"columns": {"gap": "joint_gap"}},
            "the table has several columns 'gap'",
        ),
        (
            {"joint_gap": [0.1]},
            {"record": {"application": None}},
            "nothing says for which use .*known: general, precise",
        ),
    ],
)
def test_what_is_wrong_with_a_table_is_told(table: Any, how: dict[str, Any], words: str) -> None:
    how = dict(how)
    base = dict(how.pop("record", TRAIN))
    if how.get("units") == {}:
        del base["units"]
    with pytest.raises((InputError, UsageError), match=words):
        GEARS.check_table(table, base, **how)


def test_what_is_no_table_is_answered_with_what_is() -> None:
    with pytest.raises(TypeError, match=r"speaks Arrow .of pyarrow, polars, pandas or duckdb.*found str"):
        GEARS.check_table("engines.parquet", TRAIN)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"columns": ["joint_gap"]}, "expected Mapping, found list: give columns by name"),
        ({"columns": {"joint_gap": None}}, "expected str, found NoneType: give columns by name"),
        ({"columns": {0: "joint_gap"}}, "expected str, found int: give columns by name"),
        ({"units": "mm"}, "expected Mapping, found str: give units by kind"),
        ({"units": {"length": None}}, "expected str, found NoneType: give units by kind"),
        ({"instruments": {"joint_gap": 5}}, "expected str, found int: give instruments by characteristic"),
        ({"assembly": ["serial"]}, "expected str, found list: give the name of a column"),
        ({"record": "wheel.yaml"}, "expected Mapping, found str: give a record"),
    ],
)
def test_what_is_no_mapping_of_words_is_answered_with_what_is(how: dict[str, Any], words: str) -> None:
    with pytest.raises(TypeError, match=words):
        GEARS.check_table({"joint_gap": [0.1]}, **{"record": TRAIN, **how})


def test_columns_that_call_their_rows_otherwise_are_not_put_side_by_side() -> None:
    """What was sorted by itself would stand beside another assembly's name."""
    pandas = pytest.importorskip("pandas")
    serial = pandas.Series(["A", "B", "C"])
    gap = pandas.Series([0.05, 0.9, 0.02])
    for others in (gap.sort_values(), gap.iloc[[2, 1, 0]]):
        with pytest.raises(UsageError, match="rows of column 'joint_gap' have other labels than those of 'serial'"):
            GEARS.check_table({"serial": serial, "joint_gap": others}, TRAIN, assembly="serial")
    some = gap > 0.03  # taken from both columns alike
    found = GEARS.check_table({"serial": serial[some], "joint_gap": gap[some]}, TRAIN, assembly="serial")
    assert found.counts["assembly"].to_pylist() == ["A", "B"]
    assert GEARS.check_table({"joint_gap": gap.sort_values(ignore_index=True)}, TRAIN).counts.num_rows == 3


def test_two_columns_of_one_name_are_told_of() -> None:
    pandas = pytest.importorskip("pandas")
    frame = pandas.DataFrame([[0.05, 0.06]], columns=["joint_gap", "joint_gap"])
    with pytest.raises(UsageError, match="these columns make no table: Duplicate column names"):
        GEARS.check_table(frame, TRAIN)


@pytest.mark.parametrize("wrong", [["within"], "outside", Verdict.WITHIN])
def test_what_are_no_verdicts_is_answered_with_what_are(wrong: Any) -> None:
    with pytest.raises(TypeError, match=r"found \w+: give some, as in verdicts=.Verdict.OUTSIDE."):
        GEARS.check_table({"joint_gap": [0.1]}, TRAIN, verdicts=wrong)


def test_units_of_the_table_do_not_change_what_the_record_says() -> None:
    """Its bare sizes were in millimetres, and would be read as inches."""
    base = {**TRAIN, "units": {"length": "mm"}, "readings": {"gear_module": [2, 2]}}
    with pytest.raises(UsageError, match="the table's numbers are said to be in in, the record's in mm"):
        GEARS.check_table({"joint_gap": [0.002]}, base, units={"length": "in"})
    assert GEARS.check_table({"joint_gap": [0.05]}, base, units={"length": "millimetre"}).counts.num_rows == 1


@pytest.mark.parametrize("codes", [pa.array([2618, None, 4032]), pa.array([2618.0, float("nan"), 4032.0])])
def test_a_fact_may_be_a_whole_number_though_a_column_with_gaps_holds_it_with_a_point(codes: Any) -> None:
    table = {"piston_alloy": codes, "cylinder_bore@1": [4.0] * 3, "piston_diameter@1": [3.9960] * 3}
    base: dict[str, Any] = {"application": "street-performance", "units": {"length": "in"}, "stations": {"cylinder": 1}}
    base["facts"] = {"skirt_coating": "bare", "bore_surface": "iron"}
    found = checker.load_rulebook("four-stroke").only("piston-to-wall-clearance").check_table(table, base)
    assert found.set_aside.num_rows == 0
    assert found.counts["within"].to_pylist() == [1, 0, 0]
    assert found.counts["advisory"].to_pylist() == [0, 0, 1]


def test_readings_that_are_not_possible_are_counted_beside_what_they_leave_open() -> None:
    """A whole number beyond all that 64 bits hold exactly is not possible either, and no error."""
    table = {"joint_gap": pa.array([0.05, 5.0, None]), "backlash@1": pa.array([None, 2**62, None])}
    found = GEARS.check_table(table, TRAIN)
    assert found.counts["refused"].to_pylist() == [0, 2, 0]
    assert found.counts["within"].to_pylist()[1] == 0


def test_an_empty_table_is_no_error() -> None:
    found = GEARS.check_table(pa.table({"joint_gap": pa.array([], pa.float64())}), TRAIN)
    assert repr(found) == "<TableReport 0 judged, 0 findings, 0 set aside>"


def test_numbers_of_32_bits_are_read_as_they_print() -> None:
    """0.05 of 32 bits is 0.0500000007, which would be beyond the limit of 0.05 mm."""
    found = GEARS.check_table({"joint_gap": np.array([0.05], dtype=np.float32)}, TRAIN)
    assert found.counts["outside"].to_pylist() == [0]


def test_a_line_that_cannot_be_read_costs_its_assembly_alone() -> None:
    """A second reading of an assembly may be the one out of limits; without it nothing is said of the assembly."""
    lines = {
        "assembly": ["A", "A", "B", "B", "C", "C", "D", "D", "E"],
        "characteristic": ["joint_gap"] * 3 + ["backlash", "joint_gap", "boar", "joint_gap", "backlash", "joint_gap"],
        "station": [None, None, None, 9, None, None, None, 1, None],
        "value": [0.02, 0.03, 0.02, 0.10, 0.02, 0.02, 0.02, 0.02, 0.02],
        "unit": ["mm", "furlongs", "mm", "mm", "mm", "mm", "mm", "kg", "mm"],
    }
    found = GEARS.check_table(lines, TRAIN, layout="long")
    assert found.counts["assembly"].to_pylist() == ["E"]
    reasons = {one["assembly"]: one["reason"] for one in found.set_aside.to_pylist()}
    assert reasons["A"].startswith("line 1: ") and "furlongs" in reasons["A"]
    assert reasons["B"] == "line 3: no mesh 9: there are 2"
    assert reasons["C"].startswith("line 5: unknown characteristic 'boar'")
    assert reasons["D"] == "line 7: kg is mass, backlash is length"


@pytest.mark.parametrize("name", [None, "", "  "])
@pytest.mark.parametrize(
    ("names", "judged"),
    [
        (["A", "A", "?", "B", "C"], ["C"]),  # of A, of B, or of one with no other line
        (["A", "?", "A", "B", "C"], ["B", "C"]),
        (["?", "?", "A", "B", "C"], ["B", "C"]),
        (["A", "B", "A", "C", "?"], []),  # in no order: of any
        (["A", "B", "C", "C", "C"], ["A", "B", "C"]),
    ],
)
def test_a_line_without_a_name_costs_every_assembly_it_may_tell_of(
    names: list[str], judged: list[str], name: str | None
) -> None:
    owners = [name if one == "?" else one for one in names]
    lines = {"assembly": owners, "characteristic": ["joint_gap"] * 5, "station": [""] * 5, "value": [0.02] * 5}
    found = GEARS.check_table(lines, TRAIN, layout="long")
    assert found.counts["assembly"].to_pylist() == judged
    aside = {one["assembly"]: one["reason"] for one in found.set_aside.to_pylist()}
    assert aside.keys() == set(names) - set(judged) - {"?"} | ({""} if "?" in names else set())
    assert all("no assembly is named there" in reason for reason in aside.values())


def test_assemblies_and_stations_are_called_by_their_numbers() -> None:
    """Whole numbers without a point, and two that 64 bits of a float would take for one."""
    many = 9_007_199_254_740_992
    table = {"serial": [many, many + 1], "joint_gap": [0.02, 0.06]}
    found = GEARS.check_table(table, TRAIN, assembly="serial")
    assert found.counts["assembly"].to_pylist() == [str(many), str(many + 1)]
    lines = {
        "assembly": table["serial"],
        "characteristic": ["backlash"] * 2,
        "station": [1.0, 2.0],
        "value": [0.3, 0.1],
    }
    told = GEARS.check_table({**lines, "unit": ["mm"] * 2}, TRAIN, layout="long", verdicts=tuple(Verdict))
    assert told.counts["assembly"].to_pylist() == [str(many), str(many + 1)]
    valued = [
        (one["row"], one["station"]) for one in told.findings.to_pylist() if one["value"] and one["rule"] == "backlash"
    ]
    assert set(valued) == {(0, 1), (1, 2)}


def test_an_instrument_that_is_not_listed_is_told_once() -> None:
    table = {f"backlash@{station}": [0.1] for station in (1, 2)}
    with pytest.raises(InputError) as told:
        GEARS.check_table(table, TRAIN, instruments={"backlash": "ruler"})
    assert str(told.value).count("no instrument 'ruler'") == 1


# --- What is random, what divides, and what is not possible -----------------------------------------------------------


def test_random_tables_are_judged_alike_in_every_way(tmp_path: Path) -> None:
    found = [words for seed in range(7000, 7002) for words in disagreements(seed, tmp_path / str(seed))]
    assert found == []


QUOTIENT = (
    "judges: 100 mm*1 mm/width\n    unit: mm\n    limits: {any: {must: {at_most: 350 mm}}}\n    remedy: {high: Less.}"
)
GAUGED = {"application": "any-use", "stations": {"gear": 1, "tooth": 1}, "units": {"length": "mm"}}


@pytest.mark.parametrize("shared", [{}, {"shared": "2 mm"}], ids=["by itself", "alike in all"])
@pytest.mark.parametrize("is_in_table", [True, False])
def test_what_divides_by_something_that_may_be_nothing_is_open_in_a_table(
    is_in_table: bool, shared: dict[str, str], tmp_path: Path
) -> None:
    """What is alike for all rows is judged with them, in doubt or not."""
    book = small_rulebook(tmp_path, QUOTIENT)
    head: dict[str, Any] = {**GAUGED, "instruments": {"rule": {"expanded_uncertainty": "2 mm", **shared}}}
    table = {"height@1": [5.0, 6.0, 7.0, 8.0]}
    if is_in_table:
        table["width@1"] = [1.0, 30.0, 1.0, 1.9]
    else:
        head["readings"] = {"width": {"with": "rule", "values": {"1": "1 mm"}}}
    named = {"width": "rule"} if is_in_table else {}
    told = book.check_table(pa.table(table), head, instruments=named, verdicts=tuple(Verdict), on=DAY).findings
    expected = ["undecided", "within", "undecided", "undecided"] if is_in_table else ["undecided"] * 4
    assert told["verdict"].to_pylist() == expected


def test_no_function_is_given_what_is_not_possible(tmp_path: Path) -> None:
    given: list[float] = []

    def noted(values: Any) -> Any:
        given.extend(np.ravel(values).tolist())
        return values + 0.0

    length = checker.dimension_of("mm")
    functions = {"noted": checker.Function("noted", (length,), length, call=noted, plugin="shop 1.0")}
    limits = "limits: {any: {must: {at_most: 50 mm}}}\n    remedy: {high: Less.}"
    views = ("width", "least_reading(width)", "greatest_reading(width)", "measured(width)")
    rules = [f"judges: noted({view})\n    unit: mm\n    {limits}" for view in views]
    book = small_rulebook(tmp_path, *rules, functions=functions)
    table = {"width@1": [3.0, -5.0, 4.0, 900.0]}
    told = book.check_table(pa.table(table), GAUGED, verdicts=tuple(Verdict), on=DAY).findings.to_pylist()
    by_row = {row: {line["verdict"] for line in told if line["row"] == row} for row in range(4)}
    assert by_row == {0: {"within"}, 1: {"not measured"}, 2: {"within"}, 3: {"not measured"}}
    possible = [value for value in given if not np.isnan(value)]
    assert possible and min(possible) >= 0.001 and max(possible) <= 0.1


def test_spaces_about_a_word_set_no_row_aside() -> None:
    """Nobody sees them in a spreadsheet, and about numbers they are nothing either."""
    table = pa.table({"oil": [" mineral ", "mineral", "water "], "joint_gap": [" 0.02 ", "0.02", "0.02"]})
    report = GEARS.check_table(table, {"assembly": "R", **TRAIN}, on=DAY)
    assert report.counts["row"].to_pylist() == [0, 1]
    assert report.set_aside["row"].to_pylist() == [2]


def test_of_a_series_a_blank_cell_is_not_passed_over() -> None:
    """Nobody knows whether the step that is lacking rose."""
    columns = dict.fromkeys(("first", "second", "third"), "bolt_torque_steps")
    table = pa.table({"first": [10.0, 10.0, 30.0], "second": [20.0, None, None], "third": [30.0, 30.0, 10.0]})
    record = {"application": "general", "units": {"torque": "N.m"}}
    told = GEARS.check_table(table, record, columns=columns, verdicts=tuple(Verdict), on=DAY).findings
    steps = [line["verdict"] for line in told.to_pylist() if line["rule"] == "bolt-steps"]
    assert steps == ["within", "not measured", "outside"]
