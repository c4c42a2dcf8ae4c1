"""Random records for the random packs: what is written down, and all that it may really be.

Readings are exact, known from their ends, uncertain, lacking, or not possible, some of them taken with one gauge that
may be off alike in all, or on warm and cold parts of which the material is stated or not; facts are stated or not; and
records say more: part sheets, inspections by eye, concessions, parts fitted since, and an inspection level.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
from trial_packs import ANGLES, MEASURED, OF_TEETH

from checker import Record, record_from
from checker.expressions.truth import Array
from checker.frozen import FrozenMapping

STATIONS = 2
OF_EACH_KIND = {"gear": STATIONS, "tooth": 2 * STATIONS}
SAMPLES = 600
DAY = "2026-05-02"
ALLOYS, KINDS = ("bronze", "steel"), ("plain", "keyed", "split")
MOST = {**dict.fromkeys((*MEASURED, *OF_TEETH, "gap"), 40.0), **dict.fromkeys(ANGLES, 360.0)}
POSSIBLE = {
    **dict.fromkeys((*MEASURED, *OF_TEETH), (-60.0, 100.0)),
    "d": (0.4, 100.0),
    "gap": (-200.0, 200.0),
    **dict.fromkeys(ANGLES, (-180.0, 540.0)),
}
"""Where readings may lie that are lacking, as the packs say."""
GROWTH = {"rubber": 1e-3, "bronze": 6e-4, "steel": 3e-4}
"""How much the materials grow that the packs name, per kelvin: nothing unnamed grows more than rubber."""
NEAR = {"w": 5.0, "h": 5.0, "d": 5.0, "p": 5.0}
"""So near to 20 degrees C, in kelvin, a size counts as written of which something is not known; else up to HEATED."""
HEATED = 15.0
"""So near to 20 degrees C a gauge is as warm as the part."""


def unit_of(name: str) -> str:
    return "deg" if name in ANGLES else "mm"


class Reading(NamedTuple):
    """A reading, its ends, and the expanded uncertainty of it by itself; lacking, or refused for it is not possible."""

    low: float
    high: float
    uncertainty: float
    is_lacking: bool = False
    is_refused: bool = False

    def cell(self, unit: str, temperature: float | None) -> Any:
        """As it is written down."""
        if self.is_lacking:
            return None
        low, high = (f"{end:.3f} {unit}" for end in (self.low, self.high))
        cell = {"value": low} if self.low == self.high else {"between": [low, high]}
        if temperature is not None:
            return {**cell, "temperature": f"{temperature} degC"}
        return cell.get("value", cell)


class Gauge(NamedTuple):
    """One gauge for some characteristics: the expanded uncertainty of each reading by itself, and alike in all.

    Both are in millimetres, or in parts of a hundred of what is measured.
    """

    names: frozenset[str]
    own: float
    shared: float
    unit: str = "mm"

    def amount(self, name: str, values: Array) -> Array | float:
        """What its figures are times, for a characteristic that has these values; one of which it does not read, 1."""
        return values / 100 if self.unit == "%" and name in self.names else 1.0


class Warm(NamedTuple):
    """How warm all parts are in degrees C, and some by name; `named` are said to be of rubber, `cold` gauges at 20.

    One is as warm at all its stations: else they would not move quite in proportion, as they are taken to.
    """

    parts: float | None = None
    own: Mapping[str, float] = FrozenMapping()
    named: frozenset[str] = frozenset()
    cold: frozenset[str] = frozenset()

    def scale(self, name: str, gauge: str, alloy: Array, shares: Mapping[str, Array]) -> Array | float:
        """By what a reading is brought to 20 degrees, if of what it may grow the part and the gauge grow such shares.

        All that is made of one alloy has its share.
        """
        temperature = self.own.get(name, self.parts)
        if temperature is None or name in ANGLES:
            return 1.0
        part, other = temperature - 20, 0.0 if gauge in self.cold else temperature - 20
        is_heated = abs(other) > HEATED
        usual, most = GROWTH["rubber" if gauge in self.named else "steel"], GROWTH["rubber"]
        of_gauge = most * shares[gauge] if is_heated else usual
        is_alloy_known = bool((alloy == alloy[0]).all())
        is_known = name in self.named or name == "d" or (name == "w" and is_alloy_known)
        if abs(part) <= NEAR.get(name, HEATED) and not (is_known and not is_heated):
            return 1.0
        of_part = most if name in self.named else self._growth(name, alloy, shares)
        return (1 + of_gauge * other) / (1 + of_part * part)

    def _growth(self, name: str, alloy: Array, shares: Mapping[str, Array]) -> Array | float:
        least = {"w": alloy, "h": alloy, "d": np.array([GROWTH["steel"]])}.get(name, np.zeros(1))
        most = least if name in ("w", "d") else np.array([GROWTH["rubber"]])
        return least + (most - least) * shares[name]


class Written(NamedTuple):
    """What a record says: readings by characteristic and station, facts that are stated, and keys besides."""

    readings: Mapping[str, Sequence[Reading]]
    facts: Mapping[str, Any]
    more: Mapping[str, Any]
    gauge: Gauge = Gauge(frozenset(), 0.0, 0.0)
    warm: Warm = Warm()

    def lacking(self) -> frozenset[str]:
        """The characteristics of which a reading or a fact is lacking; one that is derived is then computed."""
        none = {name for name, items in self.readings.items() if any(item.is_lacking for item in items)}
        return frozenset(none | ({"alloy", "kind"} - self.facts.keys()))

    def record(self) -> Record:
        """The record that says so."""
        return record_from(
            {
                "assembly": "Trial",
                "application": "any-use",
                "rule_packs": {"trial": ">=1"},
                "stations": OF_EACH_KIND,
                "taken": DAY,
                "instruments": self.instruments(),
                "facts": dict(self.facts),
                "readings": self.noted(),
                **self.temperatures(),
                **self.more,
            }
        )

    def temperatures(self) -> dict[str, Any]:
        """What is said of all parts."""
        materials = {name: "rubber" for name in self.readings if name in self.warm.named}
        said = {"materials": materials} if materials else {}
        said |= {} if self.warm.parts is None else {"parts": f"{self.warm.parts} degC"}
        return {"temperatures": said} if said else {}

    def instruments(self) -> dict[str, Any]:
        """One for each characteristic, and the one for several."""
        alone = {
            f"gauge-{name}": {"expanded_uncertainty": f"{items[0].uncertainty} {unit_of(name)}"}
            for name, items in self.readings.items()
        }
        whole = math.hypot(self.gauge.own, self.gauge.shared)
        unit = self.gauge.unit
        every = {
            **alone,
            "gauge": {"expanded_uncertainty": f"{whole!r} {unit}", "shared": f"{self.gauge.shared!r} {unit}"},
        }
        for name in every:
            every[name] |= {"set_with": "rubber"} if name in self.warm.named else {}
            every[name] |= {"temperature": "20 degC"} if name in self.warm.cold else {}
        return every

    def gauge_of(self, name: str) -> str:
        """With what a characteristic was measured."""
        return "gauge" if name in self.gauge.names else f"gauge-{name}"

    def noted(self) -> dict[str, Any]:
        """The readings as they are written down."""
        cells = {name: self.cells(name, items) for name, items in self.readings.items()}
        return {name: {"with": self.gauge_of(name), "values": values} for name, values in cells.items() if values}

    def cells(self, name: str, items: Sequence[Reading]) -> dict[str, Any]:
        """What is written at the stations of a characteristic."""
        cells = {str(at): item.cell(unit_of(name), self.warm.own.get(name)) for at, item in enumerate(items, 1)}
        return {at: cell for at, cell in cells.items() if cell is not None}


def written(random: np.random.Generator, rules: Sequence[str], by_eye: Sequence[str]) -> Written:
    """A random record for these rules, some of which may be looked at by eye."""
    readings = {name: [*_readings(random, name)] for name in (*MEASURED, *OF_TEETH, *ANGLES)}
    gauge = Gauge(frozenset(), 0.0, 0.0)
    if random.random() < 0.4:
        own, shared = (round(float(random.uniform(0.0, 3.0)), 2) for _ in range(2))
        gauge = Gauge(
            frozenset(random.permutation([*MEASURED, *OF_TEETH])[: random.integers(2, 6)].tolist()), own, shared
        )
        for name in gauge.names:
            readings[name] = [reading._replace(uncertainty=own) for reading in readings[name]]
    if random.random() < 0.2:
        readings["gap"] = [*_readings(random, "gap")]
    facts: dict[str, Any] = {}
    if random.random() < 0.6:
        facts["alloy"] = str(random.choice(ALLOYS))
    if random.random() < 0.6:
        facts["kind"] = {str(at): str(random.choice(KINDS)) for at in range(1, STATIONS + 1)}
    said = Written(readings, facts, dict(_more(random, rules, by_eye)), gauge)
    if random.random() < 0.3:
        return said._replace(warm=_warm(random, said))
    return said._replace(gauge=gauge._replace(unit="%")) if random.random() < 0.4 else said


def _warm(random: np.random.Generator, said: Written) -> Warm:
    lengths = [name for name in said.readings if name not in ANGLES]
    of_own = [name for name in lengths if random.random() < 0.3]
    temperatures = (22.0, 27.0, 34.5, 36.0, 60.0, 80.0, -10.0)
    return Warm(
        None if random.random() < 0.3 else float(random.choice(temperatures)),
        {name: float(random.choice(temperatures)) for name in of_own},
        frozenset(name for name in (*lengths, *said.instruments()) if random.random() < 0.3),
        frozenset(name for name in said.instruments() if random.random() < 0.5),
    )


def _readings(random: np.random.Generator, name: str) -> list[Reading]:
    most = MOST[name]
    kind = random.choice(["exact", "interval", "wide", "uncertain", "uncertain"])
    doubt = round(float(random.uniform(0.01, 0.12)) * most, 2) if kind == "uncertain" else 0.0
    found = []
    for _ in range(OF_EACH_KIND["tooth" if name in OF_TEETH else "gear"]):
        # Divisors are small now and then, so that nothing lies within their doubt.
        least, greatest = (0.5, 8.0) if name == "d" and random.random() < 0.5 else (1.0, most)
        value = round(float(random.uniform(least, greatest)), 1)
        reach = {"interval": 0.1, "wide": 0.9}.get(kind, 0.0) * float(random.random()) * most
        reading = Reading(value, round(min(most, value + reach), 1) if reach > 0.1 else value, doubt)
        chance = random.random()
        if chance < 0.06:
            reading = reading._replace(is_lacking=True)
        elif chance < 0.1:
            beyond = -400.0 if name in ANGLES else -250.0
            reading = Reading(beyond, beyond, doubt, is_refused=True)
        found.append(reading)
    return found


def _more(random: np.random.Generator, rules: Sequence[str], by_eye: Sequence[str]) -> dict[str, Any]:
    """What else a record says."""
    found: dict[str, Any] = {}
    if random.random() < 0.3:
        ends = {"at_least": f"{random.integers(-5, 12)} mm", "at_most": f"{random.integers(20, 90)} mm"}
        kept = {end: ends[end] for end in random.permutation(list(ends))[: random.integers(1, 3)]}
        sheet = {**kept, "source": "the maker's sheet"}
        if random.random() < 0.3:
            sheet |= {"confirmed_by": "R. Ammer", "confirmed_on": DAY}
        found["part_limits"] = {str(random.choice(["w", "h", "gap", "thick", "share"])): sheet}
    if by_eye and random.random() < 0.7:
        found["seen"] = [
            {
                "rule": str(random.choice(by_eye)),
                "station": "all",
                "by": "R. Ammer",
                "dated": DAY,
                "clear": bool(random.random() < 0.7),
            }
        ]
    if random.random() < 0.3:
        found["concessions"] = [
            {"rule": str(random.choice(rules)), "by": "R. Ammer", "dated": "2026-05-03", "because": "runs light"}
        ]
    if random.random() < 0.15:
        name = str(random.choice(MEASURED))
        found["parts"] = {"wheel": {"fitted": "2026-05-04", "bears_on": [name]}}
    if random.random() < 0.3:
        found["inspection"] = str(random.choice(["usual", "close"]))
    return found


def sampled(said: Written, part: float, random: np.random.Generator) -> dict[str, Array]:
    """What the readings and facts may really be.

    Between their ends, in the ellipsoid of a part of their uncertainties, and anywhere possible where they are lacking,
    refused or stale; what can be computed is then left to that.
    """
    stale = {name for part_ in said.more.get("parts", {}).values() for name in part_["bears_on"]}
    items = [(name, item) for name, each in said.readings.items() for item in each]
    doubtful = np.array([*(item.uncertainty > 0 for _, item in items), said.gauge.shared > 0])
    moves = _in_ball(random, doubtful, part)
    shares = random.random((SAMPLES, len(items)))
    shares = np.where(random.random((SAMPLES, len(items))) < 0.25, np.round(shares), shares)
    shares_of_growth = {name: _shares(random) for name in (*said.readings, *said.instruments())}
    alloy = random.integers(0, len(ALLOYS), (SAMPLES, 1)).astype(np.float64)
    if "alloy" in said.facts:
        alloy[:] = ALLOYS.index(said.facts["alloy"])
    of_alloy = np.array([GROWTH[each] for each in ALLOYS])[alloy[:, 0].astype(np.intp)]
    columns: dict[str, list[Array]] = {}
    for at, (name, item) in enumerate(items):
        low, high, uncertainty = item.low, item.high, item.uncertainty
        shared = said.gauge.shared if name in said.gauge.names else 0.0
        scale = said.warm.scale(name, said.gauge_of(name), of_alloy, shares_of_growth)
        if item.is_lacking or item.is_refused or name in stale:
            is_computed = name == "gap" and item.is_lacking
            (low, high), uncertainty, shared = (np.nan, np.nan) if is_computed else POSSIBLE[name], 0.0, 0.0
            scale = 1.0
        values = low + (high - low) * shares[:, at]
        values = values * scale
        values = values + (uncertainty * moves[:, at] + shared * moves[:, -1]) * said.gauge.amount(name, values)
        columns.setdefault(name, []).append(values * (np.pi / 180 if name in ANGLES else 1e-3))
    found = {name: np.stack(each, axis=1) for name, each in columns.items()}
    kind = random.integers(0, len(KINDS), (SAMPLES, STATIONS)).astype(np.float64)
    if "kind" in said.facts:
        kind[:] = [KINDS.index(said.facts["kind"][str(at)]) for at in range(1, STATIONS + 1)]
    return {**found, "alloy": alloy, "kind": kind}


def _shares(random: np.random.Generator) -> Array:
    """How much of what is possible something grows: often nothing or all."""
    shares = random.random(SAMPLES)
    return np.where(random.random(SAMPLES) < 0.5, np.round(shares), shares)


def _in_ball(random: np.random.Generator, doubtful: Array, part: float) -> Array:
    """Random points of the ball of a part of the uncertainties, most of them on its surface."""
    shape = (SAMPLES, len(doubtful))
    moves = random.normal(size=shape) * doubtful
    moves = np.where(random.random(shape) < random.random((SAMPLES, 1)), moves, 0.0)
    length = np.sqrt((moves**2).sum(axis=1, keepdims=True))
    moves = np.where(length > 0, moves / np.where(length > 0, length, 1.0), 0.0)
    return moves * np.where(random.random((SAMPLES, 1)) < 0.7, 1.0, random.random((SAMPLES, 1))) * part * (1 - 1e-9)
