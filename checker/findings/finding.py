"""Findings: what a rule says of one station, in words and numbers a person can act on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import product
from typing import Any, NamedTuple

from checker.expressions.truth import greatest_equal
from checker.judging.judge import Verdict
from checker.notation.write import write_apart, write_quantity
from checker.packs.compiled import CompiledRule
from checker.packs.limit_words import band_words
from checker.packs.limits import PHYSICS, Limit
from checker.units.units import Unit, difference

BAND_WORDS = {"must": "required", "should": "recommended"}
"""What the bands of the pack language are called in reports."""

MISSED = (Verdict.OUTSIDE, Verdict.ADVISORY)
"""The verdicts of a value beyond a limit."""
DECIDED = (*MISSED, Verdict.WITHIN)
"""Those of a value that is told to keep its limits or to miss one."""
ON_ITS_LIMIT = "too near its limit to decide: the value lies on it, and no instrument can decide"
"""Why a value is undecided that no better measurement would tell."""
SHARED_IS_UNSTATED = "all its readings share is not stated, and falls out of a difference"
"""Why a difference of readings of one instrument is in more doubt than it need be."""
SHEET, PRACTICE = "sheet", "practice"
"""What states a limit that counts, besides physics."""


class Edge(NamedTuple):
    """One limit of a finding in SI, and who stated it."""

    band: str
    side: str
    value: float
    limit: Limit | None
    from_part_sheet: str = ""

    @property
    def counted(self) -> str:
        """Which kind of limit it is: of physics, of a part maker's sheet, or of general practice."""
        if self.from_part_sheet:
            return SHEET
        return PHYSICS if self.limit is not None and self.limit.band == PHYSICS else PRACTICE


class Gap(NamedTuple):
    """A reading that is lacking at one station, `named` where the record gives it a name.

    `remark` says why what was written does not count, `instead` what would do in its place, as in "or gear width".
    """

    characteristic: str
    title: str
    stations: str
    station: int | None
    remark: str = ""
    instead: str = ""
    named: str = ""

    def __str__(self) -> str:
        return next(iter(listed([self])))


def listed(gaps: Iterable[Gap]) -> list[str]:
    """Gaps in words, one for each characteristic: "gear mass, gears 1 to 8"."""
    grouped: dict[tuple[str, str, str], dict[int, str]] = {}
    for gap in gaps:
        said = "; ".join(filter(None, (gap.remark, gap.instead)))
        places = grouped.setdefault((gap.title, gap.stations, said), {})
        if gap.station is not None:
            places.setdefault(gap.station, gap.named or f"{gap.stations} {gap.station}")
    return [
        title
        + (f", {numbered((name, number) for number, name in places.items())}" if places else "")
        + (f" ({said})" if said else "")
        for (title, _, said), places in grouped.items()
    ]


def _runs(numbers: list[int]) -> str:
    """Numbers in words, neighbours together: "1 to 3, 5"."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return ", ".join(parts)


class Finding(NamedTuple):
    """What one rule says of one station.

    `stations` names the kind of station, none for the assembly, `station` counts them from 0, and `where` says it in
    words. `value`, `margin` and the edges are in SI; `unit` is the one to show them in. `margin` is how far inside the
    nearest limit the value lies, or beyond that which decides (negative outside); `uncertainty` is expanded, k = 2, NaN
    where nothing is known of it, and an undecided value would be told with `needed_uncertainty`. `as_written` is what
    was written down, where it looks different. `at_face_value`: it is within, but nearer to its limit than its means
    usually tell. `under_choices` are those of its remarks that say what comes out under which choice of a fact that
    nobody stated. `suspect_sheet` is the part sheet that leaves it undecided, `warmth` what to find out of warm
    readings that may do so, `failed` how a function of a plugin did that it rests on. `due` is the milestone in
    words, such as "before the gears go on".
    """

    rule: CompiledRule
    stations: str | None
    station: int
    where: str
    verdict: Verdict
    must_open: bool
    side: str = ""
    value: float = math.nan
    unit: Unit | None = None
    edges: tuple[Edge, ...] = ()
    margin: float = math.nan
    uncertainty: float = 0.0
    needed_uncertainty: float = math.nan
    as_written: str = ""
    remedy: str = ""
    missing: tuple[Gap, ...] = ()
    remarks: tuple[str, ...] = ()
    under_choices: tuple[str, ...] = ()
    concession: str = ""
    at_face_value: bool = False
    suspect_sheet: str = ""
    warmth: str = ""
    failed: str = ""
    due: str = ""

    @property
    def name(self) -> str:
        """The name of its rule."""
        return self.rule.name

    @property
    def title(self) -> str:
        """What its rule is about, in words."""
        return self.rule.rule.title

    @property
    def system(self) -> str:
        """The group of rules it belongs to, such as "Gear meshes"."""
        return self.rule.rule.system

    @property
    def breaks_must(self) -> bool:
        """Whether it stops the build: a must is broken and nobody has permitted it."""
        return self.verdict is Verdict.OUTSIDE and not self.concession

    @property
    def shown_value(self) -> str:
        """The value in its unit; empty when there is none."""
        return "" if self.unit is None or not math.isfinite(self.value) else self.written(self.value)

    def quantity(self, registry: Any) -> Any:
        """The value as a quantity of a registry of units, such as pint's, in units of the SI; None where there is none.

        Convert it to what you like: `finding.quantity(registry).to(finding.unit.name)` where the registry knows that.
        """
        is_known = math.isfinite(self.value)
        return self.unit.quantity(self.value, registry) if self.unit is not None and is_known else None

    def written(self, value: float) -> str:
        """A value or limit in SI in the finding's unit, with enough digits to tell its value from the limits."""
        return write_apart(self.unit, value, *self.numbers)[0] if self.unit is not None else ""

    @property
    def numbers(self) -> Iterator[float]:
        """Its value and its limits in SI, as far as they are known."""
        return filter(math.isfinite, (self.value, *(edge.value for edge in self.edges)))

    def band(self, band: str) -> str:
        """One band in words, such as "0.0022 in to 0.0027 in"; empty when it has no limits."""
        by_side = {edge.side: edge for edge in self.edges if edge.band == band}
        low, high = by_side.get("low"), by_side.get("high")
        least, most = ("" if edge is None else self.written(edge.value) for edge in (low, high))
        if low and high and low.value > high.value:  # a part sheet and a pack may ask for what no value can be
            return f"at least {least} and at most {most}"
        return band_words(least, most)

    @property
    def counted_by(self) -> str:
        """What states the musts that count where that is no general practice: a sheet by its title, or physics."""
        musts = [edge for edge in self.edges if edge.band == "must" and edge.counted != PRACTICE]
        deciding = [edge for edge in musts if edge.side == self.side] if self.verdict is Verdict.OUTSIDE else musts
        words = (edge.from_part_sheet or str(edge.limit and edge.limit.basis) for edge in deciding)
        return "; ".join(dict.fromkeys(words))

    @property
    def limits(self) -> str:
        """Both bands in words, such as "required at least 0.1 mm, recommended 0.2 mm to 0.3 mm"."""
        return ", ".join(f"{words} {text}" for band, words in BAND_WORDS.items() if (text := self.asked(band)))

    def asked(self, band: str) -> str:
        """One band in words with who states it, such as "at least 0.0022 in (wheel maker's sheet)"."""
        words = self.band(band)
        return f"{words} ({self.counted_by})" if words and band == "must" and self.counted_by else words

    @property
    def contradiction(self) -> str:
        """Two limits that no value keeps, and who asks for each; empty where there are none.

        Advice counts only for what misses nothing but advice: what breaks a must is fixed whatever is advised.
        """
        counting = [edge for edge in self.edges if edge.band == "must" or self.verdict is Verdict.ADVISORY]
        lows, highs = ([edge for edge in counting if edge.side == side] for side in ("low", "high"))
        for low, high in product(lows, highs):
            if low.value > high.value and low.value > float(greatest_equal(high.value)):
                return f"no value satisfies both: {self._asked(low)}, {self._asked(high)}"
        return ""

    def _asked(self, edge: Edge) -> str:
        side = "at least" if edge.side == "low" else "at most"
        stated = edge.limit.origin if edge.limit is not None else self.rule.rule.origin
        by = edge.from_part_sheet or f"{stated.pack} {stated.version}"
        return f"{BAND_WORDS[edge.band]} {side} {self.written(edge.value)} ({by})"

    @property
    def missed_by(self) -> str:
        """How far it lies beyond its limit, such as "0.0011 in over"; empty where it does not, or was seen only."""
        if self.side not in ("low", "high") or self.unit is None or math.isnan(self.margin):
            return ""
        unit, beside = difference(self.unit), max(self.numbers, key=abs)
        amount = write_quantity(abs(self.margin), unit, round_up=True, beside=beside)
        return f"{amount} {'under' if self.side == 'low' else 'over'}"

    @property
    def basis(self) -> str:
        """Where the limit that decides comes from."""
        edge = self._deciding_edge()
        if edge is not None and edge.from_part_sheet:
            return f"limit from the part sheet: {edge.from_part_sheet}"
        return str((edge.limit.basis if edge is not None and edge.limit is not None else None) or self.rule.rule.basis)

    @property
    def stated_by(self) -> str:
        """The line of the pack that made the verdict."""
        edge = self._deciding_edge()
        limit = edge.limit if edge is not None else None
        return f"stated in {limit.origin if limit is not None else self.rule.rule.origin}"

    @property
    def source(self) -> str:
        """Who stated the limit that decides, and where it comes from."""
        return f"{self.basis}; {self.stated_by}"

    def _deciding_edge(self) -> Edge | None:
        edges = [edge for edge in self.edges if edge.side == self.side] or list(self.edges)
        band = "must" if self.verdict is Verdict.OUTSIDE else "should"
        return next((edge for edge in edges if edge.band == band), edges[0] if edges else None)

    def __repr__(self) -> str:
        return f"<Finding {self}>"

    def __str__(self) -> str:
        value = f": {self.shown_value}" if self.shown_value else ""
        side = f" {self.side}" if self.side else ""
        where = f", {self.where}" if self.where else ""
        return f"{self.title}{where}{value} {self.verdict}{side}"


def places(findings: Iterable[Finding]) -> str:
    """Where several findings of one rule lie, such as "mesh 1 to 4, 6"; empty for the assembly."""
    return numbered((finding.where, finding.station + 1) for finding in findings)


def numbered(stations: Iterable[tuple[str, int]]) -> str:
    """Names of stations of one kind, each with its number, as one: "mesh 1 to 4, 6"."""
    in_order = sorted(set(stations), key=lambda station: station[1])
    if in_order and all(name.endswith(f" {number}") for name, number in in_order):
        return f"{in_order[0][0].rsplit(' ', 1)[0]} {_runs([number for _, number in in_order])}"
    return ", ".join(name for name, _ in in_order if name)
