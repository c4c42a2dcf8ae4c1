"""Every use side by side: the page and the text say the same."""

from __future__ import annotations

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
    told = dict(re.findall(r"^  (\w+) +(?:suits|does not suit|not known) +(.*)$", text, re.MULTILINE))
    assert set(told) == {"general", "precise", "heavy"}
    for use, counts in told.items():
        assert re.search(rf"\({use}\)</th>.*?<td>{re.escape(counts)}</td>", page, re.DOTALL)
        assert {"outside", "undecided", "not measured"} <= set(re.findall(r"[a-z][a-z ]+", counts))


def test_the_page_says_why_a_use_is_not_known(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = tmp_path / "train.yaml"
    record.write_text(RECORD.replace(", 3: 0.5 mm", ""))
    main(["uses", str(record), "--pack", str(GEAR_TRAIN), "--format", "html"])
    assert "or less would decide" in capsys.readouterr().out
