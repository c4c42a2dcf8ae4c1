"""The pack writer's guide, followed to the letter: every file in it is written, every command run.

A block of YAML or CSV names its file (a second block of one name goes on where the first ended); what stands in a
block of text must come out of the commands before it, line by line, in order.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from places import ROOT

from checker.cli import main
from checker.expressions.functions import FUNCTIONS

GUIDE = (ROOT / "rules" / "README.md").read_text()
BLOCK = re.compile(r"^```(\w+)(?: (\S+))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def blocks() -> Iterator[tuple[str, str, str]]:
    """Kind, file name and content of every block in the guide."""
    for match in BLOCK.finditer(GUIDE):
        yield match[1], match[2] or "", match[3]


def assert_told(expected: str, output: str) -> None:
    lines = iter(output.splitlines())
    for wanted in expected.splitlines():
        assert any(wanted.strip() in line for line in lines), f"{wanted!r} does not follow in:\n{output}"


def test_the_guide_works_as_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    output, written = "", set[str]()
    for kind, name, content in blocks():
        if kind in ("yaml", "csv"):
            path = Path(name)
            path.parent.mkdir(parents=True, exist_ok=True)
            before = path.read_text() if name in written else ""
            path.write_text(f"{before}\n{content}" if before else content)
            written.add(name)
        elif kind == "sh":
            for line in content.splitlines():
                program, *arguments = shlex.split(line)
                assert program == "checker"
                main(arguments)
            told = capsys.readouterr()
            output = told.out + told.err
            assert "Traceback" not in output
        else:
            assert kind == "text"
            assert_told(content, output)


def test_every_example_is_run() -> None:
    for kind, name, _ in blocks():
        assert kind in ("yaml", "csv", "sh", "text")
        assert bool(name) == (kind in ("yaml", "csv"))


def test_the_guide_names_every_function_and_no_other() -> None:
    table = GUIDE.split("| what for | functions |")[1].split("\n\n")[0]
    assert set(re.findall(r"`([a-z_0-9]+)`", table)) == set(FUNCTIONS)


def test_the_guide_names_every_kind_of_basis() -> None:
    schema = (ROOT / "schema" / "pack.schema.json").read_text()
    kinds = re.search(r'"enum": \[\s+("standard".*?)\]', schema, re.DOTALL)
    assert kinds
    for kind in re.findall(r'"([^"]+)"', kinds[1]):
        assert f"`{kind}`" in GUIDE
