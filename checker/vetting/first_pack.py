"""A first rule pack that builds on no other: a use, a kind of station, what is measured there, one rule, its cases."""

from __future__ import annotations

import re
from collections.abc import Mapping

from checker.errors import Problem, UsageError

_NAME = re.compile(r"[a-z][a-z0-9-]{0,63}")

_HEAD = """\
# yaml-language-server: $schema=pack.schema.json
# What the pack is called, what assemblies are judged for, and the steps of a build, first to last.
pack: {name}
version: 0.1.0
rule_language: 1
title: What our shop asks for
applications:
  usual: {{title: Usual duty}}
  heavy: {{title: "Heavy duty, where a closer limit counts", like: usual}}
milestones: {{cover-on: before the cover goes on, handed-over: before it is handed over}}
"""

_RULES = """\
# yaml-language-server: $schema=pack.schema.json
system: Cover

stations:
  cover-bolt: {title: Cover bolt}

# What can be measured. Plausible is what is possible at all: anything beyond it is taken for a slip.
characteristics:
  cover_flatness: {title: Flatness of the cover, unit: mm, plausible: [0 mm, 2 mm], with: straightedge and feeler}
  cover_bolt_torque: {title: Cover bolt torque, per: cover-bolt, unit: N m, plausible: [1 N m, 100 N m]}

# What is judged, and by which limits: a broken must stops the build, a missed should is advice.
rules:
  cover-flatness:
    title: Flatness of the cover
    before: cover-on
    judges: cover_flatness
    limits:
      any: {must: {at_most: 0.10 mm}, should: {at_most: 0.05 mm}}
      heavy: {should: {at_most: 0.03 mm}}
    basis: {kind: shop policy, note: Say here who decided it and when.}
    remedy: {high: {irreversible: "Lap the cover and measure again; it is {value - limit} too much."}}

  cover-bolt-torque:
    title: Cover bolts tightened
    before: handed-over
    judges: cover_bolt_torque
    limits:
      any: {must: {at_least: 18 N m, at_most: 24 N m}}
    basis: {kind: shop policy, note: Say here who decided it and when.}
    remedy: {low: "Tighten by {limit - value}.", high: "Slacken all and begin again: {value - limit} too much."}
    caution: The maker's figure counts where there is one.
"""

_CASES = """\
# yaml-language-server: $schema=../pack.schema.json
# Cases say what a rule must answer. For each limit give a value just inside it and one just outside.
cases:
  cover-flatness:
    - {application: usual, given: {}, vary: cover_flatness, within: [0.049 mm], advisory: [0.051 mm, 0.099 mm],
       outside: [0.101 mm]}
    - {application: heavy, given: {}, vary: cover_flatness, within: [0.029 mm], advisory: [0.031 mm]}
  cover-bolt-torque:
    - {application: usual, given: {}, vary: cover_bolt_torque, within: [18.1 N m, 23.9 N m],
       outside: [17.9 N m, 24.1 N m]}
"""


def first_pack(name: str) -> Mapping[str, str]:
    """The files of a new pack that stands alone; raises UsageError for a name that packs cannot have."""
    require_name(name)
    return {"pack.yaml": _HEAD.format(name=name), "cover.yaml": _RULES, "cases/cover.yaml": _CASES}


def require_name(name: str) -> None:
    """Raises UsageError for a name that packs cannot have."""
    if not _NAME.fullmatch(name):
        hint = "small letters, digits and hyphens, such as shop-policy"
        raise UsageError(Problem(f"a pack cannot be called {name!r}", hint=hint))
