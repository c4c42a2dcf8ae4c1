"""Sheet, filled in, read back, sheet again: nothing is lost in any form."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from places import HONEST
from sheet_tools import HEAD, Filling, essences, record, rulebook, sheet, through

from checker import Decision, InputError, Verdict, read_record, rulebook_for
from checker.sheets.plan import plan
from checker.sheets.read_csv import read_csv
from checker.sheets.read_xlsx import read_xlsx
from checker.sheets.write_csv import write_csv
from checker.sheets.write_xlsx import write_xlsx

EVERYTHING = (
    HEAD.replace("assembly: Reducer 7", 'assembly: "=HYPERLINK(1)"')
    + """taken: 2026-05-01
units: {length: mm, mass: kg}
notes: ["-1 is noted", "{curly", "two\\nlines"]
instruments:
  bore-gauge: {expanded_uncertainty: 5 um, title: "@SUM(A1)"}
  shop-scale: {resolution: 0.01 kg}
temperatures: {parts: 21 degC}
part_limits: {end_float: {at_least: 0.05 mm, source: "+ bearing sheet, page 3"}}
concessions: [{rule: backlash, station: 2, by: bench lead, dated: 2026-05-03, because: "noise, not load"}]
facts: {oil: mineral, is_sealed: "no"}
readings:
  shaft_diameter: [30.012, 1.1816 in]
  bearing_bore: {with: bore-gauge, taken: 2026-05-02, values: {1: 30.055, 2: "30.0600"}}
  gear_bore:
    1: [29.985, 29.9860, 29.987]
    2: {value: 29.99 mm, with: bore-gauge, by: "=cmd|' /C calc'!A0", note: "'quoted", temperature: 25 degC}
    3: {above: 29.97, note: "- strip ran out"}
    4: "-"
  backlash:
    1: {readings: [.10, .11 mm, 0.100, 0.12], note: four places}
    2: {between: [0.05 mm, 0.07 mm]}
  gear_mass: {all: 2.10}
  centre_distance: {1: {below: 80.03 mm}, 2: 100.02 mm}
  gear_module: [2, 2.5]
  pinion_teeth: [20, 20]
  wheel_teeth: {1: 60}
  bolt_torque_steps: [10 N.m, 20 N.m, 30 N.m]
  bearing_kind: rolling
"""
)


HONEST_RECORDS = sorted(path for path in HONEST.glob("*.yaml") if path.stem != "answers")


@pytest.mark.parametrize(
    ("form", "path"), [*(("csv", path) for path in HONEST_RECORDS), ("xlsx", HONEST / "alloy_three_with_commas.yaml")]
)
def test_what_shops_write_down_says_the_same_from_a_sheet(form: str, path: Path, tmp_path: Path) -> None:
    """Threads per inch, decimal commas, and numbers in another unit than the sheet has."""
    original = read_record(path)
    book = rulebook_for(original)
    report = book.check(original, on=date(2026, 12, 1))
    filled = tmp_path / f"sheet.{form}"
    if form == "csv":
        filled.write_text(write_csv(plan(book, report)), newline="")
    else:
        filled.write_bytes(write_xlsx(plan(book, report)))
    back = book.check((read_csv if form == "csv" else read_xlsx)(filled), on=date(2026, 12, 1))
    told = [[(each.name, each.where, each.verdict) for each in one.findings] for one in (report, back)]
    assert told[0] == told[1]


@pytest.mark.parametrize("form", ["yaml", "csv", "xlsx"])
def test_a_sheet_comes_back_as_the_record_it_was_laid_out_from(form: str, tmp_path: Path) -> None:
    original = record(EVERYTHING)
    back = through(form, sheet(EVERYTHING), tmp_path)
    assert sorted(map(str, essences(back))) == sorted(map(str, essences(original)))
    assert {key: value for key, value in back.document.data.items() if key != "readings"} == {
        key: value for key, value in original.document.data.items() if key != "readings"
    }
    noted = {(note.characteristic, note.station, *note.circumstances.values()) for note in original.notes}
    assert {(note.characteristic, note.station, *note.circumstances.values()) for note in back.notes} >= {
        item for item in noted if item[1].isdigit() and item[0] in ("gear_bore", "backlash")
    }


@pytest.mark.parametrize("form", ["yaml", "csv", "xlsx"])
def test_the_sheet_of_what_came_back_is_the_same_sheet(form: str, tmp_path: Path) -> None:
    first = through(form, sheet(EVERYTHING), tmp_path)
    second = through(form, plan(rulebook(), rulebook().check(first)), tmp_path)
    sheets = [write_csv(plan(rulebook(), rulebook().check(each))) for each in (first, second)]
    assert sheets[0] == sheets[1]


def test_the_verdicts_are_the_same_after_every_form(tmp_path: Path) -> None:
    for decision in (None, Decision("guarded")):
        wanted = [judged.codes.tolist() for judged in rulebook().check(record(EVERYTHING), decision=decision).judged]
        for form in ("yaml", "csv", "xlsx"):
            report = rulebook().check(through(form, sheet(EVERYTHING), tmp_path), decision=decision)
            assert [judged.codes.tolist() for judged in report.judged] == wanted


def test_a_fact_known_at_some_stations_only_is_asked_for_at_the_others(tmp_path: Path) -> None:
    text = HEAD + "facts: {gear_module: {1: 2 mm}}\nreadings: {}\n"
    back = through("csv", sheet(text), tmp_path)
    assert "facts" not in back.document.data
    assert set(back.document.data["readings"]["gear_module"]) == {"1"}


@pytest.mark.parametrize("form", ["yaml", "csv", "xlsx"])
def test_a_blank_sheet_is_a_record_with_nothing_measured(form: str, tmp_path: Path) -> None:
    report = rulebook().check(through(form, sheet(), tmp_path))
    assert report.readings == ()
    assert report.status == 3


def test_a_workbook_filled_in_by_hand_is_judged(tmp_path: Path) -> None:
    """20 and 60 teeth of module 2 mm: the centres belong 2 (20 + 60) / 2 = 80 mm apart; 80.030 is 0.030 over."""
    filling = Filling(write_xlsx(sheet()))
    for station in ("1", "2"):
        filling.put(2, "gear_module", station)
        filling.put(20, "pinion_teeth", station)
        filling.put("60", "wheel_teeth", station)  # a number typed as text
    filling.put(80.030, "centre_distance", "1")
    filling.put("3.1512 in", "centre_distance", "2")  # a unit of its own
    for number, value in enumerate((0.062, 0.07, 0.08, 0.066), 1):
        filling.put(value, "backlash", "1", f"reading {number}")
    filling.put("mineral", "oil")
    filling.head("assembly").value = "Reducer 8"
    filling.head("instruments").value = "{height-gauge: {expanded_uncertainty: 10 um}}"
    filling.put("height-gauge", "centre_distance", "1", "with")
    path = filling.save(tmp_path / "filled.xlsx")
    report = rulebook().check(read_xlsx(path))
    found = {(finding.name, finding.station): finding for finding in report.findings}
    assert report.record.assembly == "Reducer 8"
    assert str(found["centre-distance", 0].verdict) == "within"
    assert found["centre-distance", 0].shown_value == "0.03 mm"
    assert found["centre-distance", 0].uncertainty == pytest.approx(10e-6)
    assert found["centre-distance", 1].shown_value == "0.0405 mm"  # 3.1512 x 25.4 = 80.04048
    assert str(found["backlash-runout", 0].verdict) == "within"
    assert found["backlash-runout", 0].value == pytest.approx(0.018e-3)


FILLED_IN = """readings:
  shaft_diameter: {1: "-", 2: 30.012 mm}
  gear_bore: {4: 29.98 mm}
  joint_gap: 0.02 mm
"""
CHANGED_BY_HAND = {
    "a station": ("shaft_diameter,2,", "shaft_diameter,1,", "station '1' stands beside the words 'shaft 2'"),
    "a station for all": ("gear_bore,4,", "gear_bore,all,", "station 'all' stands beside the words 'gear 4'"),
    "no station any more": ("gear_bore,4,", "gear_bore,,", "station '' stands beside the words 'gear 4'"),
    "a name": (
        "joint_gap,,",
        "end_float,1,",
        "end_float stands beside the words 'Shaft end float', elsewhere beside 'Gap at the joint of the housing'",
    ),
    "a unit": ("30.012 mm,mm,", "30.012 mm,kg,", "'30.012 mm' is length, but the unit beside it, kg, is mass"),
}


@pytest.mark.parametrize(("old", "new", "message"), CHANGED_BY_HAND.values(), ids=CHANGED_BY_HAND)
def test_what_no_longer_fits_the_words_beside_it_is_refused(old: str, new: str, message: str, tmp_path: Path) -> None:
    lines = write_csv(sheet(HEAD + FILLED_IN)).splitlines()
    kept = [line for line in lines if not line.startswith(("shaft_diameter,1,", "gear_bore,1,"))]
    text = "\n".join(kept) + "\n"
    assert text.count(old) == 1
    path = tmp_path / "sheet.csv"
    path.write_text(text)
    read_csv(path)
    path.write_text(text.replace(old, new))
    with pytest.raises(InputError) as caught:
        read_csv(path)
    assert message in str(caught.value)


def test_stations_with_names_of_their_own_are_held_to_them(tmp_path: Path) -> None:
    named = HEAD.replace("{shaft: 2,", "{shaft: {count: 2, names: [shaft 20, output]},") + FILLED_IN
    text = write_csv(sheet(named.replace('1: "-"', "1: 30.011 mm")))
    path = tmp_path / "sheet.csv"
    path.write_text(text)
    assert len(essences(read_csv(path))) == 4
    added = "shaft_diameter,2,2,30.013,mm" + "," * 10
    path.write_text(f"{text}{added}\n")
    assert len(essences(read_csv(path))) == 5  # a row added by hand has no words beside it
    path.write_text(text.replace("shaft_diameter,1,1,30.011 mm,", "shaft_diameter,2,2,30.011 mm,"))
    with pytest.raises(InputError, match="station '2' stands beside the words 'shaft 20'"):
        read_csv(path)


def test_a_station_changed_by_hand_in_a_workbook_is_refused(tmp_path: Path) -> None:
    filling = Filling(write_xlsx(sheet(HEAD + FILLED_IN)))
    filling.cell("gear_bore", "4", "station").value = 3
    with pytest.raises(InputError, match="station '3' stands beside the words 'gear 4'"):
        read_xlsx(filling.save(tmp_path / "sheet.xlsx"))


def test_a_table_of_a_workbook_that_was_given_another_name_is_refused(tmp_path: Path) -> None:
    """The one that has the name already is blank: without its title the readings would be taken for its own."""
    filling = Filling(write_xlsx(sheet(HEAD + FILLED_IN)))
    title = filling.cell("shaft_diameter", "1", "station")
    title.parent.cell(title.row - 2, 1).value = "bearing_bore"
    with pytest.raises(InputError, match=r"bearing_bore stands beside .* elsewhere beside 'Shaft diameter"):
        read_xlsx(filling.save(tmp_path / "sheet.xlsx"))


@pytest.mark.parametrize("form", ["yaml", "csv", "xlsx"])
@pytest.mark.parametrize("steps", ["[10 N.m, '', 30 N.m]", "['-', 10 N.m]", "[10 N.m, 20 N.m, '']"])
def test_a_gap_in_a_series_stays_one(steps: str, form: str, tmp_path: Path) -> None:
    text = HEAD + f"readings:\n  bolt_torque_steps: {steps}\n"
    for written in (record(text), through(form, sheet(text), tmp_path)):
        found = {finding.name: finding.verdict for finding in rulebook().check(written).findings}
        assert found["bolt-steps"] is Verdict.NOT_MEASURED


def test_a_box_left_blank_between_two_of_a_series_is_a_gap(tmp_path: Path) -> None:
    path = tmp_path / "steps.csv"
    heading = "characteristic,station,reading,value,unit\n"
    path.write_text(f"{heading}bolt_torque_steps,,1,10,N.m\nbolt_torque_steps,,3,30,N.m\n")
    found = {finding.name: finding.verdict for finding in rulebook().check(read_csv(path), "general").findings}
    assert found["bolt-steps"] is Verdict.NOT_MEASURED
