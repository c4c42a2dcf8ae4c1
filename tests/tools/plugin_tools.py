"""Plugins for tests: distributions made on the spot, installed as far as Python is concerned."""

from __future__ import annotations

import importlib
from itertools import count
from pathlib import Path
from textwrap import dedent

import pytest
from pack_tools import GEAR_TRAIN

_numbers = count(1)
_IMPORTS = """
import numpy as np
from pathlib import Path
from checker import Function, hook, dimension_of
"""


def plug_in(
    folder: Path,
    patch: pytest.MonkeyPatch,
    code: str,
    name: str = "weaver",
    version: str = "1.0",
    needs: str = "",
    imports: str = _IMPORTS,
    **modules: str,
) -> None:
    """Install a plugin of this code for the rest of a test: a module, or a package with more modules in it."""
    module = f"plugged_in_{next(_numbers)}"
    home = folder / module
    proof = home / f"{module}-{version}.dist-info"
    proof.mkdir(parents=True)
    package = home / module
    package.mkdir()
    (package / "__init__.py").write_text(imports + dedent(code))
    for inner, text in modules.items():
        (package / f"{inner}.py").write_text(_IMPORTS + dedent(text))
    required = f"Requires-Dist: {needs}\n" if needs else ""
    (proof / "METADATA").write_text(f"Metadata-Version: 2.1\nName: weaver-tools\nVersion: {version}\n{required}")
    (proof / "entry_points.txt").write_text(f"[checker]\n{name} = {module}\n")
    patch.syspath_prepend(str(home))
    importlib.invalidate_caches()


def plug_in_gear_train(folder: Path, patch: pytest.MonkeyPatch) -> None:
    """Have the gear train found by its name, as packs that build on it need."""
    code = f'@hook\ndef rule_packs():\n    return {{"gear-train": Path({str(GEAR_TRAIN)!r})}}\n'
    plug_in(folder / "plugins", patch, code, name="gears")
