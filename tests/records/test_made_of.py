"""Of what parts are made, as packs and facts say: warm readings are brought to 20 degrees C by it (ISO 1).

The figures are worked by hand from the expansions the pack names: aluminium 21.5e-6, iron 10.8e-6, steel 11.5e-6 per K.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow
import pytest
from examples import examples
from fits_tools import finding, gathered
from hypothesis import given
from hypothesis import strategies as st
from places import DATA

from checker import PackError, Report, Rulebook, Verdict, load_rulebook, record_from

HOUSINGS = DATA / "housings"
ALUMINIUM, IRON, STEEL = 21.5e-6, 10.8e-6, 11.5e-6
FACTS = {"housing": "aluminium", "liner": "plated"}


@cache
def rulebook() -> Rulebook:
    """A pack that says of what its shafts and housings are made."""
    return load_rulebook(HOUSINGS, plugins=gathered())


def engine(across: float, along: float, shaft: float, parts: str, facts: dict[str, str], **more: Any) -> dict[str, Any]:
    sizes = {"bore_across": across, "bore_along": along, "shaft": shaft}
    readings = {name: {1: f"{size:.4f} mm"} for name, size in sizes.items()}
    head = {"assembly": "A", "application": "any-use", "stations": {"seat": 1}, "facts": facts, "readings": readings}
    return {**head, "temperatures": {"parts": parts}, **more}


def judged(*sizes: Any, **more: Any) -> Report:
    return rulebook().check(record_from(engine(*sizes, **more)))


def value(report: Report, rule: str = "clearance") -> float:
    return finding(report, rule).value * 1000


def test_a_warm_shop_states_its_facts_and_no_material() -> None:
    """60 mm of aluminium read with a steel gauge at 30 degC is 60 x 10e-6 x 10 = 0.006 mm too large; steel is right."""
    report = judged(60.080, 60.080, 60.000, "30 degC", FACTS)
    assert value(report) == pytest.approx(0.080 - 60.080 * (ALUMINIUM - STEEL) * 10, abs=2e-5)
    assert (finding(report, "clearance").verdict, report.flags) == (Verdict.WITHIN, ())
    (across, along) = report.notes
    assert across.message == along.message == "measured at 30 degC, brought to 20 degC by -0.006 mm"


@pytest.mark.parametrize(
    ("facts", "verdict", "asks"),
    [
        ({"housing": "iron"}, Verdict.WITHIN, ""),  # whatever the liner is: no choice of it is another material
        ({"housing": "aluminium", "liner": "iron"}, Verdict.UNDECIDED, "on iron or aluminium"),
        ({"liner": "iron"}, Verdict.UNDECIDED, "what is housing material"),
        ({}, Verdict.UNDECIDED, "what is liner and housing material"),
    ],
)
def test_what_may_be_of_several_materials_is_doubtful(facts: dict[str, str], verdict: Verdict, asks: str) -> None:
    """0.034 mm with iron, 0.034 - 0.006 = 0.028 mm with aluminium; 0.030 is the least."""
    found = finding(judged(60.034, 60.034, 60.000, "30 degC", facts), "clearance")
    assert found.verdict is verdict
    assert not asks or found.remarks[0].endswith(f"measured at 30 degC, but {asks} (bore across)?")


def test_what_is_of_one_material_grows_alike() -> None:
    """Two ways across one bore, 0.009 mm apart, of which each by itself may have grown by 0.006."""
    report = judged(60.059, 60.050, 60.000, "30 degC", {})
    assert finding(report, "roundness").verdict is Verdict.WITHIN
    assert finding(judged(60.0599, 60.050, 60.000, "30 degC", {}), "roundness").verdict is Verdict.WITHIN
    assert finding(judged(60.0602, 60.050, 60.000, "30 degC", {}), "roundness").verdict is Verdict.OUTSIDE


def test_two_parts_that_may_each_be_of_the_same_materials_need_not_be_of_one(tmp_path: Path) -> None:
    """A bore of aluminium and a shaft of steel, read at 30 degC, have 0.006 mm less room at 20 degC than as read."""
    text = (HOUSINGS / "pack.yaml").read_text()
    for name, made_of in (("Bore across", "[liner, housing]"), ("Shaft", "steel")):
        own = f"title: {name}, per: seat, unit: mm, made_of: "
        assert own + made_of in text
        text = text.replace(own + made_of, f"{own}[steel, aluminium]")
    (tmp_path / "pack.yaml").write_text(text)
    book = load_rulebook(tmp_path, plugins=gathered())
    report = book.check(record_from(engine(60.034, 60.034, 60.000, "30 degC", {})))
    assert finding(report, "clearance").verdict is Verdict.UNDECIDED


def test_the_record_has_the_last_word() -> None:
    stated = {"parts": "30 degC", "materials": {"bore_across": "iron", "shaft": "aluminium"}}
    report = judged(60.080, 60.080, 60.000, "", FACTS, temperatures=stated)
    by_hand = 60.080 * (1 - (IRON - STEEL) * 10) - 60.000 * (1 - (ALUMINIUM - STEEL) * 10)
    assert value(report) == pytest.approx(by_hand, abs=2e-4)


TEMPERATURES = st.sampled_from([-20.0, 7.0, 12.0, 18.0, 20.0, 24.0, 27.0, 33.0, 41.0, 80.0])
STATED = {"housing": st.sampled_from(["", "iron", "aluminium"]), "liner": st.sampled_from(["", "iron", "plated"])}


@examples(150)
@given(st.data())
def test_what_is_within_is_so_for_every_material_it_may_be(data: st.DataObject) -> None:
    """Every reading is brought to 20 degrees with each material that may be, and shares of two; none may be amiss.

    Within 5 K of 20 what is not known counts for nothing.
    """
    facts = {name: word for name, words in STATED.items() if (word := data.draw(words))}
    parts = data.draw(TEMPERATURES)
    across, along = (60.0 + data.draw(st.floats(0.02, 0.1)) for _ in range(2))
    report = judged(across, along, 60.0, f"{parts} degC", facts)
    possible = {
        *(material for material in ("iron",) if facts.get("liner", "iron") == "iron"),
        *([facts["housing"]] if "housing" in facts else ["iron", "aluminium"]),
    }
    grows = [{"iron": IRON, "aluminium": ALUMINIUM}[material] for material in possible]
    if abs(parts - 20) <= 5 and len(possible) > 1:
        grows = [STEEL]
    is_heated = abs(parts - 20) > 15
    gauges = [0.0, 24e-6, *np.linspace(0, 24e-6, 9)] if is_heated else [STEEL]
    for part in np.linspace(min(grows), max(grows), 7):
        for one in gauges:
            for other in gauges:
                grown = 1 + part * (parts - 20)
                size = across * (1 + one * (parts - 20)) / grown
                clearance = size - 60.0 * (1 + other * (parts - 20)) / (1 + STEEL * (parts - 20))
                holds = 0.030 - 2e-4 <= clearance <= 0.080 + 2e-4
                assert holds or finding(report, "clearance").verdict is not Verdict.WITHIN
    if len(grows) == 1 and not is_heated:
        assert finding(report, "clearance").verdict is not Verdict.UNDECIDED
    apart = abs(across - along)
    if not is_heated and abs(apart - 0.010) > 1e-4:
        assert finding(report, "roundness").verdict is (Verdict.WITHIN if apart < 0.010 else Verdict.OUTSIDE)


@pytest.mark.parametrize("parts", ["24 degC", "30 degC", "80 degC"])
def test_rows_of_a_table_say_each_of_what_they_are(parts: str) -> None:
    """A fact in a column is told row by row, as if each row were checked by itself."""
    across, facts = [60.034, 60.034, 60.085, 60.031], ["iron", "aluminium", "aluminium", None]
    columns = {"housing": facts, "bore_across@1": across, "bore_along@1": across, "shaft@1": [60.0] * 4}
    base = {"stations": {"seat": 1}, "temperatures": {"parts": parts}, "units": {"length": "mm"}}
    told = rulebook().check_table(pyarrow.table(columns), base, application="any-use", verdicts=tuple(Verdict))
    by_row = {line["row"]: line["verdict"] for line in told.findings.to_pylist() if line["rule"] == "clearance"}
    for row, size in enumerate(across):
        own = {"housing": word} if (word := facts[row]) else {}
        readings = {"bore_across": {1: size}, "bore_along": {1: size}, "shaft": {1: 60.0}}
        alone = rulebook().check(
            record_from({"assembly": "A", "application": "any-use", **base, "facts": own, "readings": readings})
        )
        assert by_row[row] == str(finding(alone, "clearance").verdict)


@pytest.mark.parametrize("facts", [{"housing": "iron"}, FACTS])
def test_a_table_brings_by_no_more_than_its_cells_tell(facts: dict[str, str]) -> None:
    """An iron bore grows by 0.0004 mm less than its gauge: of 60.080 mm that is not read, of 60.0800 mm it is."""
    across = [60.080, 60.0801, 60.0804, 60.03]
    columns = {"bore_across@1": across, "bore_along@1": across, "shaft@1": [60.0] * 4}
    around = {"temperatures": {"parts": "30 degC"}, "units": {"length": "mm"}, "facts": facts}
    base = {"application": "any-use", "stations": {"seat": 1}, **around}
    told = rulebook().check_table(pyarrow.table(columns), base, verdicts=tuple(Verdict))
    by_row = {line["row"]: line["verdict"] for line in told.findings.to_pylist() if line["rule"] == "clearance"}
    for row, size in enumerate(across):
        readings = {"bore_across": {1: size}, "bore_along": {1: size}, "shaft": {1: 60.0}}
        alone = rulebook().check(record_from({"assembly": "A", **base, "readings": readings}))
        assert by_row[row] == str(finding(alone, "clearance").verdict)


def test_a_session_hears_of_the_material_later() -> None:
    session = rulebook().session(record_from(engine(60.034, 60.034, 60.000, "30 degC", {"liner": "plated"})))
    assert finding(session.report, "clearance").verdict is Verdict.UNDECIDED
    session.take("housing", None, "iron")
    assert finding(session.report, "clearance").verdict is Verdict.WITHIN


@pytest.mark.parametrize(
    ("made_of", "says"),
    [
        ("stel", "'stel' is neither a material nor a fact (did you mean 'steel'?)"),
        ("shaft", "'shaft' is neither a material nor a fact"),
        ("colour", "none of the choices of colour is a material (the materials are aluminium, iron, steel)"),
        ("seat_material", "seat_material is a fact of each seat, and a part is made of one material"),
    ],
)
def test_what_nothing_can_be_made_of_is_refused(made_of: str, says: str, tmp_path: Path) -> None:
    (tmp_path / "pack.yaml").write_text(
        (HOUSINGS / "pack.yaml").read_text().replace("made_of: steel", f"made_of: {made_of}")
    )
    with pytest.raises(PackError) as error:
        load_rulebook(tmp_path, plugins=gathered())
    assert says in str(error.value)


def test_only_lengths_grow(tmp_path: Path) -> None:
    load = "  load: {title: Load, unit: N, made_of: steel, plausible: [0 N, 9 N]}\n"
    (tmp_path / "pack.yaml").write_text((HOUSINGS / "pack.yaml").read_text().replace("rules:\n", f"{load}rules:\n"))
    with pytest.raises(PackError, match="load is not a length"):
        load_rulebook(tmp_path, plugins=gathered())
