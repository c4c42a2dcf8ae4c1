"""Comparing packs: what changes in effect, not in text, and whose verdicts do."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pack_tools import GEAR_TRAIN, gear_rulebook, plugins_with, write_pack
from plugin_tools import plug_in_gear_train

from checker.cli import main
from checker.rulebook import load_rulebook
from checker.vetting.comparison import Comparison, compare

END_FLOAT = "at most most_end_float(shaft_diameter)"
DIAL = "plausible: [0 mm, 3 mm], with: dial indicator,\n                    how: Push"
TOOTH_PLAY = (
    ("backlash:   ", "tooth_play: "),
    ("judges: backlash\n", "judges: tooth_play\n"),
    ("(backlash)", "(tooth_play)"),
)


def changed(folder: Path, *changes: tuple[str, str]) -> Path:
    """The gear train with some words changed."""
    files = {file.stem: file.read_text() for file in GEAR_TRAIN.glob("*.yaml")}
    for old, new in changes:
        assert any(old in text for text in files.values()), old
        files = {name: text.replace(old, new) for name, text in files.items()}
    return write_pack(folder / "changed", **files)


def compared(folder: Path, *changes: tuple[str, str]) -> Comparison:
    return compare(gear_rulebook(), load_rulebook(changed(folder, *changes), plugins=plugins_with()))


def told(result: Comparison) -> dict[str, tuple[str, ...]]:
    return {change.name: change.lines for change in (*result.rules_changed, *result.characteristics_changed)}


def test_the_same_pack_does_the_same() -> None:
    assert compare(gear_rulebook(), gear_rulebook()).is_empty


@pytest.mark.parametrize(
    "change",
    [
        ("title: Backlash of a mesh", "title: Play of a mesh"),
        ("at_least: 0.03 mm", "at_least: 30 um"),
        ("at_most: 0.05 mm}, should", "at_most: 0.025 mm + 0.025 mm}, should"),
        ("bearing_bore - shaft_diameter", "-shaft_diameter + bearing_bore"),
        ("[[20, 20], [40, 40], [100, 70]]", "[[20, 20], [30, 30], [40, 40], [100, 70]]"),
        ("Move the centres apart", "Spread the centres"),
        (
            "plausible: [0 mm, 3 mm], with: dial indicator,\n                    how: Push",
            "plausible: [0 um, 3000 um], how: Push",
        ),
    ],
)
def test_another_text_of_the_same_effect_is_no_change(change: tuple[str, str], tmp_path: Path) -> None:
    assert compared(tmp_path, change).is_empty


@pytest.mark.parametrize(
    ("change", "name", "lines"),
    [
        (
            ("at_most: 0.08}", "at_most: 0.07}"),
            "backlash",
            ("general, precise: must at most 0.08 x gear_module -> at most 0.07 x gear_module",),
        ),
        (
            ("precise: {should: {at_most: 0.04}}", "precise: {should: {at_least: 0.02}}"),
            "backlash",
            (
                "precise: should at least 0.03 x gear_module -> at least 0.02 x gear_module",
                "precise: should at most 0.04 x gear_module -> at most 0.05 x gear_module",
            ),
        ),
        (
            ("at_most: 0.06 mm", "at_most: 0.07 mm"),
            "centre-distance",
            ("general, heavy: must at most 0.06 mm -> at most 0.07 mm",),
        ),
        (("{at_least: 0.03 mm, ", "{"), "shaft-end-float", ("must at least 0.03 mm -> no limit",)),
        (
            ("[30, 0.15]", "[30, 0.16]"),
            "shaft-end-float",
            (f"must {END_FLOAT} -> {END_FLOAT} (by what it is computed from)",),
        ),
        (
            ("value: 7850", "value: 7860"),
            "shaft-weight",
            (),
        ),
        (("before: shafts-in", "before: gears-on"), "shaft-clearance", ("before shafts-in -> before gears-on",)),
        (("    concession: never\n", ""), "oil-kind", ("a concession may be given",)),
        (
            ("    concession: never\n", "    concession: never\n    inspection: {occasion: is_sealed is yes}\n"),
            "oil-kind",
            ("always asked -> asked where is_sealed is yes",),
        ),
        (
            ("    concession: never\n", "    concession: never\n    inspection: {by_eye: it is clear}\n"),
            "oil-kind",
            ("always asked -> always asked; or seen by eye: it is clear",),
        ),
        (
            ("one_of: [synthetic]", "one_of: [synthetic, mineral]"),
            "oil-kind",
            ("heavy: must be synthetic -> be synthetic or mineral",),
        ),
        (
            ("unless: is_sealed is yes", "unless: is_sealed is no"),
            "oil-kind",
            ("applies unless is_sealed is yes -> applies unless is_sealed is no",),
        ),
        (
            ("[0.2 mm, 20 mm]", "[0.2 mm, 25 mm]"),
            "gear_module",
            ("plausible 0.20 mm to 20.00 mm -> 0.20 mm to 25.00 mm",),
        ),
        (
            ("[mineral, synthetic, grease]", "[mineral, synthetic]"),
            "oil",
            ("mineral, synthetic, grease -> mineral, synthetic",),
        ),
    ],
)
def test_a_planted_change_is_told(change: tuple[str, str], name: str, lines: tuple[str, ...], tmp_path: Path) -> None:
    found = told(compared(tmp_path, change))
    assert name in found, found
    if lines:
        assert found[name] == lines


def test_a_change_touches_nothing_else(tmp_path: Path) -> None:
    assert list(told(compared(tmp_path, ("at_most: 0.08}", "at_most: 0.07}")))) == ["backlash"]


def test_rules_and_uses_that_come_and_go(tmp_path: Path) -> None:
    shop = """
pack: shop
version: 1.0.0
rule_language: 1
title: Shop policy
builds_on: {gear-train: ">=1,<2"}
applications: {marine: {title: On board, like: heavy}}
retires: {joint-gap: {because: We glue it.}}
rules:
  long-shafts:
    title: Long shafts
    before: shafts-in
    judges: shaft_length
    limits: {any: {should: {at_most: 900 mm}}}
    basis: shop policy
"""
    result = compare(gear_rulebook(), gear_rulebook(write_pack(tmp_path / "shop", pack=shop)))
    assert result.uses_added == ("marine",)
    assert result.rules_added == ("long-shafts",)
    assert result.rules_gone == ("joint-gap",)
    assert result.rules_changed == ()


def written_record(folder: Path, number: int, backlash: float) -> str:
    path = folder / f"train{number:02}.yaml"
    path.write_text(
        f"record: 1\nassembly: Train {number}\napplication: general\nrule_packs: {{gear-train: '>=1,<2'}}\n"
        f"readings: {{gear_module: {{1: 2 mm}}, backlash: {{1: {backlash:.3f} mm}}}}\n"
    )
    return str(path)


def test_the_one_record_among_fifty_is_found(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A limit of 0.16 mm becomes 0.14 mm; only number 17 lies between the two, and none names the new version."""
    records = [written_record(tmp_path, n, 0.150 if n == 17 else 0.05 + 0.0015 * n) for n in range(50)]
    new = changed(tmp_path, ("at_most: 0.08}", "at_most: 0.07}"), ("version: 1.2.0", "version: 2.0.0"))
    assert main(["compare-packs", str(GEAR_TRAIN), str(new), *records]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "gear-train 1.2.0 -> gear-train 2.0.0"
    assert lines[-3] == "50 records, 1 with changed verdicts"
    assert lines[-2].endswith(
        "train17.yaml (Train 17), for general: a required check is still open -> a required check is out of limits"
    )
    assert lines[-1] == "  backlash, mesh: advisory -> outside"
    assert main(["compare-packs", str(GEAR_TRAIN), str(new), *records, "--format", "json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert data["records"] == 50
    assert [record["assembly"] for record in data["records_changed"]] == ["Train 17"]
    assert data["rules_changed"][0]["name"] == "backlash"


def test_a_record_is_judged_by_what_each_side_knows_of_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The new pack has another name for a characteristic, so it judges the record without it, and says so."""
    record = written_record(tmp_path, 1, 0.08)
    new = changed(tmp_path, *TOOTH_PLAY)
    assert main(["compare-packs", str(GEAR_TRAIN), str(new), record]) == 1
    out = capsys.readouterr().out
    assert "cannot be judged" not in out
    assert "  only the old pack has, so the other judged without: backlash\n" in out
    assert "  backlash, mesh: within -> not measured\n" in out


def test_a_record_with_a_new_kind_of_station_is_judged_by_the_old_pack_too(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    new = changed(
        tmp_path,
        ("system: Gears and meshes\n", "system: Gears and meshes\n\nstations:\n  seal: {title: Seal}\n"),
        ("  oil:  ", "  seal_depth: {title: Seal depth, per: seal, unit: mm, plausible: [0 mm, 30 mm]}\n  oil:  "),
    )
    record = Path(written_record(tmp_path, 1, 0.09))
    text = record.read_text().replace("readings: {", "stations: {seal: 2}\nreadings: {seal_depth: [3 mm, 3 mm], ")
    record.write_text(text)
    assert main(["compare-packs", str(GEAR_TRAIN), str(new), str(record), "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out)["records_changed"] == []
    main(["compare-packs", str(GEAR_TRAIN), str(new), str(record)])
    out = capsys.readouterr().out
    assert "  only the new pack has, so the other judged without: seal, seal_depth\n" in out
    assert "  no verdict changes\n" in out


def test_what_neither_side_knows_stays_a_mistake(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Of such a record nobody can say that none of its verdicts changes, however many others there are."""
    good, bad = written_record(tmp_path, 1, 0.09), Path(written_record(tmp_path, 2, 0.09))
    bad.write_text(bad.read_text().replace("backlash", "backlsh"))
    assert main(["compare-packs", str(GEAR_TRAIN), str(GEAR_TRAIN), good, str(bad)]) == 2
    lines = capsys.readouterr().out.splitlines()
    assert lines[-2] == "2 records, none with changed verdicts, 1 that neither can judge"
    assert "for general: cannot be judged: " in lines[-1]
    assert main(["compare-packs", str(GEAR_TRAIN), str(GEAR_TRAIN), good, str(bad), "--format", "json"]) == 2
    data = json.loads(capsys.readouterr().out)
    assert data["records_changed"] == []
    assert [record["assembly"] for record in data["records_unknown"]] == ["Train 2"]


def test_nothing_changed_is_status_zero(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare-packs", str(GEAR_TRAIN), str(GEAR_TRAIN)]) == 0
    assert "Both do the same." in capsys.readouterr().out


MARINE = """
pack: marine
version: 1.0.0
rule_language: 1
title: On board
builds_on: {gear-train: ">=1,<2"}
applications: {marine: {title: On board, like: heavy}}
amends:
  backlash:
    because: Salt gets in.
    limits: {marine: {must: {at_least: 0.05}}}
    basis: shop policy
"""


@pytest.fixture
def _installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plug_in_gear_train(tmp_path, monkeypatch)


@pytest.mark.usefixtures("_installed")
def test_a_record_is_judged_for_the_uses_that_the_new_pack_adds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """0.09 mm at a module of 2 mm is 0.045: within for general duty, below what the new use must have."""
    record = written_record(tmp_path, 1, 0.09)
    pack = str(write_pack(tmp_path / "marine", pack=MARINE))
    assert main(["compare-packs", str(GEAR_TRAIN), pack, record]) == 1
    out = capsys.readouterr().out
    assert "backlash\n  marine: must at least 0.03 x gear_module -> at least 0.05 x gear_module\n" in out
    own, added = out.split("1 record, 1 with changed verdicts\n")[1].split(record)[1:]
    assert own == " (Train 1), for general: a required check is still open\n  no verdict changes\n"
    assert added.startswith(
        " (Train 1), for general -> marine: a required check is still open -> a required check is out of limits\n"
    )
    assert "\n  backlash, mesh: within -> outside\n" in added


@pytest.mark.usefixtures("_installed")
def test_a_record_is_judged_for_the_use_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = written_record(tmp_path, 1, 0.09)
    pack = str(write_pack(tmp_path / "marine", pack=MARINE))
    main(["compare-packs", str(GEAR_TRAIN), pack, record, "--application", "heavy", "--format", "json"])
    assert json.loads(capsys.readouterr().out)["records_changed"] == []
    assert main(["compare-packs", str(GEAR_TRAIN), pack, record, "--application", "marin"]) == 2
    assert "did you mean 'marine'?" in capsys.readouterr().err


@pytest.mark.usefixtures("_installed")
def test_a_rule_that_is_gone_is_told_of_a_record(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = written_record(tmp_path, 1, 0.4)
    shop = MARINE.split("amends:")[0] + "retires: {backlash: {because: We shim.}}\n"
    main(["compare-packs", str(GEAR_TRAIN), str(write_pack(tmp_path / "shop", pack=shop)), record])
    assert "\n  backlash, mesh: outside -> no rule\n" in capsys.readouterr().out


@pytest.mark.usefixtures("_installed")
def test_what_a_pack_no_longer_asks_for_or_lets_a_sheet_require_is_told(tmp_path: Path) -> None:
    shop = MARINE.split("applications:")[0] + (
        "control_plan: {leaves_out: {joint-gap: We glue it.}}\n"
        "part_limits: {backlash: {at_most: 0.3 mm, source: gearbox book}}\n"
    )
    assert told(compare(gear_rulebook(), gear_rulebook(write_pack(tmp_path / "shop", pack=shop)))) == {
        "joint-gap": ("always asked -> not asked, left out by pack marine: We glue it",),
        "backlash": ("no maker's sheet -> at most 0.3 mm (gearbox book)",),
    }


@pytest.mark.usefixtures("_installed")
def test_how_a_pack_decides_and_what_level_it_asks_for_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    levels = "inspection_levels: {usual: {title: Usual}, close: {title: Close}}\n"
    general = changed(tmp_path / "old", ("rule_language: 1\n", f"rule_language: 1\n{levels}"))
    close = changed(
        tmp_path / "new",
        ("rule_language: 1\n", f"rule_language: 1\n{levels}decision: simple\n"),
        ("heavy:   {title", "heavy: {inspection: close, title"),
    )
    assert main(["compare-packs", str(general), str(close)]) == 1
    out = capsys.readouterr().out
    assert "Both do the same" not in out
    assert "\ndecision\n  where known: guarded by the expanded uncertainty, k = 2 (ISO 14253-1)" in out
    assert ", where the instrument is named -> simple acceptance: readings are taken at face value\n" in out
    assert "\nuse heavy\n  level usual -> level close\n" in out
