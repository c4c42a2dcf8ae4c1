"""What a drawing shows of one finding: its value in the unit shown, with the ends of its bands."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from checker.findings.finding import Finding
from checker.html.marks import label
from checker.units.units import Unit


@dataclass(frozen=True, slots=True)
class Drawn:
    """Numbers in the unit shown; a band without a limit on one side is infinite there, NaN if it has none.

    The should band is drawn no further than the must band reaches.
    """

    verdict: str
    value: float
    uncertainty: float
    must: tuple[float, float]
    should: tuple[float, float]

    def numbers(self) -> Iterator[float]:
        """Everything that should find room on the drawing."""
        yield from (self.value, *self.reach(), *self.must, *self.should)

    def reach(self) -> tuple[float, float] | tuple[()]:
        """From where to where the value may lie; nothing where it is exact, or where that is not known."""
        known = 0 < self.uncertainty < math.inf
        return (self.value - self.uncertainty, self.value + self.uncertainty) if known else ()


def drawn(findings: Iterable[Finding]) -> dict[int, Drawn]:
    """Those of one rule's findings that have a value on a scale, by station."""
    return {
        finding.station: _drawn(finding, finding.unit)
        for finding in findings
        if finding.unit is not None and not finding.rule.is_demand and math.isfinite(finding.value)
    }


def _drawn(finding: Finding, unit: Unit) -> Drawn:
    must, should = _band(finding, "must", unit), _band(finding, "should", unit)
    if not math.isnan(must[0]) and not math.isnan(should[0]):
        should = max(should[0], must[0]), min(should[1], must[1])
    return Drawn(
        verdict=label(finding),
        value=unit.from_si(finding.value),
        uncertainty=finding.uncertainty / unit.factor,
        must=must,
        should=should,
    )


def _band(finding: Finding, band: str, unit: Unit) -> tuple[float, float]:
    ends = {edge.side: edge.value for edge in finding.edges if edge.band == band}
    if not ends:
        return math.nan, math.nan
    low, high = ends.get("low", -math.inf), ends.get("high", math.inf)
    return unit.from_si(low), unit.from_si(high)
