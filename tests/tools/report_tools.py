"""A mill to report on: one record with every verdict in it, and words in it that can be made hostile."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

from pack_tools import plugins_with, write_pack

from checker.documents.document import parse_yaml
from checker.records.record import record_in
from checker.reports.report import Report
from checker.rulebook import load_rulebook

HOSTILE = (
    "=1+1|<script>alert(1)</script>\"'><img src=x onerror=alert(1)> onload='alert(1)' javascript:alert(1) ]]> --> "
    "[x](javascript:alert(1)) ![y](https://mill.example/z) <https://mill.example> www.mill.example "
    "`|` **b** __c__ # d &lt; &amp; \\"
)

HEAD = """
pack: mill
version: 1.0.0
rule_language: 1
title: «Corn mill»
applications: {grind: {title: «Grinding»}, sift: {title: «Sifting»}}
milestones: [stones-dressed, mill-closed]
inspection_levels: {plain: {title: «Plain»}, thorough: {title: «Thorough»}}
control_plan: {leaves_out: {rope: «The rope is new every year.»}}
stations: {stone: {title: «Stone»}, spindle: {title: «Spindle»}}
cautions: [«Stand clear of the stones.»]
"""
RULES = """
system: «Stones»
characteristics:
  stone_gap: {title: «Gap of the stone», per: stone, unit: mm, plausible: [-1 mm, 10 mm], with: «feeler gauge»}
  mark_angle: {title: «Where the mark points», per: stone, unit: deg, plausible: [-360 deg, 360 deg]}
  gate_opens: {title: «Gate opens», unit: deg, plausible: [0 deg, 360 deg]}
  gate_closes: {title: «Gate closes», unit: deg, plausible: [0 deg, 360 deg]}
  lid: {title: «Lid», choices: [wood, glass]}
  chute: {title: «Chute, free width», unit: mm, plausible: [0 mm, 500 mm]}
  rope: {title: «Rope, thinnest place», unit: mm, plausible: [0 mm, 100 mm]}
  hopper: {title: «Hopper, free width», unit: mm, plausible: [0 mm, 500 mm]}
  spindle_heat: {title: «Heat of the spindle», per: spindle, unit: degC, plausible: [-50 degC, 500 degC]}
pictures:
  marks: {title: «Marks from above», kind: clock, of: {«mark»: mark_angle}, marks: {«front»: 0 deg}}
  gate: {title: «Gate», kind: cycle, of: {«open»: [gate_opens, gate_closes]}, marks: {«top»: 0 deg}}
rules:
  stone-gap:
    title: «Gap of the stones»
    before: stones-dressed
    judges: stone_gap
    limits:
      grind: {must: {at_least: 0.10 mm, at_most: 0.55 mm}, should: {at_most: 0.40 mm}}
      sift: {must: {at_most: 1 mm}}
    basis: {kind: common practice, read: «the miller», note: «As the miller has it.»}
    remedy: {low: «Open it.», high: «Close it.»}
    caution: «Stones are heavy.»
    picture: row
  stones-alike:
    title: «Stones alike»
    before: stones-dressed
    judges: spread(stone_gap)
    unit: mm
    limits: {grind: {should: {at_most: 1 mm}}}
    basis: {kind: common practice, note: «So.»}
    remedy: {high: «Dress them.»}
    picture: row
  marks-apart:
    title: «Mark away from the front»
    before: stones-dressed
    judges: between_angles(mark_angle, 0 deg)
    unit: deg
    limits: {grind: {should: {at_least: 30 deg}}}
    basis: {kind: common practice, note: «So.»}
    remedy: {low: «Turn it by more.»}
    picture: marks
  gate-open:
    title: «Gate open»
    before: stones-dressed
    judges: gate_closes - gate_opens
    unit: deg
    limits: {grind: {must: {at_least: 90 deg}}}
    basis: {kind: common practice, note: «So.»}
    remedy: {low: «Open it longer.»}
    picture: gate
"""


def _closing(name: str, title: str, judges: str, limits: str, remedy: str, *more: str) -> str:
    """A rule that counts when the mill is closed."""
    lines = (f"title: «{title}»", "before: mill-closed", *more, f"judges: {judges}", f"limits: {limits}")
    basis = "basis: {kind: common practice, note: «So.»}"
    return f"  {name}:\n" + "".join(f"    {line}\n" for line in (*lines, basis, f"remedy: {remedy}"))


RULES += "".join(
    _closing(*rule)
    for rule in (
        ("lid-of-wood", "Lid", "lid", "{grind: {must: {one_of: [wood]}}}", "{broken: «Take a wooden one.»}"),
        (
            "lid-of-glass",
            "Glass",
            "stone_gap",
            "{grind: {must: {at_least: 0.2 mm}}}",
            "{low: «Open it.»}",
            "when: lid is glass",
        ),
        (
            "spindle-heat",
            "Heat of the spindle",
            "spindle_heat",
            "{grind: {must: {at_most: 60 degC}}}",
            "{high: «Let it cool.»}",
        ),
        (
            "chute-free",
            "Chute",
            "chute",
            "{grind: {must: {at_least: 50 mm}}}",
            "{low: «Clear it.»}",
            "inspection: {by_eye: «Nothing lies in it.»}",
        ),
        ("rope", "Rope", "rope", "{grind: {must: {at_least: 20 mm}}}", "{low: «Take another.»}"),
        (
            "hopper",
            "Hopper",
            "hopper",
            "{grind: {must: {at_least: 50 mm}}}",
            "{low: «Clear it.»}",
            "inspection: {level: thorough}",
        ),
        ("sifting", "Sieve", "stone_gap", "{sift: {must: {at_most: 1 mm}}}", "{high: «Take another.»}"),
    )
)
FULL = """
  stone_gap: {with: feeler, taken: 2026-05-02, values: {1: 0.30 mm, 2: 0.45 mm, 3: 0.60 mm, 4: 0.56 mm, 6: 0.70 mm}}
  mark_angle: {1: 45 deg, 2: 10 deg, 3: 200 deg}
  gate_opens: 20 deg
  gate_closes: 200 deg
  spindle_heat: {1: 40 degC, 2: 75 degC, 3: 900 degC}
"""
SOUND = """
  stone_gap: {all: 0.30 mm}
  mark_angle: {all: 45 deg}
  gate_opens: 20 deg
  gate_closes: 200 deg
  spindle_heat: {all: 40 degC}
"""
"""All musts hold."""


def words(text: str, say: Callable[[str], str]) -> str:
    """The text with every phrase in these «marks» said in another way; a key keeps to the 40 signs it may have."""

    def said(match: re.Match[str]) -> str:
        return json.dumps(say(match[1])[:40] if match[2] else say(match[1])) + match[2]

    return re.sub(r"«([^»]*)»(:?)", said, text)


def plainly(phrase: str) -> str:
    """The phrase itself."""
    return phrase


def hostile(phrase: str) -> str:
    """The phrase with everything behind it that ever broke out of a page, a table or a terminal."""
    return f"{HOSTILE} {phrase}"


def mill_report(folder: Path, readings: str = FULL, say: Callable[[str], str] = plainly, use: str = "grind") -> Report:
    """The mill judged; for grinding and with `FULL` every verdict occurs, and a concession."""
    pack = write_pack(folder / "mill", pack=words(HEAD, say), mill=words(RULES, say))
    text = (
        f"record: 1\nassembly: «Test mill»\napplication: {use}\nrule_packs: {{mill: '>=1'}}\n"
        "stations: {stone: {count: 6, rows: [[1, 3, 5], [2, 4, 6]]}, spindle: 3}\n"
        "instruments: {feeler: {title: «Feeler gauge», expanded_uncertainty: 0.03 mm}}\n"
        "facts: {lid: wood}\n"
        "concessions:\n"
        "  - {rule: stone-gap, station: 6, by: «The miller», dated: 2026-05-03, because: «It is the spare.»}\n"
        "seen: [{rule: chute-free, station: all, by: «The miller», dated: 2026-05-03, clear: true}]\n"
        f"readings:{readings}"
    )
    record = record_in(parse_yaml(words(text, say).encode(), "mill.yaml"))
    return load_rulebook(pack, plugins=plugins_with(mill=pack)).check(record)


class Structure(HTMLParser):
    """Everything about a page but its texts: elements with the names of their attributes, and all attributes."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, ...]] = []
        self.attributes: list[tuple[str, str]] = []
        self.texts: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, *(name for name, _ in attrs)))
        self.attributes.extend((name, value or "") for name, value in attrs)

    def handle_data(self, data: str) -> None:
        self.texts.append(data)
