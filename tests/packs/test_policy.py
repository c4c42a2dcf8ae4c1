"""What a shop decides for itself stands in sight: rules it drops, limits it changes, limits nobody can keep."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from pack_tools import GEAR_TRAIN, gear_record, gear_rulebook, plugins_with, write_pack
from plugin_tools import plug_in_gear_train

from checker import PackError, Report, Rulebook, Verdict
from checker.cli import main
from checker.html.hand_over_page import write_hand_over
from checker.plugins import gather
from checker.rulebook import load_rulebook

HEAD = """
pack: shop
version: 1.0.0
rule_language: 1
title: Shop policy
builds_on: {gear-train: ">=1,<2"}
"""
DROPPED = HEAD + "retires: {backlash: {because: We shim it at the customer.}}\n"
WORDS = "not asked here, by policy: Backlash of a mesh (shop 1.0.0: We shim it at the customer.)"


def shop(folder: Path, text: str, name: str = "shop") -> Path:
    return write_pack(folder / name, pack=text)


def amended(folder: Path, limits: str, more: str = "") -> Rulebook:
    text = (
        f"{HEAD}amends:\n  backlash:\n    because: So.\n    limits: {limits}\n    basis: {{kind: shop policy}}\n{more}"
    )
    return gear_rulebook(shop(folder, text))


def backlash(rulebook: Rulebook, use: str, ratio: float, more: str = "") -> Verdict:
    """The verdict on one mesh, of which the backlash is this part of the module."""
    record = gear_record({"gear_module": "{1: 2 mm}", "backlash": f"{{1: {2 * ratio:.3f} mm}}"}, use, more)
    judged = next(one for one in rulebook.check(record).judged if one.rule.name == "backlash")
    return Verdict(judged.codes[0, 0])


@pytest.fixture
def dropped(tmp_path: Path) -> Report:
    record = gear_record({"gear_module": "{1: 2 mm}", "backlash": "{1: 1 mm}"})
    return gear_rulebook(shop(tmp_path, DROPPED)).check(record)


@pytest.mark.parametrize("form", ["text", "markdown", "csv", "junit"])
def test_a_rule_that_was_dropped_stands_in_every_form(form: str, dropped: Report) -> None:
    written = gather().report_writers[form](dropped)
    if form == "csv":
        assert all(row["grounds"].endswith(WORDS) for row in csv.DictReader(io.StringIO(written)))
    else:
        assert WORDS in " ".join(written.split())


def test_it_stands_in_json_and_on_the_page(dropped: Report, tmp_path: Path) -> None:
    writers = gather().report_writers
    data = json.loads(writers["json"](dropped))
    [retired] = data["retired_rules"]
    assert (retired["rule"], retired["because"]) == ("backlash", "We shim it at the customer.")
    assert data["statements"][retired["stated"]]["pack"] == "shop"
    page = writers["html"](dropped)
    assert "Not asked here, by policy" in page
    assert "We shim it at the customer." in page


def test_the_hand_over_says_so_beside_the_rest_of_its_system(dropped: Report) -> None:
    page = write_hand_over(dropped)
    _, section = page.split("<h2>Not asked here, by policy</h2>")
    row = next(row for row in section.split("<tr") if "Backlash" in row)
    assert "Gears and meshes" in row
    assert "Backlash of a mesh (shop 1.0.0: We shim it at the customer.)" in row


def test_a_rule_of_a_later_milestone_or_of_another_use_is_not_said_to_be_dropped(tmp_path: Path) -> None:
    rulebook = gear_rulebook(shop(tmp_path, DROPPED))
    record = gear_record({"gear_module": "{1: 2 mm}"})
    assert rulebook.check(record, before="shafts-in").not_asked == ()


def test_what_an_upper_pack_says_of_any_use_counts_for_each(tmp_path: Path) -> None:
    """General duty must be 0.02 to 0.08 of the module, heavy 0.03 to 0.10; the shop asks for 0.045 at least."""
    rulebook = amended(tmp_path, "{any: {must: {at_least: 0.045}}}")
    for use in ("general", "precise", "heavy"):
        assert backlash(rulebook, use, 0.044) is Verdict.OUTSIDE
        assert backlash(gear_rulebook(), use, 0.044) is not Verdict.OUTSIDE
    # The other side of the band stays as it was.
    assert backlash(rulebook, "heavy", 0.09) is not Verdict.OUTSIDE
    assert backlash(rulebook, "general", 0.09) is Verdict.OUTSIDE


def test_a_use_that_it_names_counts_before_any(tmp_path: Path) -> None:
    rulebook = amended(tmp_path, "{any: {must: {at_least: 0.045}}, heavy: {must: {at_least: 0.035}}}")
    assert backlash(rulebook, "heavy", 0.04) is not Verdict.OUTSIDE
    assert backlash(rulebook, "general", 0.04) is Verdict.OUTSIDE


def test_any_use_under_a_condition_counts_where_that_holds(tmp_path: Path) -> None:
    rulebook = amended(tmp_path, "[{application: any, when: oil is grease, must: {at_least: 0.045}}]")
    for oil, verdict in (("grease", Verdict.OUTSIDE), ("mineral", Verdict.WITHIN)):
        assert backlash(rulebook, "heavy", 0.044, f"facts: {{oil: {oil}}}\n") is verdict


def test_a_pack_beside_it_keeps_what_it_names(tmp_path: Path) -> None:
    """Neither builds on the other: the use that one names is nearer than any, in whatever order they come."""
    for name, other in (("alpha", "omega"), ("omega", "alpha")):
        texts = {
            name: "{any: {must: {at_least: 0.045}}}",
            other: "{heavy: {must: {at_least: 0.035}}}",
        }
        folders = [
            shop(
                tmp_path / name,
                HEAD.replace("pack: shop", f"pack: {pack}")
                + f"amends:\n  backlash:\n    because: So.\n    limits: {limits}\n    basis: {{kind: shop policy}}\n",
                pack,
            )
            for pack, limits in texts.items()
        ]
        rulebook = gear_rulebook(*folders)
        assert backlash(rulebook, "heavy", 0.04) is not Verdict.OUTSIDE
        assert backlash(rulebook, "general", 0.04) is Verdict.OUTSIDE


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        (
            "{heavy: {must: {at_least: 0.035}}}",
            "heavy: must at least 0.03 x gear_module -> at least 0.035 x gear_module",
        ),
        ("{heavy: {must: {at_least: 0.03}}}", "nothing"),
        (
            "{any: {should: {at_least: 0.03}}}",
            "heavy: should at least 0.04 x gear_module -> at least 0.03 x gear_module",
        ),
    ],
)
def test_vetting_and_comparing_say_what_an_amendment_changes(
    limits: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    plug_in_gear_train(tmp_path, monkeypatch)
    amended(tmp_path, limits)
    folder = str(tmp_path / "shop")
    main(["test-pack", folder])
    assert f"  shop 1.0.0 changes in backlash:\n    {said}\n" in capsys.readouterr().out
    main(["compare-packs", str(GEAR_TRAIN), folder])
    out = capsys.readouterr().out
    assert (f"\n  {said}\n" in out) if said != "nothing" else out.endswith("pack.yaml:8 changes nothing\n")


def test_an_amendment_of_words_alone_is_told_as_that(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    plug_in_gear_train(tmp_path, monkeypatch)
    folder = shop(tmp_path, f"{HEAD}amends:\n  backlash: {{because: So., remedy: {{low: Shim it.}}}}\n")
    main(["test-pack", str(folder)])
    assert "changes in backlash:\n    only its remedies\n" in capsys.readouterr().out


def test_limits_that_contradict_each_other_are_told_with_who_asks(tmp_path: Path) -> None:
    """By what is measured the least may come to lie above the greatest: the rule says so, and no remedy."""
    limits = "{any: {must: {at_least: centre_excess}}}"
    rulebook = amended(tmp_path, limits)
    record = gear_record(
        {"gear_module": "{1: 2 mm}", "backlash": "{1: 0.10 mm}", "centre_excess": "{1: 0.50 mm}"}, "general"
    )
    found = next(finding for finding in rulebook.check(record).findings if finding.name == "backlash")
    assert found.verdict is Verdict.OUTSIDE
    assert found.remedy == ""
    assert found.remarks[0] == (
        "no value satisfies both: required at least 0.50 mm (shop 1.0.0), required at most 0.16 mm (gear-train 1.2.0)"
    )


def test_a_concession_is_open_while_its_rule_is(tmp_path: Path) -> None:
    granted = (
        "stations: {mesh: 3}\nconcessions:\n"
        "  - {rule: backlash, by: Gerda, dated: 2026-05-02, because: It runs slowly.}\n"
    )
    standings = {}
    for mesh, value in (("open", "{1: 0.08 mm}"), ("counts", "{1: 1 mm}"), ("not needed", "{all: 0.08 mm}")):
        record = gear_record({"gear_module": "{all: 2 mm}", "backlash": value}, more=granted)
        [(_, standings[mesh])] = gear_rulebook().check(record).concessions
    assert standings == {
        "open": "open: nothing is missed so far, but the rule is not judged at 2 of 3 places",
        "counts": "counts",
        "not needed": "not needed: nothing is missed there",
    }


def test_an_amendment_still_needs_something_to_change(tmp_path: Path) -> None:
    folder = shop(tmp_path, f"{HEAD}amends:\n  backlash: {{because: So.}}\n")
    with pytest.raises(PackError, match="changes nothing"):
        load_rulebook(GEAR_TRAIN, folder, plugins=plugins_with())


def test_what_was_dropped_is_said_wherever_it_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    plug_in_gear_train(tmp_path, monkeypatch)
    folder = str(shop(tmp_path, DROPPED))
    dropped = WORDS.removeprefix("not asked here, by policy: ")
    assert main(["limits", "backlash", "--pack", folder]) == 2
    assert f"'backlash' {WORDS}".replace("' not", "' is not") in capsys.readouterr().err
    main(["compare-packs", str(GEAR_TRAIN), folder])
    assert f"rules gone: backlash\n  not asked any more: {dropped}\n" in capsys.readouterr().out
    main(["test-pack", folder])
    said = "  shop 1.0.0 changes in backlash:\n    not asked any more: We shim it at the customer.\n"
    assert said in capsys.readouterr().out
