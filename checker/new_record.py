"""A first record to fill in: what is known already, and beside it, as comments, what will be asked for."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from checker.documents.write import scalar
from checker.packs.characteristic import Characteristic
from checker.packs.pack import foundations
from checker.packs.versions import compatible_range
from checker.records.record import Record
from checker.rulebook import Rulebook
from checker.sheets.blank import blank_record
from checker.sheets.plan import Line, plan

SYSTEMS = ("in", "mm")
"""The two ways of a workshop: all in inches and pounds, or all metric."""

_METRIC = {
    "length": "mm",
    "torque": "N m",
    "force": "N",
    "pressure": "kPa",
    "temperature": "degC",
    "mass": "g",
    "volume": "cc",
    "power": "kW",
}
_WIDTH = 110
_COLUMN = 34
_MOST_FACTS = 14
_MOST_READINGS = 6
_LEAST_RULES = 3

_HEAD = """\
# A record to fill in. Take the # away from a line to use it; what is not written counts as not measured.
# A number alone has the unit of `units`; a written unit always wins. Judge it with: checker check {name}
"""
_INSTRUMENTS = """\
instruments:                # with these, a reading too near its limit is told from one that is within
  # bore-gauge: {{expanded_uncertainty: {fine}}}       # k = 2
  # micrometer: {{expanded_uncertainty: {fine}}}
"""


def new_record(
    rulebook: Rulebook, application: str, assembly: str, system: str, stations: Mapping[str, int], file_name: str
) -> str:
    """The text of a record in YAML for a use, with so many stations of each kind; it can be judged as it stands.

    `system` is one of SYSTEMS. Raises UsageError for a use or stations that the rule packs do not know.
    """
    rulebook.chain(application)
    units = _METRIC if system == "mm" else {}
    blank = blank_record(rulebook, application, None, stations, {}, units)
    fine = "0.005 mm" if system == "mm" else "0.2 thou"
    parts = (
        [_HEAD.format(name=file_name)],
        _head(rulebook, blank, assembly),
        _stations(rulebook, stations),
        [_INSTRUMENTS.format(fine=fine)],
        _facts(rulebook, application),
        _readings(rulebook, blank, file_name),
    )
    return "\n".join(line.rstrip("\n") for part in parts for line in part) + "\n"


def _head(rulebook: Rulebook, blank: Record, assembly: str) -> Iterator[str]:
    names = {pack.name: pack for pack in rulebook.packs}
    below = {base for pack in rulebook.packs for base in foundations(pack, names)}
    asked = (
        f"{pack.name}: {scalar(compatible_range(pack.version))}" for pack in rulebook.packs if pack.name not in below
    )
    uses = ", ".join(rulebook.applications)
    units = ", ".join(f"{kind}: {scalar(name)}" for kind, name in blank.units.items())
    yield "record: 1"
    yield f"assembly: {scalar(assembly)}"
    yield f"application: {scalar(blank.application)}"
    yield from _remark(f"{rulebook.layered.applications[blank.application].title}. These packs know: {uses}")
    yield f"rule_packs: {{{', '.join(asked)}}}"
    if rulebook.milestones:
        yield f"# before: {rulebook.milestones[0]}"
        yield from _remark(
            f"the milestone about to be passed; later rules are not due: {', '.join(rulebook.milestones)}"
        )
    yield "# taken: 2026-01-31          # day of the readings"
    yield f"units: {{{units}}}"


def _stations(rulebook: Rulebook, stations: Mapping[str, int]) -> Iterator[str]:
    yield "stations:                   # how many there are, so that none is passed over"
    for name, kind in rulebook.layered.stations.items():
        parent = f", all of them, not of each {kind.of}" if kind.of else ""
        line = f"{name}: {stations[name]}" if name in stations else f"# {name}:"
        yield f"  {line:26}# {kind.title}{parent}"


def _facts(rulebook: Rulebook, application: str) -> Iterator[str]:
    """The facts that most rules for this use hang on, with their choices or their unit."""
    chain = rulebook.chain(application)
    counts = Counter(name for rule in rulebook.rules for name in rulebook.inputs(rule, chain).names)
    yield "facts:                      # known without measuring; most rules hang on these"
    items = rulebook.layered.characteristics
    asked = [(name, items[name]) for name, count in counts.most_common() if count >= _LEAST_RULES]
    for name, item in [(name, item) for name, item in asked if _is_fact(item)][:_MOST_FACTS]:
        unit = f", {item.unit}" if item.unit not in (None, "1") else ""
        yield from _entry(f"{name}:", f"{item.title}{unit}", item.choices)


def _is_fact(item: Characteristic) -> bool:
    """What the builder knows of the parts or plans: nothing measures it and nothing yields it."""
    if item.derived or item.with_:
        return False
    return bool(item.choices) or (item.per is None and not item.how)


def _entry(written: str, title: str, choices: Sequence[str]) -> Iterator[str]:
    """A commented line to fill in, and what may stand there."""
    told = f": {', '.join(choices)}" if choices else ""
    line = f"  # {written:{_COLUMN}}  # {title}{told}"
    if len(line) <= _WIDTH:
        yield line
    else:
        yield f"  # {written:{_COLUMN}}  # {title}, one of"
        yield from _remark(", ".join(choices), "  #   ")


def _readings(rulebook: Rulebook, blank: Record, file_name: str) -> Iterator[str]:
    """The first things to measure before each milestone that a required limit rests on."""
    report = rulebook.check(blank)
    facts = {item.name for item in rulebook.layered.characteristics.values() if _is_fact(item)}
    lines = [line for line in plan(rulebook, report, musts_only=True).lines if line.name not in facts]
    yield "readings:                   # a list in the order of the stations, or by station: {1: 4.0301, 2: 4.0302}"
    for milestone, group in groupby(sorted(lines, key=lambda one: report.milestones.index(one.before)), _before):
        own = list(group)
        yield f"  # before {milestone}"
        for line in own[:_MOST_READINGS]:
            yield from _reading(line)
        if len(own) > _MOST_READINGS:
            yield f"  #   and {len(own) - _MOST_READINGS} more: checker sheet {file_name} lays them all out"


def _before(line: Line) -> str:
    return line.before


def _reading(line: Line) -> Iterator[str]:
    are_several = len(line.spots) > 1
    unit = f", {line.unit_name}" if line.unit_name else ""
    count = f", {len(line.spots)} values" if are_several else ""
    yield from _entry(f"{line.name}:{' []' if are_several else ''}", f"{line.title}{unit}{count}", ())


def _remark(text: str, start: str = "#   ") -> list[str]:
    return textwrap.wrap(text, _WIDTH, initial_indent=start, subsequent_indent=start, break_on_hyphens=False)
