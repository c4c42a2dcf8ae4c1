"""Every use side by side: the page and the text say the same."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from pack_tools import GEAR_TRAIN

from checker.cli import main

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
