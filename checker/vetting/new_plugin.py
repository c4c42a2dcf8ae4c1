"""A first plugin to start from: a distribution with one function, a rule pack that calls it, and tests of both."""

from __future__ import annotations

from collections.abc import Mapping
from string import Template

from checker.vetting.first_pack import require_name

_PROJECT = """\
[build-system]
requires = ["setuptools>=77.0.3"]
build-backend = "setuptools.build_meta"

[project]
name = "assembly-checker-$name"
version = "0.1.0"
description = "Say here what it adds to assembly-checker"
requires-python = ">=3.11"
# The versions of the checker that it was tried with; others refuse it by name.
dependencies = ["assembly-checker>=0.1,<0.2", "numpy"]

# This line makes it a plugin: the checker finds every module that is named in this group.
[project.entry-points.checker]
$name = "$module"

[tool.setuptools]
packages = ["$module"]
package-dir = { "" = "src" }

[tool.setuptools.package-data]
$module = ["py.typed", "pack/*.yaml", "pack/cases/*.yaml"]

[tool.pytest.ini_options]
testpaths = ["tests"]
pythonpath = ["src"]
"""

_MODULE = '''\
"""Say here what the plugin adds. Each hook returns a mapping of name to thing; leave out those you do not need."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from checker import hook

if TYPE_CHECKING:
    from checker import Function


@hook
def rule_packs() -> Mapping[str, Path]:
    """Folders of rule packs, by the name of the pack."""
    return {"$name": Path(__file__).parent / "pack"}


@hook
def functions() -> Mapping[str, Function]:
    """Functions that rules can call."""
    # Imported only here, so that whoever asks for help does not wait for it.
    from $module.functions import FUNCTIONS

    return FUNCTIONS
'''

_FUNCTIONS = '''\
"""What rules can call besides the built-in functions, each with its dimensions and where its result lies."""

from __future__ import annotations

import math

import numpy as np
from checker import Function, Interval, RangeError, dimension_of

LENGTH, ANGLE = dimension_of("m"), dimension_of("rad")


def cone_angle(large: np.ndarray, small: np.ndarray, length: np.ndarray) -> np.ndarray:
    """The whole angle of a cone between two diameters. Arrays in SI; what is missing is NaN, and stays so."""
    return 2 * np.arctan((large - small) / (2 * length))


def _range(large: Interval, small: Interval, length: Interval) -> Interval:
    """Where the result lies, so that packs are checked before any record is read."""
    if length.low <= 0.0:
        raise RangeError("the length must be greater than zero")
    return Interval(-math.pi, math.pi)


FUNCTIONS = {"cone_angle": Function("cone_angle", (LENGTH, LENGTH, LENGTH), ANGLE, call=cone_angle, bounds=_range)}
'''

_HEAD = """\
pack: $name
version: 0.1.0
rule_language: 1
title: Say here what the pack is about
applications:
  usual: {title: Usual duty}
milestones: {hub-on: before the hub goes on}
"""

_RULES = """\
system: Cone

characteristics:
  cone_large_end: {title: Large end of the cone, unit: mm, plausible: [5 mm, 200 mm], with: micrometer}
  cone_small_end: {title: Small end of the cone, unit: mm, plausible: [5 mm, 200 mm], with: micrometer}
  cone_length: {title: Length between the two, unit: mm, plausible: [5 mm, 300 mm]}

rules:
  cone-angle:
    title: Angle of the cone
    before: hub-on
    judges: cone_angle(cone_large_end, cone_small_end, cone_length)
    unit: deg
    limits: {any: {must: {at_least: 5.5 deg, at_most: 5.9 deg}}}
    basis: {kind: shop policy, note: Say here who decided it and when.}
    remedy: {low: "Grind it anew: {limit - value} wanting.", high: "Grind it anew: {value - limit} too much."}
"""

_CASES = """\
cases:
  cone-angle:
    - {application: usual, given: {cone_large_end: 40 mm, cone_length: 50 mm}, vary: cone_small_end,
       within: [34.9 mm, 35.1 mm], outside: [34.7 mm, 35.3 mm]}
"""

_TESTS = '''\
"""The function against a figure worked by hand, and the pack against its own cases."""

from __future__ import annotations

import numpy as np
import pytest
from checker import gather
from checker.cli import main

from $module.functions import FUNCTIONS


def test_cone_angle() -> None:
    """From 40 mm to 35 mm on 50 mm: half the angle has a tangent of 0.05, which is 2.862 degrees."""
    sizes = (np.array([[size]]) for size in (0.040, 0.035, 0.050))
    found = FUNCTIONS["cone_angle"].call(*sizes)
    assert np.rad2deg(found) == pytest.approx(5.725, abs=0.001)


def test_the_checker_finds_the_plugin() -> None:
    assert "$name" in gather().rule_packs, "install it first: python -m pip install -e ."


def test_the_pack_is_sound() -> None:
    assert main(["test-pack", "$name"]) == 0
'''

_README = """\
# assembly-checker-$name

Say here what the plugin adds, for whom, and where its figures come from.

    python -m pip install -e .
    checker plugins
    python -m pytest
"""


def new_plugin(name: str) -> Mapping[str, str]:
    """The files of a new plugin by name; raises UsageError for a name that its pack cannot have."""
    require_name(name)
    module = f"checker_{name.replace('-', '_')}"
    source = f"src/{module}"
    texts = {
        "pyproject.toml": _PROJECT,
        "README.md": _README,
        f"{source}/__init__.py": _MODULE,
        f"{source}/functions.py": _FUNCTIONS,
        f"{source}/py.typed": "",
        f"{source}/pack/pack.yaml": _HEAD,
        f"{source}/pack/cone.yaml": _RULES,
        f"{source}/pack/cases/cone.yaml": _CASES,
        "tests/test_plugin.py": _TESTS,
    }
    return {file: Template(text).substitute(name=name, module=module) for file, text in texts.items()}
