"""The plugins of this project stand on what anybody's plugin may: the names of checker/__init__.py and nothing else."""

from __future__ import annotations

import ast
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

import checker

PLUGINS = Path(__file__).parents[2] / "plugins"
FOLDERS = sorted(path.parent for path in PLUGINS.glob("*/pyproject.toml"))
COMMAND = "checker.cli.main"
"""What a test may run, as a user does."""


def taken(path: Path) -> Iterator[str]:
    """Every name of the checker that a module imports, wherever in it."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name.split(".")[0] == "checker")
        elif isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "checker":
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_a_plugin_imports_public_names_only(folder: Path) -> None:
    public = {"checker", *(f"checker.{name}" for name in checker.__all__)}
    modules = [*(folder / "src").rglob("*.py"), *(folder / "tests").rglob("*.py")]
    assert len(modules) > 1
    imported = {(path, name) for path in modules for name in taken(path)}
    foreign = {(str(path.relative_to(folder)), name) for path, name in imported if name not in public}
    assert {(path, name) for path, name in foreign if not (path.startswith("tests") and name == COMMAND)} == set()


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_a_plugin_is_a_distribution_of_its_own(folder: Path) -> None:
    names = {path.name for path in folder.iterdir()}
    assert {"README.md", "LICENSE", "pyproject.toml", "src", "tests"} <= names
    project = (folder / "pyproject.toml").read_text(encoding="utf-8")
    assert "assembly-checker>=0.1,<0.2" in project, "it states the versions of the checker it was tried with"
    assert 'license-files = ["LICENSE"]' in project


def test_asking_for_help_imports_no_arrays_of_a_plugin() -> None:
    """Each module as its entry point names it, with the hooks that help asks for, all in one other process."""
    points = [tomllib.loads((folder / "pyproject.toml").read_text())["project"]["entry-points"] for folder in FOLDERS]
    modules = [module for point in points for module in point["checker"].values()]
    program = f"""
import sys
from importlib import import_module
sys.path[:0] = {[str(folder / "src") for folder in FOLDERS]!r}
for name in {modules!r}:
    module = import_module(name)
    getattr(module, "commands", dict)()
print([heavy for heavy in ("numpy", "scipy", "pint", "yaml") if heavy in sys.modules])
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
    assert len(modules) == len(FOLDERS)
