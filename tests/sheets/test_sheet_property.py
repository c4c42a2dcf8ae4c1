"""Whatever a shop writes down comes back from CSV and from a workbook as it was: a property over made-up records."""

from __future__ import annotations

import json
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from examples import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sheet_tools import HEAD, essences, record, rulebook, sheet, through

from checker import Verdict, rulebook_for
from checker.records.record import Record
from checker.sheets.plan import plan

INSTRUMENTS = ("bore-gauge", "shop-scale")
LENGTHS = st.one_of(
    st.sampled_from(
        (
            "30",
            "30.0100",
            ".9842 in",
            "1 3/16 in",
            "1-3/16 in",
            "30.00 +/- 0.02 mm",
            "30.0 to 30.1 mm",
            "above 29.9",
            "below 30.1 mm",
            "30.480 mm (1.2000 in)",
            "2.5 thou",
            "-",
            "+30.0",
        )
    ),
    st.decimals(29, 31, places=4).map(str),
)
NOTES = (
    st.text(st.sampled_from("aZ09 ,;:\"'=+-@#{}[]|&<>%!?\\/\u00e9\u00b0\u00bd\u2032"), min_size=1)
    .map(str.strip)
    .filter(bool)
)
BESIDE = st.fixed_dictionaries(
    {},
    optional={
        "with": st.sampled_from(INSTRUMENTS),
        "taken": st.dates(date(2020, 1, 1), date(2026, 5, 3)).map(str),
        "note": NOTES,
        "by": st.sampled_from(("bench lead", "=cmd", "@night shift", "O'Hara")),
    },
)


@st.composite
def written(draw: st.DrawFn) -> Any:
    """One station: a value, or two tries, with what was noted beside them."""
    texts = draw(st.lists(LENGTHS, min_size=1, max_size=2))
    return {**({"value": texts[0]} if len(texts) == 1 else {"readings": texts}), **draw(BESIDE)}


def stations(count: int) -> st.SearchStrategy[dict[str, Any]]:
    return st.dictionaries(st.sampled_from([str(n + 1) for n in range(count)]), written(), min_size=1)


READINGS = st.fixed_dictionaries(
    {},
    optional={
        "shaft_diameter": stations(2),
        "bearing_bore": stations(2),
        "gear_bore": stations(4),
        "gear_mass": st.just({"all": "2.10 kg"}),
        "oil": st.sampled_from(("mineral", "grease")),
        "bearing_kind": st.sampled_from(("plain", "rolling")),
    },
)


def as_text(readings: dict[str, Any], notes: list[str]) -> str:
    """A record in YAML; JSON is YAML."""
    listed = {name: {"expanded_uncertainty": "5 um"} for name in INSTRUMENTS}
    sections = {"units": {"length": "mm", "mass": "kg"}, "instruments": listed, "notes": notes, "readings": readings}
    return HEAD + "".join(f"{name}: {json.dumps(said)}\n" for name, said in sections.items())


def beside(of: Record) -> Counter[tuple[str, ...]]:
    """What stands beside the values, station by station, and the texts that say that nothing was measured."""
    return Counter(
        (note.characteristic, note.station, *map(str, sorted(note.circumstances.items())))
        for note in of.notes
        if any(note.written)
    )


@pytest.mark.parametrize("form", ["csv", "xlsx"])
@settings(examples(15), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(readings=READINGS, notes=st.lists(NOTES, max_size=2))
def test_nothing_that_was_filled_in_is_lost(
    form: str, tmp_path: Path, readings: dict[str, Any], notes: list[str]
) -> None:
    text = as_text(readings, notes)
    original, back = record(text), through(form, sheet(text), tmp_path)
    reports = [rulebook().check(each, "general") for each in (original, back)]
    assert Counter(map(str, essences(back))) == Counter(map(str, essences(original)))
    assert [flag.is_refused for flag in reports[1].flags] == [flag.is_refused for flag in reports[0].flags]
    assert beside(back) == beside(original)
    assert back.document.data.get("notes") == original.document.data.get("notes")
    assert [judged.codes.tolist() for judged in reports[1].judged] == [
        judged.codes.tolist() for judged in reports[0].judged
    ]


@pytest.mark.parametrize("form", ["csv", "xlsx", "yaml"])
def test_what_was_only_looked_at_comes_back(form: str, tmp_path: Path) -> None:
    text = "record: 1\nassembly: Engine 5\napplication: street\nlayout: V8 with pushrods\nseen:\n"
    text += "  - {rule: main-oil-hole, station: all, by: bench lead, dated: 2026-05-02, clear: true}\n"
    text += "readings: {oil_expander_ends: {all: butted}, rods_state: new}\n"
    original = record(text)
    engines = rulebook_for(original)
    back = through(form, plan(engines, engines.check(original)), tmp_path)
    assert back.document.data["seen"] == original.document.data["seen"]
    reports = [engines.check(each) for each in (original, back)]
    assert reports[0].counts[Verdict.SEEN] > 0
    assert reports[1].counts == reports[0].counts
