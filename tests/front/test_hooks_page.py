"""The page on hooks: it has every hook, and what it shows is run, each section with the plugin that stands in it.

A block that names a file is written; what stands in a block of text must come out of the section's commands, line by
line, in order.
"""

from __future__ import annotations

import importlib
import re
import shlex
import sys
import tomllib
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from places import ROOT

import checker
from checker.cli import main
from checker.plugin_hooks import Hooks
from checker.plugin_parts import UNFIT
from checker.plugins import survey

PAGE = (ROOT / "plugins" / "README.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"^```(\w+)(?: ([^\n]+))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)
HOOKS = [name for name in vars(Hooks) if not name.startswith("_")]
MODULE = "our_shop.py"


class Block(NamedTuple):
    """One block of the page."""

    kind: str
    file: str
    content: str


def section(title: str) -> str:
    return PAGE.partition(f"\n## {title}\n")[2].partition("\n## ")[0]


def blocks(text: str) -> list[Block]:
    return [Block(match[1], match[2] or "", match[3]) for match in BLOCK.finditer(text)]


(PROJECT,) = (tomllib.loads(block.content) for block in blocks(PAGE) if block.file == "pyproject.toml")


@pytest.fixture
def plugged_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Installs the module of a section as its project file says, as far as Python is concerned."""

    def install(code: str) -> Path:
        home, stated = tmp_path / "installed", PROJECT["project"]
        proof = home / f"our_shop_tools-{stated['version']}.dist-info"
        proof.mkdir(parents=True)
        needs = "".join(f"Requires-Dist: {needed}\n" for needed in stated["dependencies"])
        lines = f"Metadata-Version: 2.1\nName: {stated['name']}\nVersion: {stated['version']}\n{needs}"
        (proof / "METADATA").write_text(lines)
        (point,) = stated["entry-points"]["checker"].items()
        (proof / "entry_points.txt").write_text(f"[checker]\n{point[0]} = {point[1]}\n")
        (home / MODULE).write_text(code)
        monkeypatch.syspath_prepend(str(home))
        monkeypatch.delitem(sys.modules, "our_shop", raising=False)
        importlib.invalidate_caches()
        bench = tmp_path / "bench"
        bench.mkdir()
        monkeypatch.chdir(bench)
        return bench

    yield install
    sys.modules.pop("our_shop", None)


def test_every_hook_has_a_section_and_no_other() -> None:
    assert set(HOOKS) == set(UNFIT)
    listed = re.findall(r"^\| \[`(\w+)`\]\(#\1\) \|", PAGE, re.MULTILINE)
    assert listed == HOOKS
    titles = re.findall(r"^## (\w+)$", PAGE, re.MULTILINE)
    assert [title for title in titles if title in HOOKS or "_" in title] == HOOKS


@pytest.mark.parametrize("hook", HOOKS)
def test_a_section_says_what_for_when_and_what_is_returned(hook: str) -> None:
    words = section(hook).partition("```")[0]
    assert words.strip().startswith("Adds ")
    assert "Called " in words
    assert "**Returns**" in words
    kinds = [block.kind for block in blocks(section(hook))]
    assert kinds.count("python") == 1
    assert {"sh", "text"} <= set(kinds)


@pytest.mark.parametrize("hook", HOOKS)
def test_an_example_does_as_shown(
    hook: str, plugged_in: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = blocks(section(hook))
    (code,) = (block.content for block in given if block.file == MODULE)
    bench = plugged_in(code)
    looms = [block for block in blocks(section("rule_packs")) if block.file == "looms/pack.yaml"]
    for block in [*looms, *given]:
        if block.file and block.file != MODULE:
            # What belongs to the module is installed with it, what is the bench's lies on the bench.
            home = tmp_path / "installed" if hook == "rule_packs" else bench
            path = home / block.file
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(block.content)
    for block in given:
        for line in block.content.splitlines() if block.kind == "sh" else ():
            program, *arguments = shlex.split(line)
            assert program == "checker"
            try:
                main(arguments)
            except SystemExit as stop:
                assert stop.code == 0
    told = capsys.readouterr()
    assert told.err == ""
    lines = iter(told.out.splitlines())
    for block in given:
        for wanted in block.content.splitlines() if block.kind == "text" else ():
            assert any(" ".join(wanted.split()) in " ".join(line.split()) for line in lines), (
                f"{wanted!r} in {told.out}"
            )
    ours = next(plugin for plugin in survey().each if plugin.name == "our-shop")
    assert tuple(ours.adds) == (hook,)
    assert ours.problems == ()


@pytest.mark.parametrize("hook", HOOKS)
def test_an_example_imports_public_names_only(hook: str) -> None:
    (code,) = (block.content for block in blocks(section(hook)) if block.file == MODULE)
    for names in re.findall(r"from checker import (.+)", code):
        assert set(names.split(", ")) <= set(checker.__all__)
    assert not re.search(r"from checker\.|import checker", code)


@pytest.mark.parametrize("version", ["0.0.9", "0.2", "1.0"])
def test_the_range_of_versions_is_held(version: str, plugged_in: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    plugged_in("raise SystemExit('it must not be imported')")
    monkeypatch.setattr("checker.plugins.own_version", lambda: version)
    (ours,) = (plugin for plugin in survey().each if plugin.name == "our-shop")
    assert [problem.message for problem in ours.problems] == [
        f"plugin our-shop 1.2.0: it is made for assembly-checker >=0.1,<0.2, and this is {version}"
    ]


def test_the_plugins_here_are_listed() -> None:
    table = section("The plugins here")
    folders = {path.parent.name for path in (ROOT / "plugins").glob("*/pyproject.toml")}
    assert set(re.findall(r"`([\w-]+)/`", table)) == folders
