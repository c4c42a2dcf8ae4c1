"""Lengths at 20 degrees C, against ISO 1 and worked figures.

The engine figures are worked by hand from the expansions the pack names: aluminium 21.5e-6, steel 11.5e-6 per K.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from examples import examples
from fits_tools import MEASUREMENT, finding, gathered, record, report
from hypothesis import given
from hypothesis import strategies as st
from measurement_tools import expected, given_in

from checker import InputError, PackError, Report, load_rulebook

ALUMINIUM, STEEL = 21.5e-6, 11.5e-6
INCHES = "units: {length: in}\nstations: {seat: 1}\n"
STEEL_SET = "instruments: {gauge: {expanded_uncertainty: 0.2 thou, set_with: steel}}\n"
WARM_ALUMINIUM = "temperatures: {parts: 35 degC, materials: {bore: aluminium}}\n"


def inches(found: Report, characteristic: str) -> float:
    (reading,) = (reading for reading in found.readings if reading.characteristic == characteristic)
    return reading.middle / 0.0254


def test_a_steel_set_gauge_in_warm_aluminium() -> None:
    """2.7510 in at 35 degrees C: 2.7510 x (21.5 - 11.5)e-6 x 15 = 0.0004 in too much, so 2.7506 in."""
    found = report("bore: {1: {value: 2.7510, with: gauge}}", INCHES + STEEL_SET + WARM_ALUMINIUM)
    assert inches(found, "bore") == pytest.approx(2.7510 * (1 - (ALUMINIUM - STEEL) * 15), abs=1e-6)
    assert f"{inches(found, 'bore'):.4f}" == "2.7506"
    (note,) = found.notes
    assert note.message == "measured at 35 degC, brought to 20 degC by -0.0004 in"
    assert (note.written, found.readings[0].written) == ("2.7510", "2.7510")
    assert found.flags == ()


def test_the_reference_row(tmp_path: Path) -> None:
    """An aluminium piston measured with a steel micrometer, both at 28 degrees C."""
    row = given_in("temp-ref-20C")
    pack = (MEASUREMENT / "pack.yaml").read_text()
    constants = "".join(
        f"  {name}: {{value: {value}, unit: per K, basis: {{kind: handbook}}}}\n"
        for name, value in (("of_part", row["alpha_part"]), ("of_gauge", row["alpha_mic"]))
    )
    materials = "materials:\n  part: {expansion: of_part}\n  gauge: {expansion: of_gauge}\n"
    (tmp_path / "pack.yaml").write_text(
        pack.replace("characteristics:", f"constants:\n{constants}{materials}characteristics:")
    )
    more = (
        "application: any-use\ninstruments: {micrometer: {expanded_uncertainty: 0 mm, set_with: gauge}}\n"
        f"temperatures: {{parts: {row['T_C']} degC, materials: {{size: part}}}}\n"
    )
    head = "record: 1\nassembly: Test\nrule_packs: {measurement: '>=1'}\n"
    given = record(f"size: {{value: {row['L_mm']} mm, with: micrometer}}", more, head)
    found = load_rulebook(tmp_path, plugins=gathered()).check(given)
    assert found.readings[0].middle * 1000 == expected("temp-ref-20C")


def test_a_journal_fresh_from_the_washer() -> None:
    """2.4489 in of steel at 45 degrees C, the micrometer at 20: 2.4489 x 11.5e-6 x 25 = 0.0007 in too large."""
    more = (
        INCHES
        + "instruments: {micrometer: {expanded_uncertainty: 0.1 thou, temperature: 20 degC}}\n"
        + "temperatures: {materials: {shaft: steel}}\n"
    )
    found = report("shaft: {1: {value: 2.4489, with: micrometer, temperature: 45 degC}}", more)
    assert (2.4489 - inches(found, "shaft")) == pytest.approx(2.4489 * STEEL * 25, rel=1e-3)
    assert round(2.4489 - inches(found, "shaft"), 4) == 0.0007


def test_the_verdict_is_that_of_the_size_at_20_degrees() -> None:
    """69.880 mm of warm aluminium is 69.8695 at 20: the clearance is 0.0695, not 0.080 mm."""
    warm = (
        "units: {length: mm}\nstations: {seat: 1}\n"
        "instruments: {gauge: {expanded_uncertainty: 0 mm, set_with: steel}}\n" + WARM_ALUMINIUM
    )
    shaft = "shaft: {1: {value: 69.800, temperature: 20 degC}}"
    found = report(f"bore: {{1: {{value: 69.880, with: gauge}}}}\n{shaft}", warm)
    assert finding(found, "clearance").value * 1000 == pytest.approx(0.0695, abs=1e-4)


def test_a_part_and_gauge_of_one_material_need_no_correction() -> None:
    more = INCHES + STEEL_SET + "temperatures: {parts: 35 degC, materials: {shaft: steel}}\n"
    found = report("shaft: {1: {value: 2.4489, with: gauge}}", more)
    assert inches(found, "shaft") == pytest.approx(2.4489, rel=1e-12)
    assert found.notes == found.flags == ()


@examples(50)
@given(st.floats(10, 250), st.floats(-25, 75), st.floats(-25, 75))
def test_two_ways_round_agree(size: float, part: float, gauge: float) -> None:
    """Growing a length from 20 degrees by hand, and reading it with a gauge that has grown, gives it back."""
    true = size * (1 + ALUMINIUM * (part - 20))
    shown = true / (1 + STEEL * (gauge - 20))
    more = (
        "stations: {seat: 1}\ninstruments: {gauge: {expanded_uncertainty: 0 mm, set_with: steel, "
        f"temperature: '{gauge:.6f} degC'}}}}\n"
        "temperatures: {materials: {bore: aluminium}}\n"
    )
    text = f"bore: {{1: {{value: {shown:.9f} mm, with: gauge, temperature: '{part:.6f} degC'}}}}"
    assert report(text, more).readings[0].middle * 1000 == pytest.approx(size, rel=1e-8)


# --- What is not stated is asked for where it could matter ------------------------------------------------------------


@pytest.mark.parametrize(
    ("readings", "more", "asks"),
    [
        # Half of U is 0.0001 in; 5 K of aluminium on 2.751 in is 0.0003 in.
        (
            "bore: {1: {value: 2.7510, with: gauge}}",
            "temperatures: {materials: {bore: aluminium}}",
            "at what temperature",
        ),
        ("bore: {1: {value: 2.7510, with: gauge}}", "temperatures: {parts: 35 degC}", "but on what material"),
        (
            "bore: {1: {value: 2.7510, with: plug}}",
            "temperatures: {parts: 35 degC, materials: {bore: aluminium}}",
            "but what was the gauge set with",
        ),
    ],
)
def test_what_is_missing_is_asked_for(readings: str, more: str, asks: str) -> None:
    listed = "instruments:\n  gauge: {expanded_uncertainty: 0.2 thou, set_with: steel}\n"
    found = report(readings, f"{INCHES}{listed}  plug: {{expanded_uncertainty: 0.2 thou}}\n{more}")
    (flag,) = found.flags
    assert asks in flag.message
    assert not flag.is_refused
    assert inches(found, "bore") == pytest.approx(2.7510, rel=1e-12)
    assert found.readings[0].correction is None


@pytest.mark.parametrize(
    ("readings", "more"),
    [
        ("bore: {1: {value: 2.7510, with: gauge}}", ""),  # nothing is said of temperature at all
        ("gap: {1: {value: 0.0180, with: gauge}}", "temperatures: {parts: 35 degC}"),  # too short to matter
        ("gap: {1: {value: 0.0180, with: gauge}}", "temperatures: {materials: {gap: aluminium}}"),
        ("load: 500 N", "temperatures: {parts: 35 degC}"),  # no length
        ("bore: {1: {value: 2.7510, with: gauge}}", "temperatures: {parts: 20.5 degC}"),
    ],
)
def test_what_could_not_matter_is_not_asked_for(readings: str, more: str) -> None:
    listed = "instruments: {gauge: {expanded_uncertainty: 0.2 thou, set_with: steel}}\n"
    assert report(readings, f"{INCHES}{listed}{more}").flags == ()


def test_parts_too_far_apart_are_told_where_they_are_compared() -> None:
    readings = "bore: {1: {value: 2.7510, temperature: 35 degC}}\nshaft: {1: 2.7490}"
    found = report(readings, INCHES + "temperatures: {materials: {bore: aluminium}}")
    told = [flag for flag in found.flags if "not all are brought to 20 degC" in flag.message]
    assert [flag.characteristic for flag in told] == ["bore"]
    assert "bore was measured at 35 degC, shaft was measured at an unknown temperature" in told[0].message
    apart = report(readings.replace("35 degC", "24 degC"), INCHES)
    assert not [flag for flag in apart.flags if "not all are brought" in flag.message]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("temperatures: {parts: 350 degC}", "nothing is measured at 350 degC"),
        ("temperatures: {parts: 35}", "has no unit"),
        ("temperatures: {materials: {bore: unobtainium}}", "no material 'unobtainium'"),
        ("temperatures: {materials: {bore: aluminum}}", "did you mean 'aluminium'?"),
        ("temperatures: {materials: {load: steel}}", "load is not a length"),
        ("temperatures: {materials: {boer: steel}}", "did you mean 'bore'?"),
        ("instruments: {gauge: {set_with: wood}}", "no material 'wood'"),
        ("instruments: {gauge: {temperature: 400 degC}}", "nothing is measured at 400 degC"),
        ("instruments: {gauge: {expanded_uncertainty: 1 degC}}", "1 delta degC"),
    ],
)
def test_what_cannot_be_is_refused(more: str, says: str) -> None:
    with pytest.raises(InputError) as error:
        report("bore: {1: 2.7510 in}", f"stations: {{seat: 1}}\n{more}")
    assert says in str(error.value)


@pytest.mark.parametrize("expansion", ["expansion_of_wood", "modulus"])
def test_a_material_names_a_constant_of_the_right_kind(expansion: str, tmp_path: Path) -> None:
    pack = (MEASUREMENT / "pack.yaml").read_text()
    added = "constants:\n  modulus: {value: 1, unit: MPa, basis: handbook}\n"
    added += f"materials:\n  wood: {{expansion: {expansion}}}\ncharacteristics:"
    (tmp_path / "pack.yaml").write_text(pack.replace("characteristics:", added))
    with pytest.raises(PackError, match=r"no constant|is no expansion"):
        load_rulebook(tmp_path, plugins=gathered())


def test_the_shipped_pack_names_the_materials_of_an_engine() -> None:
    assert load_rulebook("four-stroke").expansions == {"aluminium": ALUMINIUM, "iron": 10.8e-6, "steel": STEEL}
