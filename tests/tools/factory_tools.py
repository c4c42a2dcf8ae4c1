"""Factory-new engines, as their makers' tables print them, judged by the shipped packs.

`engines/engines.csv` names each engine with the facts its table prints, `engines/published_ranges.csv` what is new and
what is worn. Run as a script, it prints how the engines fare at the low end, the middle and the high end of new.
"""

from __future__ import annotations

import csv
import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from decimal import Decimal
from functools import cache
from typing import NamedTuple

from judging import record, rulebook
from places import ROOT

from checker import Verdict
from checker.judging.evidence import evidence_of
from checker.units.units import unit

FOLDER = ROOT / "tests" / "engines"
PLACES = ("low", "middle", "high")
# What a table that does not print it most often has; the engine's own facts come before these.
COMMON = {
    "street": {"fuel": "petrol", "oil_ring_design": "three-piece"},
    "diesel": {"fuel": "diesel", "oil_ring_design": "one-piece", "piston_gas_ports": "none"},
}
COMMON_TO_ALL = {
    "aspiration": "natural",
    "bore_surface": "iron",
    "exhaust_valve_material": "steel",
    "guide_material": "iron",
    "lifter_type": "solid flat",
    "pin_fit": "floating",
    "piston_alloy": "cast",
    "piston_gas_ports": "none",
    "rod_material": "steel",
    "second_ring_design": "plain",
    "skirt_coating": "bare",
    "top_ring_design": "plain",
}
# A clearance that is printed stands for itself: the part it would be worked out from is left out.
INSTEAD_OF = {
    "cam_oil_clearance": {"cam_bearing_bore"},
    "exhaust_guide_clearance": {"exhaust_guide_bore"},
    "intake_guide_clearance": {"intake_guide_bore"},
    "lifter_bore_clearance": {"lifter_bore_diameter"},
    "main_oil_clearance": {"main_bearing_bore", "main_housing_bore", "main_shell_wall"},
    "pin_to_piston_clearance": {"piston_pin_bore"},
    "pin_to_rod_clearance": {"rod_small_end_bore"},
    "piston_to_wall_clearance": {"piston_diameter"},
    "rod_oil_clearance": {"rod_bearing_bore", "rod_housing_bore", "rod_shell_wall"},
    "rod_side_clearance": {"crankpin_width", "rod_width"},
}
# What limits of wear hang on and a table seldom prints: of a car engine of some 2 L.
IN_CLASS = {
    "bore_taper_along": "0 mm",
    "camshaft_retention": "thrust plate",
    "cylinder_bore": "86 mm",
    "main_journal_diameter": "55 mm",
    "main_journal_plane_spacing": "0.75 in",
    "rod_journal_diameter": "48 mm",
    "rod_journal_plane_spacing": "0.75 in",
    "second_ring_width": "1.5 mm",
    "top_ring_position": "usual height",
    "top_ring_width": "1.5 mm",
}
# The least that a bench tells apart, by unit; of all others a hundredth of the limit.
STEPS = {"mm": Decimal("0.01"), "in": Decimal("0.0005")}
# Of one cylinder; the ranges are the same at all.
STATIONS = {"valve": 2}
# Sizes say which engine it is; they stand at the middle of their range while the fits move. A seat is cut to its width.
SIZES = ("_bore", "_diameter", "_width", "_wall", "_length")
SEATS = {"intake_seat_width", "exhaust_seat_width"}


class Range(NamedTuple):
    """What is new for one characteristic, and what is worn; None where nothing is printed."""

    low: Decimal | None
    high: Decimal | None
    worn_low: Decimal | None
    worn_high: Decimal | None
    unit: str

    def at(self, place: str) -> str | None:
        """A new value with its unit; of a range that is printed at one end only, that end."""
        ends = [end for end in (self.low, self.high) if end is not None]
        if not ends:
            return None
        value = {"low": ends[0], "middle": sum(ends) / len(ends), "high": ends[-1]}[place]
        return f"{value:f} {self.unit}"


class Engine(NamedTuple):
    """An engine as its table prints it."""

    name: str
    title: str
    use: str
    facts: Mapping[str, str]
    source: str
    ranges: Mapping[str, Range]


class Fared(NamedTuple):
    """The rules that stop an engine at one place of its new ranges, those that advise, and how many said anything."""

    stopped: frozenset[str]
    advised: frozenset[str]
    judged: int


def _rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((FOLDER / name).read_text().splitlines()))


@cache
def engines() -> tuple[Engine, ...]:
    """All engines, in the order of their file."""
    ranges: dict[str, dict[str, Range]] = {}
    for row in _rows("published_ranges.csv"):
        ends = (Decimal(row[key]) if row[key] else None for key in ("new_low", "new_high", "worn_low", "worn_high"))
        ranges.setdefault(row["engine"], {})[row["characteristic"]] = Range(*ends, row["unit"])
    return tuple(
        Engine(row["engine"], row["title"], row["use"], json.loads(row["facts"]), row["source"], ranges[row["engine"]])
        for row in _rows("engines.csv")
    )


def readings_of(engine: Engine, place: str) -> dict[str, str]:
    """Its new values at one place of their ranges, as far as the packs know the characteristic."""
    left_out = {part for name in INSTEAD_OF.keys() & engine.ranges for part in INSTEAD_OF[name]}
    known = rulebook("four-stroke").characteristics
    found = {}
    for name in engine.ranges.keys() & known.keys() - left_out:
        value = engine.ranges[name].at("middle" if name.endswith(SIZES) and name not in SEATS else place)
        if value is not None:
            found[name] = value
    return dict(sorted(found.items()))


def suspected(engine_name: str, sheets: Mapping[str, Mapping[str, str]]) -> Mapping[str, str]:
    """What is suspect of sheets for an engine whose sizes and facts are known; raises InputError as reading does."""
    engine = next(one for one in engines() if one.name == engine_name)
    book = rulebook("four-stroke")
    sizes = {name: value for name, value in readings_of(engine, "middle").items() if name.endswith(SIZES)}
    per = {name: book.characteristics[name].characteristic.per for name in {*sizes, *sheets}}
    found = record(
        engine.use,
        {name: {"all": value} if per[name] else value for name, value in sizes.items()},
        facts={**COMMON_TO_ALL, **COMMON[engine.use], **engine.facts},
        stations={kind: STATIONS.get(kind, 1) for kind in {*per.values(), "cylinder"} if kind},
        part_limits={name: {**ends, "source": "printed table"} for name, ends in sheets.items()},
    )
    evidence = evidence_of(book.compiled, book.blank, found, date(2026, 6, 1))
    return {name: sheet.suspicion for name, sheet in evidence.part_sheets.items() if sheet.suspicion}


def sheets_of(engine: Engine, worn: bool) -> dict[str, dict[str, str]]:
    """Its ranges as part sheets: what is new, or what may be used again where that is printed."""
    found = {}
    for name, item in rulebook("four-stroke").characteristics.items():
        if name in engine.ranges and item.unit is not None and item.unit.kind == unit(engine.ranges[name].unit).kind:
            one = engine.ranges[name]
            low = one.worn_low if worn and one.worn_low is not None else one.low
            high = one.worn_high if worn and one.worn_high is not None else one.high
            ends = (("at_least", low), ("at_most", high))
            found[name] = {key: f"{end:f} {one.unit}" for key, end in ends if end is not None}
    return {name: ends for name, ends in found.items() if ends}


@cache
def fared(engine_name: str, place: str, use: str | None = None) -> Fared:
    """How an engine fares at one place of its new ranges, for its own use or another."""
    engine = next(one for one in engines() if one.name == engine_name)
    book = rulebook("four-stroke")
    per = {name: book.characteristics[name].characteristic.per for name in readings_of(engine, place)}
    readings = {name: {"all": value} if per[name] else value for name, value in readings_of(engine, place).items()}
    facts = {**COMMON_TO_ALL, **COMMON[engine.use], **engine.facts}
    stations = {kind: STATIONS.get(kind, 1) for kind in {*per.values(), "cylinder"} if kind}
    report = book.check(record(use or engine.use, readings, facts=facts, stations=stations))
    said = [(judged.rule.name, {Verdict(code) for code in judged.codes[0]}) for judged in report.judged]
    return Fared(
        frozenset(name for name, found in said if Verdict.OUTSIDE in found),
        frozenset(name for name, found in said if Verdict.ADVISORY in found),
        sum(not found.isdisjoint({Verdict.WITHIN, Verdict.ADVISORY, Verdict.OUTSIDE}) for _, found in said),
    )


def stopped_at(places: Iterable[str]) -> list[Engine]:
    """The engines that a must stops at any of these places."""
    return [engine for engine in engines() if any(fared(engine.name, place).stopped for place in places)]


class Worn(NamedTuple):
    """One step beyond a printed limit of wear: what the rules that judge it say, without that limit and with it."""

    engine: str
    characteristic: str
    side: str
    said: frozenset[Verdict]
    said_with_sheet: frozenset[Verdict]


@cache
def beyond_wear() -> tuple[Worn, ...]:
    """Every printed limit of wear that the packs can judge, all of an engine on one side at once, the rest as new."""
    found = []
    for engine in engines():
        for side, key in (("low", "at_least"), ("high", "at_most")):
            worn = dict(_limits_of_wear(engine, side))
            beyond = {name: f"{limit + step:f} {of}" for name, (limit, step, of) in worn.items()}
            sheets = {name: {key: f"{limit:f} {of}", "source": "table"} for name, (limit, _, of) in worn.items()}
            if worn:
                plain, with_sheets = _said(engine, beyond, {}), _said(engine, beyond, sheets)
                found += [Worn(engine.name, name, side, plain[name], with_sheets[name]) for name in worn]
    return tuple(found)


def _limits_of_wear(engine: Engine, side: str) -> Iterator[tuple[str, tuple[Decimal, Decimal, str]]]:
    """Each limit of wear on a side, with the step that leads beyond it, and their unit."""
    known = rulebook("four-stroke").characteristics
    for name, one in engine.ranges.items():
        worn = one.worn_low if side == "low" else one.worn_high
        item = known.get(name)
        if worn is None or item is None or item.unit is None or name.endswith(SIZES):
            continue
        if item.unit.kind == unit(one.unit).kind:
            step = STEPS.get(one.unit, abs(worn) / 100)
            yield name, (worn, -step if side == "low" else step, one.unit)


def _said(
    engine: Engine, beyond: Mapping[str, str], sheets: Mapping[str, Mapping[str, str]]
) -> Mapping[str, frozenset[Verdict]]:
    """Of each characteristic what the rules that judge it, by itself or with others, say."""
    book = rulebook("four-stroke")
    values = {**IN_CLASS, **readings_of(engine, "middle"), **beyond}
    if "oil_ring_gap" in engine.ranges:
        values["oil_ring_design"] = "one-piece"
    per = {name: book.characteristics[name].characteristic.per for name in values}
    facts = {**COMMON_TO_ALL, **COMMON[engine.use], **engine.facts}
    facts = {name: value for name, value in facts.items() if name not in values}
    readings = {name: {"all": value} if per[name] else value for name, value in values.items()}
    stations = {kind: STATIONS.get(kind, 1) for kind in {*per.values(), "cylinder"} if kind}
    told = (name for name, rule in book.rules.items() if not beyond.keys().isdisjoint(rule.judges.names))
    report = book.only(*told).check(record(engine.use, readings, facts=facts, stations=stations, part_limits=sheets))
    return {
        name: frozenset(
            Verdict(code) for one in report.judged if name in one.rule.judges.names for code in one.codes[0]
        )
        for name in beyond
    }


def advised_share(place: str) -> float:
    """The advisories for each value that was judged."""
    found = [fared(engine.name, place) for engine in engines()]
    return sum(len(one.advised) for one in found) / sum(one.judged for one in found)


def table() -> str:
    """The engines and the rules that stop them, and the rules by how many engines they stop."""
    lines = [
        f"{len(engines())} engines: {len(stopped_at(['middle']))} stopped at the middle of new, "
        f"{len(stopped_at(['low', 'high']))} at an end, "
        + ", ".join(f"advisories per value {advised_share(place):.3f} ({place})" for place in PLACES)
    ]
    for engine in engines():
        lines.append(f"\n{engine.name} {engine.title} [{engine.use}]: {engine.source}")
        for place in PLACES:
            found = fared(engine.name, place)
            lines.append(
                f"  {place:6} judged {found.judged:2}; stopped: {', '.join(sorted(found.stopped)) or '-'}; "
                f"advised: {', '.join(sorted(found.advised)) or '-'}"
            )
    for title, places in (("middle", ["middle"]), ("ends", ["low", "high"])):
        stops = Counter(
            rule
            for engine in engines()
            for rule in frozenset().union(*(fared(engine.name, place).stopped for place in places))
        )
        lines.append(
            f"\nengines stopped by rule, {title}: " + ", ".join(f"{name} {n}" for name, n in stops.most_common())
        )
    return "\n".join(lines)


if __name__ == "__main__":
    print(table())
