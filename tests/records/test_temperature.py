"""Lengths at 20 degrees C, against ISO 1 and worked figures.

The engine figures are worked by hand from the expansions the pack names: aluminium 21.5e-6, steel 11.5e-6 per K.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from examples import examples
from fits_tools import MEASUREMENT, finding, fits, gathered, record, report
from hypothesis import given
from hypothesis import strategies as st
from measurement_tools import expected, given_in

from checker import Decision, Finding, InputError, PackError, Report, Verdict, load_rulebook, record_from, write_text

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


def test_what_a_gauge_has_read_is_brought_though_it_stands_under_facts() -> None:
    """A figure of the plan stood there before; what is measured in its place is written where it stood."""
    facts = "facts: {bore: {1: {value: 2.7510, with: gauge}}}\n"
    found = report("shaft: {1: 2.7480}", INCHES + STEEL_SET + WARM_ALUMINIUM + facts)
    assert f"{inches(found, 'bore'):.4f}" == "2.7506"


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


def test_how_warm_a_part_was_is_asked_for_where_only_its_material_is_told() -> None:
    """Half of U is 0.0001 in; 5 K of aluminium on 2.751 in is 0.0003 in."""
    found = report(
        "bore: {1: {value: 2.7510, with: gauge}}", INCHES + STEEL_SET + "temperatures: {materials: {bore: aluminium}}"
    )
    (flag,) = found.flags
    assert "at what temperature" in flag.message
    assert not flag.is_refused
    assert inches(found, "bore") == pytest.approx(2.7510, rel=1e-12)
    assert found.readings[0].correction is None


@pytest.mark.parametrize(
    ("readings", "more", "asks"),
    [
        ("bore: {1: {value: 2.7510, with: gauge}}", "temperatures: {parts: 35 degC}", "but on what material"),
        (
            "bore: {1: {value: 2.7510, with: plug}}",
            "temperatures: {parts: 35 degC, materials: {bore: aluminium}}",
            "but what was the gauge set with",
        ),
        (
            "bore: {1: {value: 2.7510, with: gauge}}",
            "temperatures: {parts: 40 degC, materials: {bore: aluminium}}",
            "but how warm was the gauge",
        ),
    ],
)
def test_what_keeps_a_reading_from_20_degrees_is_noted(readings: str, more: str, asks: str) -> None:
    listed = "instruments:\n  gauge: {expanded_uncertainty: 0.2 thou, set_with: steel}\n"
    found = report(readings, f"{INCHES}{listed}  plug: {{expanded_uncertainty: 0.2 thou}}\n{more}")
    (note,) = found.notes
    assert asks in note.message
    assert found.flags == ()
    assert inches(found, "bore") == pytest.approx(2.7510, rel=1e-12)
    assert found.readings[0].correction is None


@pytest.mark.parametrize(
    ("readings", "more"),
    [
        ("bore: {1: {value: 2.7510, with: gauge}}", ""),  # nothing is said of temperature at all
        ("gap: {1: 0.0180}", "temperatures: {parts: 35 degC}"),  # too short to matter
        ("gap: {1: {value: 0.0180, with: gauge}}", "temperatures: {materials: {gap: aluminium}}"),
        ("load: 500 N", "temperatures: {parts: 35 degC}"),  # no length
        ("bore: {1: {value: 2.7510, with: gauge}}", "temperatures: {parts: 25 degC}"),  # as if it said nothing
    ],
)
def test_what_could_not_matter_is_not_asked_for(readings: str, more: str) -> None:
    listed = "instruments: {gauge: {expanded_uncertainty: 0.2 thou, set_with: steel}}\n"
    found = report(readings, f"{INCHES}{listed}{more}")
    assert (found.flags, found.notes) == ((), ())


def test_what_many_sizes_ask_is_asked_once() -> None:
    """Of 2.751 in 0.0003 in for 5 K of aluminium, 21.5e-6 per K; of the shaft a hair less."""
    named = "temperatures: {materials: {bore: aluminium, shaft: aluminium}}\n"
    found = report("bore: {1: 2.7510}\nshaft: {1: 2.7490}\n", INCHES + named)
    (flag,) = found.flags
    assert flag.characteristic == "bore"
    assert flag.message.endswith(
        "at what temperature was it measured? Up to 0.0003 in of it may be warmth, of 1 other size less."
    )


def test_parts_too_far_apart_are_told_where_they_are_compared() -> None:
    readings = "bore: {1: {value: 2.7510, temperature: 35 degC}}\nshaft: {1: 2.7490}"
    found = report(readings, INCHES + "temperatures: {materials: {bore: aluminium}}")
    told = [flag for flag in found.flags if "not all are brought to 20 degC" in flag.message]
    assert [flag.characteristic for flag in told] == ["bore"]
    assert "bore was measured at 35 degC, shaft was measured at an unknown temperature" in told[0].message
    apart = report(readings.replace("35 degC", "24 degC"), INCHES)
    assert not [flag for flag in apart.flags if "not all are brought" in flag.message]


# --- A size far from 20 degrees that cannot be brought there decides nothing that hangs on it ------------------------

TWO_SEATS = "units: {length: mm}\nstations: {seat: 2}\n"
FITTED = "bore: [60.050, 60.052]\nshaft: [60.000, 60.001]"
UNNAMED = "temperatures: {{parts: {0} degC}}\n"


def warm(readings: str, more: str, rule: str = "clearance") -> Finding:
    return finding(report(readings, TWO_SEATS + more), rule)


def test_a_clearance_of_warm_parts_is_undecided_and_says_what_to_find_out() -> None:
    """60 mm may have grown by 60 x 24e-6 x 60 = 0.086 mm, which is more than the whole band."""
    found = warm(FITTED, UNNAMED.format(80))
    assert (found.verdict, found.must_open, found.needed_uncertainty) == (Verdict.UNDECIDED, True, 0.0)
    assert found.remarks[0] == (
        "the reading may lie on either side of the limit: measured at 80 degC, but on what material, "
        "and what was the gauge set with (bore; shaft)?"
    )
    assert warm(FITTED, UNNAMED.format(80), "clearance-spread").verdict is Verdict.WITHIN
    text = write_text(report(FITTED, TWO_SEATS + UNNAMED.format(80)))
    assert "do: state in the record what its parts and gauges are made of" in text


@pytest.mark.parametrize("temperature", [15, 20, 22, 25])
def test_a_bench_that_names_no_material_is_judged_as_a_silent_one(temperature: int) -> None:
    found = warm(FITTED, UNNAMED.format(temperature))
    assert (found.verdict, found.remarks) == (Verdict.WITHIN, warm(FITTED, "").remarks)


@pytest.mark.parametrize("temperature", [5, 14, 26, 36])
def test_further_from_20_degrees_it_is_not(temperature: int) -> None:
    """60 x 24e-6 x 6 = 0.0086 mm each way for either of two parts and two gauges, of 0.050 where 0.030 is the least."""
    within = "bore: [60.035, 60.036]\nshaft: [60.000, 60.001]"
    assert warm(within, "").verdict is Verdict.WITHIN
    assert warm(within, UNNAMED.format(temperature)).verdict is Verdict.UNDECIDED


@pytest.mark.parametrize(("temperature", "verdict"), [(35, Verdict.WITHIN), (36, Verdict.UNDECIDED)])
def test_what_no_instrument_reads_may_be_a_figure_of_a_sheet(temperature: int, verdict: Verdict) -> None:
    """A width that no pack reads with anything: 41,999 N on 60 by 100 mm, or on 99.962 if it is 36 degrees warm."""
    more = f"stations: {{seat: 1}}\nunits: {{length: mm}}\nfacts: {{shaft: 60}}\n{UNNAMED.format(temperature)}"
    assert finding(report("width: 100.00\nload: 41999 N", more), "bush-load").verdict is verdict


SET = "instruments: {gauge: {expanded_uncertainty: 1 um, set_with: steel}, plain: {expanded_uncertainty: 1 um}}\n"
NAMED = "temperatures: {parts: 80 degC, materials: {bore: steel, shaft: steel}}\n"
AT_20 = SET.replace("set_with: steel", "set_with: steel, temperature: 20 degC")


@pytest.mark.parametrize(
    ("gauge", "stated", "verdict", "asks"),
    [
        ("gauge", AT_20 + NAMED, Verdict.WITHIN, ""),
        ("gauge", SET + NAMED, Verdict.UNDECIDED, "how warm was the gauge (bore; shaft)?"),
        ("gauge", AT_20 + NAMED.replace(", shaft: steel", ""), Verdict.UNDECIDED, "on what material (shaft)?"),
        ("plain", SET + NAMED, Verdict.UNDECIDED, "what was the gauge set with (bore; shaft)?"),
    ],
)
def test_what_is_stated_is_not_asked_for(gauge: str, stated: str, verdict: Verdict, asks: str) -> None:
    readings = f"bore: {{with: {gauge}, values: [60.050, 60.052]}}\nshaft: {{with: {gauge}, values: [60.000, 60.001]}}"
    found = warm(readings, stated)
    assert found.verdict is verdict
    assert found.remarks[:1] == () if not asks else found.remarks[0].endswith(asks)


def test_a_warm_size_that_is_too_large_for_any_growth_is_outside() -> None:
    assert warm("bore: [60.300, 60.052]\nshaft: [60.000, 60.001]", UNNAMED.format(60)).verdict is Verdict.OUTSIDE


def test_several_readings_at_one_place_grow_alike() -> None:
    """Two readings 0.009 mm apart, where one of them by itself may have grown by 0.086 mm."""
    found = warm("bore: {1: [60.050, 60.059]}", UNNAMED.format(80), "bore-taper")
    assert found.verdict is Verdict.WITHIN


def test_what_is_known_from_its_ends_grows_by_what_it_really_is() -> None:
    """At its low end bore 1 is 0.01998 mm smaller than bore 2, or 0.02001 mm if both were 60 degrees warmer."""
    readings = "bore: {1: {between: [60.00002, 60.02000]}, 2: 60.02000}\nshaft: [59.97000, 59.97000]"
    assert warm(readings, "", "clearance-spread").verdict is Verdict.WITHIN
    assert warm(readings, UNNAMED.format(80), "clearance-spread").verdict is Verdict.UNDECIDED


def test_what_is_too_short_to_be_read_warm_stays_at_its_limit() -> None:
    """0.05 mm, read to a hundredth, may have grown by 0.00008 mm."""
    found = report("end_float: 0.05", f"facts: {{bush: bronze}}\n{TWO_SEATS}{UNNAMED.format(90)}")
    assert finding(found, "end-float").verdict is Verdict.WITHIN


@pytest.mark.parametrize("decision", ["simple", "where-known"])
def test_a_table_a_session_and_many_records_say_the_same(decision: str) -> None:
    import pyarrow

    sizes = {"bore@1": [60.050, 60.300], "shaft@1": [60.000, 60.000]}
    for parts, verdicts in (("80 degC", ["undecided", "outside"]), ("22 degC", ["within", "outside"])):
        base = {"stations": {"seat": 1}, "units": {"length": "mm"}, "temperatures": {"parts": parts}}
        how: dict[str, Any] = {"decision": Decision(decision)}
        told = fits().check_table(pyarrow.table(sizes), base, application="plain", verdicts=tuple(Verdict), **how)
        by_row = {line["row"]: line["verdict"] for line in told.findings.to_pylist() if line["rule"] == "clearance"}
        assert [by_row[0], by_row[1]] == verdicts
        for row, verdict in enumerate(verdicts):
            session = fits().session(record_from({"assembly": "A", "application": "plain", **base}), **how)
            for label, values in sizes.items():
                session.take(label.partition("@")[0], 1, values[row])
            assert str(finding(session.report, "clearance").verdict) == verdict
    (one,) = fits().check_many([session.record], **how)
    assert str(finding(one, "clearance").verdict) == verdict


TEMPERATURES = st.sampled_from([-20.0, 2.0, 11.0, 29.0, 33.0, 38.0, 45.0, 95.0])
"""Benches and what was heated; nearer to 20 degrees what is not known counts for nothing."""
MATERIAL = st.sampled_from(["", "steel", "aluminium"])


@examples(150)
@given(st.data())
def test_what_is_within_is_so_for_every_material(data: st.DataObject) -> None:
    """Every reading is brought to 20 degrees with thousands of growths of what is not named; none may be amiss."""
    gauges = {name: (data.draw(MATERIAL), data.draw(st.sampled_from([None, 20.0, 40.0]))) for name in ("one", "two")}
    parts = {name: data.draw(MATERIAL) for name in ("bore", "shaft")}
    is_even, named = data.draw(st.booleans()), st.sampled_from([*gauges, None])
    at = [data.draw(TEMPERATURES)] * 2 if is_even else [data.draw(TEMPERATURES) for _ in range(2)]
    sizes = {"shaft": [60.0, 60.0], "bore": [60.0 + data.draw(st.floats(-0.1, 0.3)) for _ in range(2)]}
    with_ = {name: data.draw(named) for name in sizes}
    is_one_gauge = with_["bore"] == with_["shaft"] is not None  # that it may be off alike in both is not made use of
    random = np.random.default_rng(data.draw(st.integers(0, 999)))
    unknown = {name: _growths(random, "") for name in ("bore", "shaft", *gauges, "bore with", "shaft with")}
    as_warm = {name: _shares(random) for name in (*gauges, "bore with", "shaft with")}
    clearances = []
    for station, temperature in enumerate(at):
        true = {}
        for name, material in parts.items():
            set_with, own = gauges.get(with_[name] or "", ("", None))
            gauge = _growths(random, set_with) if set_with else unknown[with_[name] or f"{name} with"]
            part = _growths(random, material) if material else unknown[name]
            warmth = (temperature if own is None else own) - 20
            if own is None and abs(temperature - 20) > 15:  # a gauge is not heated with the part
                warmth = warmth * as_warm[with_[name] or f"{name} with"]
            true[name] = sizes[name][station] * (1 + gauge * warmth) / (1 + part * (temperature - 20))
        clearances.append(true["bore"] - true["shaft"])
    listed = {
        name: {"expanded_uncertainty": "0 mm"}
        | ({"set_with": material} if material else {})
        | ({"temperature": f"{own} degC"} if own is not None else {})
        for name, (material, own) in gauges.items()
    }
    readings = {
        name: {
            **({"with": with_[name]} if with_[name] else {}),
            "values": {
                str(station): {"value": f"{size:.6f} mm", "temperature": f"{at[station - 1]} degC"}
                for station, size in enumerate(own, 1)
            },
        }
        for name, own in sizes.items()
    }
    stated = {name: material for name, material in parts.items() if material}
    more = {"temperatures": {"materials": stated}} if stated else {}
    head = {"assembly": "A", "application": "plain", "stations": {"seat": 2}, "instruments": listed, **more}
    found = fits().check(record_from({**head, "readings": readings}))
    for station, own in enumerate(clearances):
        told = finding(found, "clearance", station + 1)
        assert max(0.030 - own.min(), own.max() - 0.080) <= 2e-6 or told.verdict is not Verdict.WITHIN
        own = np.append(own, told.value * 1000)  # what is shown counts as possible too
        assert is_one_gauge or max(0.030 - own.min(), own.max() - 0.080) > -1e-3 or told.verdict is Verdict.WITHIN
    apart = np.abs(clearances[0] - clearances[1]).max()
    told = finding(found, "clearance-spread")
    assert apart <= 0.020 + 2e-6 or told.verdict is not Verdict.WITHIN
    # Nor is it made use of that a gauge is of one material when it is held to a heated part, and to one that is not.
    is_mixed = len({abs(temperature - 20) > 15 for temperature in at}) > 1
    assert is_one_gauge or is_mixed or max(apart, told.value * 1000) > 0.019 or told.verdict is Verdict.WITHIN


def _growths(random: np.random.Generator, material: str) -> Any:
    """That of a material, or thousands of what nobody named: no growth, the most, and much in between."""
    if material:
        return np.full(4000, {"steel": STEEL, "aluminium": ALUMINIUM}[material])
    return 24e-6 * _shares(random)


def _shares(random: np.random.Generator) -> Any:
    """Thousands of shares: nothing, all, and much in between."""
    shares = random.random(4000)
    return np.where(random.random(4000) < 0.7, np.round(shares), shares)


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
    materials = load_rulebook("four-stroke").materials
    expansions = {"aluminium": ALUMINIUM, "iron": 10.8e-6, "steel": STEEL, "bronze": 18e-6, "titanium": 8.6e-6}
    assert (materials.expansions, materials.of_gauges) == (expansions, ("steel",))
