"""An invented engine of an invented shop, and what stands on its shelf."""

from __future__ import annotations

from pathlib import Path

import checker

from checker_select_fit import Proposal, propose, read_shelf

RULEBOOK = checker.load_rulebook("four-stroke")

MAINS = """
record: 1
assembly: Training engine 12
application: street-performance
before: pistons-in
rule_packs: {four-stroke: ">=1,<2"}
stations: {main: 5}
instruments:
  micrometer: {title: Micrometer, expanded_uncertainty: 0.1 thou}
  bore-gauge: {title: Bore gauge, expanded_uncertainty: 0.1 thou}
facts:
  main_upper_shell_undersize: [0 in, 0 in, 0 in, 0 in, 0 in]
  main_lower_shell_undersize: [0 in, 0 in, 0 in, 0 in, 0 in]
readings:
  main_bearing_bore: {with: bore-gauge, values: [2.5025 in, 2.5026 in, 2.5031 in, 2.5026 in, 2.5036 in]}   # shells in
  main_journal_diameter: {with: micrometer, values: [2.5000 in, 2.5000 in, 2.5000 in, 2.5000 in, 2.5000 in]}
"""

SHELLS = """
shelf: 1
parts:
  - {kind: main shell, part: thin, size: -0.001 in, count: 2}
  - {kind: main shell, part: one under, size: 0.001 in, count: 4}
  - {kind: main shell, part: two under, size: 0.002 in, count: 2}
"""

PISTONS = """
record: 1
assembly: Training engine 13
application: street-performance
before: crank-in
rule_packs: {four-stroke: ">=1,<2"}
stations: {cylinder: %d}
facts: {piston_alloy: "4032", skirt_coating: bare, bore_surface: iron}
readings:
  cylinder_bore: [%s]
  piston_diameter: [%s]
"""


def pistons(bores: list[float], diameters: list[float]) -> str:
    """A record of bores and the pistons in them, in inches."""
    rows = (", ".join(f"{size:.4f} in" for size in sizes) for sizes in (bores, diameters))
    return PISTONS % (len(bores), *rows)


def proposed(folder: Path, record: str, shelf: str, name: str = "shelf.yaml", **more) -> Proposal:
    """What is proposed for the text of a record and of a shelf."""
    path = folder / name
    path.write_text(shelf)
    read = checker.record_from_text(record, "engine.yaml")
    return propose(RULEBOOK, read, read_shelf(path, RULEBOOK), **more)


def moved(proposal: Proposal) -> list[tuple[int, str, str]]:
    """The moves, in short: station, slot, and the name of the part."""
    return [(move.station + 1, move.slot, move.new.split(" (")[0]) for move in proposal.moves]


def verdicts(report: checker.Report, rule: str) -> list[str]:
    """What a rule says, station by station."""
    found = sorted((finding for finding in report.findings if finding.name == rule), key=lambda one: one.station)
    return [str(finding.verdict) for finding in found]
