"""A first record to fill in: what is known already, and beside it, as comments, what will be asked for."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

from checker.documents.write import scalar
from checker.grouping import grouped
from checker.packs.characteristic import Characteristic
from checker.packs.inspection import EVERYTHING, with_scope
from checker.packs.pack import foundations
from checker.packs_asked import asked_for
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
_LEFT = 27
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
  # micrometer: {{expanded_uncertainty: {finest}, shared: {alike}}}  # k = 2; the shared part falls out of a difference
  # dial-indicator: {{expanded_uncertainty: {fine}}}
"""
_GAUGES = {
    "in": {"finest": "0.1 thou", "alike": "0.08 thou", "fine": "0.2 thou"},
    "mm": {"finest": "0.003 mm", "alike": "0.0025 mm", "fine": "0.005 mm"},
}


def new_record(
    rulebook: Rulebook,
    application: str,
    assembly: str,
    system: str,
    stations: Mapping[str, int],
    file_name: str,
    layout: str = "",
    scope: Sequence[str] = (),
) -> str:
    """The text of a record in YAML for a use and a layout, or with so many stations of each kind; it can be judged.

    `system` is one of SYSTEMS; a job on a part of the assembly has a `scope`, the systems that it is about. Raises
    UsageError for a use, stations or systems that the rule packs do not know.
    """
    rulebook.chain(application)
    systems = with_scope(EVERYTHING, scope, rulebook.layered).scope
    units = _METRIC if system == "mm" else {}
    blank = blank_record(rulebook, application, None, stations, {}, units, layout or None, systems)
    parts = (
        [_HEAD.format(name=file_name)],
        _head(rulebook, blank, assembly),
        _stations(rulebook, stations, layout),
        [_INSTRUMENTS.format(**_GAUGES[system])],
        _facts(rulebook, application, systems),
        _readings(rulebook, blank, file_name),
    )
    return "\n".join(line.rstrip("\n") for part in parts for line in part) + "\n"


def _head(rulebook: Rulebook, blank: Record, assembly: str) -> Iterator[str]:
    names = {pack.name: pack for pack in rulebook.packs}
    below = {base for pack in rulebook.packs for base in foundations(pack, names)}
    asked = (asked_for(pack) for pack in rulebook.packs if pack.name not in below)
    units = (f"{kind}: {scalar(name)}" for kind, name in blank.units.items())
    title = rulebook.layered.applications[blank.application].title
    yield "record: 1"
    yield f"assembly: {scalar(assembly)}"
    yield f"{'# shop:':{_LEFT}} # who builds it, and below what is stamped on it: for the hand-over"
    yield "# serial_number:"
    yield f"{f'application: {scalar(blank.application)}':{_LEFT}} # {title}"
    yield from _remark(f"other uses: {', '.join(name for name in rulebook.applications if name != blank.application)}")
    yield f"rule_packs: {{{', '.join(asked)}}}"
    if blank.scope:
        yield f"scope: [{', '.join(map(scalar, blank.scope))}]"
    if rulebook.milestones:
        titles = rulebook.layered.milestone_titles
        first, *later = rulebook.milestones
        yield f"{f'# before: {first}':{_LEFT}} # {titles[first]}; what is due later is not judged yet"
        yield from _remark(f"else {'; '.join(f'{name}, {titles[name]}' for name in later)}")
    yield f"{'# taken: 2026-01-31':{_LEFT}} # day of the readings"
    yield from _units(units)


def _units(entries: Iterable[str]) -> Iterator[str]:
    """The section on as few lines as its entries take, none of them torn apart."""
    line = "units: {"
    for number, entry in enumerate(entries):
        if number and len(line) + len(entry) > _WIDTH:
            yield f"{line},"
            line = " " * len("units: {")
        elif number:
            line += ", "
        line += entry
    yield f"{line}}}"


def _stations(rulebook: Rulebook, stations: Mapping[str, int], layout: str) -> Iterator[str]:
    """The layout, or what there is to count; of what the layout counts nothing is left to say."""
    counted = rulebook.layered.layouts[layout].counts if layout else {}
    if layout:
        yield f"{f'layout: {scalar(layout)}':{_LEFT}} # it counts everything that is not counted below"
    yield f"{'stations:':{_LEFT}} # how many there are, so that none is passed over"
    for name, kind in rulebook.layered.stations.items():
        if name in counted and name not in stations:
            continue
        parent = f", all of them, not of each {kind.of}" if kind.of else ""
        line = f"{name}: {stations[name]}" if name in stations else f"# {name}:"
        yield f"  {line:{_LEFT - 2}} # {kind.title}{parent}"


def _facts(rulebook: Rulebook, application: str, systems: Sequence[str]) -> Iterator[str]:
    """The facts that most rules for this use hang on, with their choices or their unit."""
    chain = rulebook.chain(application)
    rules = (name for name, rule in rulebook.layered.rules.items() if not systems or rule.system in systems)
    counts = Counter(name for rule in rules for name in rulebook.inputs(rule, chain).names)
    yield "facts:                      # known without measuring; most rules hang on these"
    items = rulebook.layered.characteristics
    asked = [name for name, count in counts.most_common() if count >= _LEAST_RULES and _is_fact(items[name])]
    for name in asked[:_MOST_FACTS]:
        item = items[name]
        unit = f", {item.unit}" if item.unit not in (None, "1") else ""
        yield from _entry(f"{name}:", f"{item.title}{unit}", item.choices)


def _is_fact(item: Characteristic) -> bool:
    """What the builder knows of the parts or plans: nothing measures it and nothing yields it."""
    if item.derived or item.with_:
        return False
    return bool(item.choices) or (item.per is None and not item.how)


def _entry(written: str, title: str, choices: Sequence[str]) -> Iterator[str]:
    """A commented line to fill in, and what may stand there."""
    choice_list = f": {', '.join(choices)}" if choices else ""
    line = f"  # {written:{_COLUMN}}  # {title}{choice_list}"
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
    lines.sort(key=lambda line: report.milestones.index(line.before))
    for milestone, own in grouped(lines, lambda line: line.before).items():
        yield f"  # {rulebook.layered.milestone_titles[milestone]}"
        for line in own[:_MOST_READINGS]:
            yield from _reading(line)
        if len(own) > _MOST_READINGS:
            yield f"  #   and {len(own) - _MOST_READINGS} more: checker sheet {file_name} lays them all out"


def _reading(line: Line) -> Iterator[str]:
    are_several = len(line.spots) > 1
    unit = f", {line.unit_words}" if line.unit_words else ""
    count = f", {len(line.spots)} values" if are_several else ""
    yield from _entry(f"{line.name}:{' []' if are_several else ''}", f"{line.title}{unit}{count}", ())


def _remark(text: str, start: str = "#   ") -> list[str]:
    return textwrap.wrap(text, _WIDTH, initial_indent=start, subsequent_indent=start, break_on_hyphens=False)
