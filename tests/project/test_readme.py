"""The README's record is one, both parts of it; and the report it shows is the example's."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from places import DEMO_RECORD, ROOT

from checker.documents.document import parse_yaml
from checker.records.record import record_in
from checker.rulebook import rulebook_for

README = (ROOT / "README.md").read_text()
LINE_OF_A_PACK = re.compile(r"\.yaml:\d+")


def test_the_record_in_the_readme_is_judged() -> None:
    blocks = re.findall(r"```yaml\n(.*?)```", README, re.DOTALL)
    (record,) = (block for block in blocks if block.startswith("record: 1"))
    (more,) = (block for block in blocks if block.startswith("taken:"))
    plain = re.sub(r"instruments:\n(  .*\n)+", "", record)
    whole = record_in(parse_yaml(f"{plain}{more}".encode(), "README.yaml"))
    report = rulebook_for(whole).check(whole, on=date(2026, 6, 1))
    assert [standing for _, standing in report.concessions] == [
        "open: nothing is missed so far, but the rule is not judged"
    ]
    assert any("brought to 20 degC" in note.message for note in report.notes)
    assert report.context.sheets.by_name["top_ring_gap"].dated == date(2026, 1, 10)
    assert all(not reading.set_aside for reading in report.readings)


def test_the_report_in_the_readme_is_how_the_example_begins() -> None:
    """As tests/golden/demo.txt has it; lines of packs move with every edit of a pack."""
    _, shown = README.split("```\nTraining engine 7", 1)
    begun, _ = f"Training engine 7{shown}".split("...\n```", 1)
    golden = (ROOT / "tests" / "golden" / "demo.txt").read_text()
    assert LINE_OF_A_PACK.sub(".yaml:0", golden).startswith(LINE_OF_A_PACK.sub(".yaml:0", begun))


def test_the_examples_for_programs_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One after another, as a notebook runs them, beside the record that comes with the checker."""
    pytest.importorskip("polars", reason="polars is not installed")
    pytest.importorskip("pyarrow", reason="the extra `tables` is not installed")
    (tmp_path / "engine.yaml").write_text(DEMO_RECORD.read_text())
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    for block in re.findall(r"```python\n(.*?)```", README, re.DOTALL):
        exec(compile(block, "README.md", "exec"), names)  # noqa: S102 - our own page
    assert names["found"].counts["assembly"].to_pylist() == ["A", "B"]
    assert [line["assembly"] for line in names["found"].findings.to_pylist() if line["verdict"] == "outside"] == ["B"]
