"""The shape of the code: imports run one way, one library has one importer, the front door is what it says."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest
from places import ROOT

import checker

PACKAGE = ROOT / "checker"
MODULES = sorted(PACKAGE.rglob("*.py"))
WHOLE = {"bench/", "cli/", "html/", "sheets/"}
ONE_IMPORTER = {
    "yaml": {"documents/yaml_events"},
    "asteval": {"tables/arithmetic"},
    "jsonschema": {"documents/schema_faults"},
    "jsonschema_rs": {"documents/schemas"},
    "referencing": {"documents/schema_faults"},
    "pint": {"units/definitions"},
    "pluggy": {"plugin_hooks"},
    "packaging": {"packs/versions"},
    "openpyxl": {"sheets/"},
    "defusedxml": {"sheets/"},
    "shtab": {"cli/"},
    "weasyprint": {"reports/pdf"},
    "distributed": {"fleet/cluster"},
    "scipy": {"fleet/capability"},
}


def layers() -> list[str]:
    """Every module, lowest first."""
    lines = (ROOT / "tests" / "layers.txt").read_text().splitlines()
    return [line for line in lines if line and not line.startswith("#")]


def name_of(path: Path) -> str:
    """A module as the layers name it: with its package, but some packages as one layer."""
    name = path.relative_to(PACKAGE).with_suffix("").as_posix()
    package = f"{name.split('/')[0]}/"
    return package if package in WHOLE else name


def imports_of(path: Path) -> set[str]:
    """Dotted names of everything a module imports, wherever in it."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            within = ROOT.joinpath(*node.module.split("."))
            modules = {f"{node.module}.{alias.name}" for alias in node.names if (within / f"{alias.name}.py").is_file()}
            found |= modules or {node.module}
    return found


def test_imports_go_down_the_layers_only() -> None:
    places = {name: place for place, name in enumerate(layers())}
    upwards = []
    for path in MODULES:
        own = name_of(path)
        if path.stem in ("__init__", "__main__") and own not in WHOLE:
            continue
        assert own in places, f"{own} is missing from tests/layers.txt"
        for imported in imports_of(path):
            if imported.startswith("checker."):
                other = name_of(ROOT.joinpath(*imported.split(".")))
                if other != own and places[other] >= places[own]:
                    upwards.append(f"{own} imports {other}")
    assert upwards == []


def test_every_layer_exists_once() -> None:
    files = {name_of(path) for path in MODULES if path.stem not in ("__init__", "__main__")}
    assert sorted(layers()) == sorted(files)


def test_the_glossary_names_modules_that_exist() -> None:
    glossary = (ROOT / "DEVELOPERS.md").read_text().partition("## Glossary")[2].partition("\n## ")[0]
    owners = re.findall(r"`([a-z]+/[a-z_]+)`", glossary)
    assert len(owners) >= 20
    assert [owner for owner in owners if not (PACKAGE / f"{owner}.py").is_file()] == []


def test_the_modules_of_a_package_stand_together() -> None:
    """So that packages, too, import each other one way only."""
    packages = [name.split("/")[0] for name in layers() if "/" in name]
    changes = [package for package, after in zip(packages, [*packages[1:], ""], strict=True) if package != after]
    assert len(changes) == len(set(packages))


def test_one_library_has_one_importer() -> None:
    for path in MODULES:
        for imported in imports_of(path):
            library = imported.split(".")[0]
            if library in ONE_IMPORTER:
                assert name_of(path) in ONE_IMPORTER[library], f"{path.name} imports {library}"


def test_every_module_imports_without_warnings() -> None:
    """Imports run one way (above), so that each also imports alone."""
    names = [".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__") for path in MODULES]
    program = "import importlib, sys\nfor name in sys.argv[1:]: importlib.import_module(name)\n"
    wanted = [name for name in names if name != "checker.__main__"]
    done = subprocess.run([sys.executable, "-W", "error", "-c", program, *wanted], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_the_front_door_is_complete_and_typed() -> None:
    assert sorted(checker.__all__) == sorted(checker._HOME_OF)
    for name in checker.__all__:
        words = getattr(checker, name).__doc__ or ""
        assert words and not words.startswith(f"{name}("), name  # as a tuple or dataclass describes itself
    assert (PACKAGE / "py.typed").is_file()
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = checker.nothing


def test_help_and_version_answer_before_anything_heavy_is_imported() -> None:
    program = "import sys; from checker.cli.arguments import parse\ntry: parse(['--help'])\nexcept SystemExit: pass\n"
    program += "print([m for m in ('numpy', 'pint', 'jsonschema', 'yaml', 'shtab') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.rstrip().endswith("[]")


def test_nothing_dangerous_is_called() -> None:
    """Packs and records are data; nothing in them may ever be run."""
    forbidden = re.compile(r"(?<![\w.])(eval|exec|compile|__import__)\(|pickle|shell=True|yaml\.load\(|os\.system")
    for path in MODULES:
        for number, line in enumerate(path.read_text().splitlines(), 1):
            code = line.split("#")[0]
            assert not forbidden.search(code), f"{path.name}:{number}: {line.strip()}"
