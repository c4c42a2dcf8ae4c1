"""Every use side by side: the page and the text say the same."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from judging import record as four_stroke_record
from judging import rulebook
from pack_tools import GEAR_TRAIN, gear_rulebook

from checker import Record, Rulebook, UsageError, packs_asked
from checker.cli import main
from checker.documents.document import parse_yaml
from checker.packs.pack import Pack
from checker.plugins import gather
from checker.records.record import record_in
from checker.uses import uses_of

RECORD = """
record: 1
assembly: Train
application: general
rule_packs: {gear-train: '>=1'}
stations: {mesh: 3}
instruments: {dial: {title: Dial, expanded_uncertainty: 0.02 mm}}
decision: where-known
readings:
  gear_module: {all: 2 mm}
  backlash: {with: dial, values: {1: 0.09 mm, 2: 0.165 mm, 3: 0.5 mm}}
"""


def test_the_page_has_every_count_that_the_text_has(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = tmp_path / "train.yaml"
    record.write_text(RECORD)
    asked = ["uses", str(record), "--pack", str(GEAR_TRAIN)]
    main(asked)
    text = capsys.readouterr().out
    main([*asked, "--format", "html"])
    page = capsys.readouterr().out
    told = re.findall(r"^  (\S.*?)  +(?:suits|does not suit|not known)\n((?: {17}.*\n)+)", text, re.MULTILINE)
    assert [use for use, _ in told] == ["General duty", "Positioning, both ways round", "Heavy duty with shocks"]
    for use, lines in told:
        counts = " ".join(lines.split())
        assert re.search(rf"{use}</th>.*?<td>{re.escape(counts)}</td>", page, re.DOTALL)
        assert {"outside", "undecided", "not measured"} <= set(re.findall(r"[a-z][a-z ]+", counts))


def test_the_page_says_why_a_use_is_not_known(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = tmp_path / "train.yaml"
    record.write_text(RECORD.replace(", 3: 0.5 mm", ""))
    main(["uses", str(record), "--pack", str(GEAR_TRAIN), "--format", "html"])
    assert "or less would decide" in capsys.readouterr().out


def test_each_use_says_which_rule_decides(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """0.5 mm on a module of 2 mm is 0.25 of it, and 0.10 is the most for heavy duty."""
    record = tmp_path / "train.yaml"
    record.write_text(RECORD)
    main(["uses", str(record), "--pack", str(GEAR_TRAIN), "--format", "json"])
    uses = {use["use"]: use for use in json.loads(capsys.readouterr().out)["uses"]}
    assert uses["heavy"]["answer"] == "does not suit"
    assert uses["heavy"]["decided_by"].startswith("Backlash of a mesh, mesh 3: 0.50 mm; required")
    assert {use["status"] for use in uses.values()} == {1}


@pytest.mark.parametrize("form", ["text", "markdown", "html", "json"])
def test_from_one_use_to_another_tells_value_was_now_and_what_to_do(
    form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """General duty should have 0.03 to 0.05 of the module, both ways round at most 0.04: of 2 mm, 0.06 to 0.08 mm."""
    record = tmp_path / "train.yaml"
    values = RECORD.replace("1: 0.09 mm, 2: 0.165 mm, 3: 0.5 mm", "1: 0.07 mm, 2: 0.095 mm, 3: 0.095 mm")
    record.write_text(values.replace("0.02 mm", "0.002 mm"))
    asked = ["uses", str(record), "--pack", str(GEAR_TRAIN), "--from", "general", "--to", "precise"]
    assert main([*asked, "--format", form]) == 3
    told = " ".join(capsys.readouterr().out.split())
    for words in ("Backlash of a mesh", "within", "advisory", "Move the centres together: 0.015 mm"):
        assert words in told
    if form == "json":
        rules = {tuple(rule["stations"]): rule for rule in json.loads(told)["rules"] if rule["rule"] == "backlash"}
        change = rules[2, 3]
        assert (change["was"]["verdict"], change["now"]["verdict"]) == ("within", "advisory")
        assert change["values"] == pytest.approx([0.095e-3] * 2)
        assert (change["was"]["recommended"], change["now"]["recommended"]) == (
            "0.06 to 0.10 mm",
            "0.06 to 0.08 mm",
        )
        assert rules[1,]["now"]["verdict"] == "within" and rules[1,]["do"] is None


def test_one_use_and_itself_differ_in_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = tmp_path / "train.yaml"
    record.write_text(RECORD)
    main(["uses", str(record), "--pack", str(GEAR_TRAIN), "--to", "general", "--format", "json"])
    assert json.loads(capsys.readouterr().out)["rules"] == []


@pytest.mark.parametrize(("wrong", "told"), [(["--from", "general"], "--to USE"), (["--to", "precis"], "precise")])
def test_a_use_that_is_missing_or_mistyped_is_named(
    wrong: list[str], told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = tmp_path / "train.yaml"
    record.write_text(RECORD)
    assert main(["uses", str(record), "--pack", str(GEAR_TRAIN), *wrong]) == 2
    assert told in capsys.readouterr().err


def few_readings() -> Record:
    """Clearances about which facts are not stated, a sheet that was printed for one use, and a look by eye."""
    sizes = {"main_journal_diameter": ["2.449 in"] * 5, "main_bearing_bore": ["2.4514 in"] * 5}
    sheet = {"main_oil_clearance": {"at_least": "0.0018 in", "at_most": "0.0028 in", "source": "bearing sheet"}}
    return four_stroke_record(
        "street",
        sizes,
        stations={"main": 5},
        part_limits=sheet,
        decision="where-known",
        facts={"main_line": "as they were"},
    )


def trains() -> Record:
    return record_in(parse_yaml(RECORD.encode(), "train.yaml"))


@pytest.mark.parametrize(
    "record, book", [(trains, gear_rulebook), (few_readings, lambda: rulebook("four-stroke"))], ids=["train", "engine"]
)
def test_judged_together_each_use_is_told_what_it_is_told_alone(
    record: Callable[[], Record], book: Callable[[], Rulebook]
) -> None:
    given, judging = record(), book()
    together = list(judging.check_uses(given))
    assert [report.application for report in together] == list(judging.applications)
    for report in together:
        alone = judging.check(given, report.application)
        assert [str(flag) for flag in report.flags] == [str(flag) for flag in alone.flags]
        for one, other in zip(report.judged, alone.judged, strict=True):
            assert (one.rule.name, one.codes.tolist()) == (other.rule.name, other.codes.tolist())
            assert one.must_open.tolist() == other.must_open.tolist()
        assert [str(finding) for finding in report.findings] == [str(finding) for finding in alone.findings]
    assert len({tuple(report.counts.values()) for report in together}) > 1, "every use says the same"


def test_each_pack_is_read_once_for_all_uses(monkeypatch: pytest.MonkeyPatch) -> None:
    """Packs that stand on those of the record may have uses too, so that all are looked at."""
    read: Counter[str] = Counter()

    def counted(folder: Path, reading: Callable[[Path], Pack] = packs_asked.read_pack) -> Pack:
        read[folder.name] += 1
        return reading(folder)

    monkeypatch.setattr(packs_asked, "read_pack", counted)
    wanted = ("street", "drag")
    assert {use.application for use in uses_of(few_readings(), gather(), only=wanted)} == set(wanted)
    assert read["four_stroke"] == 1 and set(read.values()) == {1}, read


def test_some_uses_may_be_named() -> None:
    assert [it.application for it in gear_rulebook().check_uses(trains(), "heavy", "general")] == ["heavy", "general"]
    with pytest.raises(UsageError, match="no application 'hevy'"):
        list(gear_rulebook().check_uses(trains(), "hevy"))


def test_what_is_due_before_a_milestone_is_no_word_on_the_rest(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = tmp_path / "train.yaml"
    sizes = "shaft_diameter: {1: 50 mm}, bearing_bore: {1: 50.06 mm}, end_float: {1: 0.1 mm}"
    head = "record: 1\nassembly: Train\napplication: general\nrule_packs: {gear-train: '>=1'}\nstations: {shaft: 1}\n"
    record.write_text(f"{head}before: shafts-in\nfacts: {{bearing_kind: plain}}\nreadings: {{{sizes}}}\n")
    assert main(["uses", str(record), "--pack", str(GEAR_TRAIN)]) == 0
    text = capsys.readouterr().out
    assert re.search(r"General duty +suits so far\n +\d within; \d rules not due before shafts-in", text)
