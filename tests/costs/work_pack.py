"""The work as a rule pack of this project, and a table of assemblies with the records that belong to it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import yaml
from work import CHECKS, NAMED, PARENTS, SIZES, STATIONS, USES, Check, for_use

_WHOLE = "eng"
_KEPT = {"main": "main", "rod": "cyl", "pin": "cyl", "cyl": "cyl", "ring": "ring", "valve": "valve"}
"""At which stations of the pack something is measured: a rod at its cylinder, and a pair of a pin at the first one."""
_PAIRED = re.compile(r"(spread|total)\((\w+), 'pin'\)")
_OF_PAIR = re.compile(r"\b(first|second)\((\w+?)_(\w+)\)")
_NUMBER = re.compile(r"-?[\d.]+")


def rule_name(number: int) -> str:
    """The name of a check, by its number from 0."""
    return f"{CHECKS[number].kind.replace('_', '-')}-{number + 1}"


def pack_text() -> str:
    """The only file of the pack."""
    return yaml.safe_dump(
        {
            "pack": "measured-work",
            "version": "1.0.0",
            "rule_language": 1,
            "title": "What the benchmark checks",
            "applications": {use: {"title": use.capitalize()} for use in USES},
            "milestones": ["done"],
            "stations": {name: dict(_station(name)) for name in sorted(set(_KEPT.values()))},
            "characteristics": {
                **{
                    size.full: {"plausible": _plausible(size.middle, size.scatter, size.unit), **_about(size)}
                    for size in SIZES
                },
                **{
                    one.full: {
                        "plausible": [
                            f"{end} {one.unit}" if one.unit != "1" else end for end in (one.least, one.greatest)
                        ],
                        "derived": _in_our_words(one.text),
                        **_about(one),
                    }
                    for one in NAMED
                },
                **{
                    f"{place}_place": {
                        "title": f"Which {place} of its two",
                        "per": place,
                        "choices": ["first", "second"],
                    }
                    for place in ("cyl", "ring", "valve")
                },
            },
            "rules": {rule_name(number): dict(_rule(number, check)) for number, check in enumerate(CHECKS)},
        },
        sort_keys=False,
        width=1000,
    )


def write_pack(folder: Path) -> Path:
    """The folder of the pack, written anew."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "pack.yaml").write_text(pack_text())
    return folder


def base(use: str) -> dict[str, Any]:
    """What is alike for all assemblies of a use."""
    in_turn = {station + 1: ("first", "second")[station % 2] for station in range(STATIONS["ring"])}
    return {
        "assembly": "one of many",
        "application": use,
        "rule_packs": {"measured-work": ">=1"},
        "stations": {name: STATIONS[name] for name in sorted(set(_KEPT.values()))},
        "facts": {f"{name}_place": dict(list(in_turn.items())[: STATIONS[name]]) for name in ("cyl", "ring", "valve")},
        "units": {
            "length": "in",
            "angle": "deg",
            "pressure": "psi",
            "mass": "g",
            "torque": "lb-ft",
            "force": "lbf",
            "volume": "cc",
            "bare number": "%",
        },
    }


def stations_of(check: Check) -> int:
    """At how many stations the pack judges it; at some it does not apply, as at the second of a pair."""
    return STATIONS[_KEPT.get(check.place, _WHOLE)]


def column(size: Any, station: int) -> str:
    """The column of a size at a station, counted from 0."""
    return size.full if size.place == _WHOLE else f"{size.full}@{station + 1}"


def _station(name: str) -> Iterator[tuple[str, Any]]:
    yield "title", name.capitalize()
    if name in PARENTS:
        yield "of", PARENTS[name]
        yield "each", STATIONS[name] // STATIONS[PARENTS[name]]


def _about(one: Any) -> Iterator[tuple[str, Any]] | Mapping[str, Any]:
    told = {"title": one.full.replace("_", " ").capitalize()}
    if one.place != _WHOLE:
        told["per"] = _KEPT[one.place]
    if one.unit != "1":
        told["unit"] = one.unit
    return told


def _plausible(middle: Any, scatter: float, unit: str) -> list[str]:
    """Wide enough for all that the assemblies of the benchmark have."""
    if unit == "deg":
        return ["-360 deg", "360 deg"]
    middles = middle if isinstance(middle, (tuple, list)) else [middle]
    below = 20 if 20 * scatter < min(middles) / 2 else 6
    return [f"{min(middles) - below * scatter:.4f} {unit}", f"{max(middles) + 20 * scatter:.4f} {unit}"]


def _rule(number: int, check: Check) -> Iterator[tuple[str, Any]]:
    yield "title", rule_name(number).replace("-", " ").capitalize()
    yield "before", "done"
    yield "judges", _in_our_words(check.value)
    if check.unit != "1":
        yield "unit", check.unit
    if check.place == "pin":
        yield "when", "cyl_place is first"
    uses = USES if "by_use(" in check.low + check.high else ("any",)
    yield "limits", {use: {"must": dict(_limits(check, use))} for use in uses}
    if check.uses:
        yield "not_for", {use: "not asked for" for use in USES if use not in check.uses}
    yield "basis", "shop policy"
    sides = (
        ("low", check.low, "It is {limit - value} too little."),
        ("high", check.high, "It is {value - limit} too much."),
    )
    yield "remedy", {side: words for side, limit, words in sides if limit}


def _limits(check: Check, use: str) -> Iterator[tuple[str, Any]]:
    for key, text in (("at_least", check.low), ("at_most", check.high)):
        if text:
            limit = _in_our_words(for_use(text, use) if use in USES else text)
            bare = _NUMBER.fullmatch(limit)
            yield key, f"{limit} {check.unit}" if bare and check.unit != "1" else float(limit) if bare else limit


def _in_our_words(text: str) -> str:
    # Volumes need no factor where units are known, and which of a pair is meant is a fact of each station.
    plain = re.sub(r"\bcc\((\w+)\)", r"\1", text)
    plain = _PAIRED.sub(
        lambda one: f"abs({one[2]} - next({one[2]}))" if one[1] == "spread" else f"{one[2]} + next({one[2]})", plain
    )
    return _OF_PAIR.sub(r"total(\2_\3 where \2_place is \1, 'cyl')", plain)
