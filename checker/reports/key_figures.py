"""The figures of a report that say most in little room: of every system the one nearest to its limit."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from checker.findings.finding import Finding
from checker.reports.summary import OPEN, RuleLine
from checker.units.dimensions import DIMENSIONLESS

MOST_KEY_FIGURES = 10


def key_figures(judged: Iterable[tuple[str, Sequence[RuleLine]]], most: int = MOST_KEY_FIGURES) -> list[RuleLine]:
    """The figures nearest to what is required, one a system and then more, in the order of the build."""
    systems = [sorted(filter(_is_a_figure, lines), key=_distance) for _, lines in judged]
    firsts = sorted((lines[0] for lines in systems if lines), key=_distance)
    others = sorted((line for lines in systems for line in lines[1:]), key=_distance)
    chosen = {id(line) for line in [*firsts, *others][:most]}
    return [line for lines in systems for line in lines if id(line) in chosen]


def _is_a_figure(line: RuleLine) -> bool:
    """Whether it has a size with a limit; a bare share was often chosen to lie on its limit."""
    nearest = line.nearest
    has_size = nearest.unit is not None and nearest.unit.dimension != DIMENSIONLESS and math.isfinite(nearest.value)
    return line.verdict != OPEN and has_size and bool(nearest.edges) and not nearest.rule.is_demand


def _distance(line: RuleLine) -> tuple[bool, float]:
    """What is required before what is only recommended; how far from the limit, as a part of the band or the limit."""
    required = min(_distances(line.nearest, "must"), default=math.inf)
    return (
        (False, required) if required < math.inf else (True, min(_distances(line.nearest, "should"), default=math.inf))
    )


def _distances(finding: Finding, band: str) -> Iterator[float]:
    ends = [edge for edge in finding.edges if edge.band == band and math.isfinite(edge.value)]
    width = abs(ends[0].value - ends[-1].value) if len(ends) > 1 else abs(ends[0].value) if ends else 0.0
    for edge in ends:
        inside = finding.value - edge.value if edge.side == "low" else edge.value - finding.value
        yield inside / width if width else math.inf
