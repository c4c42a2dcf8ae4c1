"""An invented shop that presses bushes over pins, and what `checker batch` makes of its tables."""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.ipc
import pyarrow.parquet
from pack_tools import write_pack

from checker.cli import main
from checker.fleet.capability import Capability, capabilities
from checker.fleet.seen import OfRule, Seen, Values, moments_of

PACK = """
pack: bush-shop
version: 1.0.0
rule_language: 1
title: Bushes on pins
applications: {plain: {title: Plain running}}
milestones: [done]
stations: {bush: {title: Bush}}
characteristics:
  pin: {title: Pin diameter, per: bush, unit: mm, plausible: [1 mm, 100 mm]}
  bore: {title: Bush bore, per: bush, unit: mm, plausible: [1 mm, 100 mm]}
  clearance: {title: Clearance, per: bush, unit: mm, plausible: [-1 mm, 1 mm], derived: bore - pin}
  alloy: {title: Alloy of the bushes, choices: ["660", "932"]}
  end_gap: {title: End gap, unit: mm, plausible: [0 mm, 5 mm]}
rules:
  clearance:
    title: Clearance of a bush
    before: done
    judges: clearance
    per_unit_of: pin
    limits: {any: {must: {at_least: 0.001, at_most: 0.004}, should: {at_most: 0.0035}}}
    basis: shop policy
    remedy: {low: "Ream {limit - value}.", high: "Another bush."}
  end-gap:
    title: End gap
    before: done
    judges: end_gap
    limits: {any: {must: {at_least: 0.1 mm, at_most: 0.5 mm}}}
    basis: shop policy
    remedy: {low: "Shim.", high: "Another shim."}
  alloy:
    title: Alloy of the bushes
    before: done
    judges: alloy
    limits: {any: {should: {one_of: ["932"]}}}
    basis: shop policy
    remedy: {broken: Other bushes.}
  pin-size:
    title: Size of a pin
    before: done
    judges: pin
    limits: {any: {should: {at_most: 20.003 mm}}}
    basis: shop policy
    remedy: {high: "Lap the pin by {value - limit}."}
"""
RECORD = """
record: 1
assembly: All of them
application: plain
units: {length: mm}
stations: {bush: 2}
instruments: {micrometer: {expanded_uncertainty: 0.002 mm}}
"""
COLUMNS = ("pin@1", "bore@1", "pin@2", "bore@2", "end_gap")


def shop(folder: Path) -> tuple[str, ...]:
    """The pack and the record that is alike for all, as options of the command."""
    pack = write_pack(folder / "bush-shop", pack=PACK)
    record = folder / "shop.yaml"
    record.write_text(RECORD)
    return "--pack", str(pack), "--record", str(record)


def bushes(rows: int, seed: int = 1) -> dict[str, list[Any]]:
    """A table of so many assemblies, nearly all of them good."""
    random = np.random.default_rng(seed)
    found: dict[str, list[Any]] = {"serial": [f"B{number:05}" for number in range(rows)]}
    for station in (1, 2):
        found[f"pin@{station}"] = (20 + random.normal(0, 0.002, rows)).round(3).tolist()
        found[f"bore@{station}"] = (20.05 + random.normal(0, 0.006, rows)).round(3).tolist()
    found["end_gap"] = (0.3 + random.normal(0, 0.03, rows)).round(2).tolist()
    return found


def write_table(path: Path, table: Mapping[str, Sequence[Any]], block: int = 1_000_000) -> Path:
    """A table in the kind of file that the suffix names, in blocks of so many rows."""
    if path.suffix == ".csv":
        with path.open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(table)
            writer.writerows(
                ["" if cell is None else cell for cell in row] for row in zip(*table.values(), strict=True)
            )
    elif path.suffix == ".parquet":
        pa.parquet.write_table(pa.table(dict(table)), path, row_group_size=block)
    else:
        whole = pa.table(dict(table))
        with pa.ipc.new_file(path, whole.schema) as file:
            file.write_table(whole, max_chunksize=block)
    return path


def long_table(table: Mapping[str, Sequence[Any]]) -> dict[str, list[Any]]:
    """The same with a row for each value, those of an assembly together; all values as texts."""
    lines = [
        (name, *column.partition("@")[::2], str(cells[row]))
        for row, name in enumerate(table["serial"])
        for column, cells in table.items()
        if column != "serial" and cells[row] is not None
    ]
    columns = list(zip(*lines, strict=True)) or [()] * 4
    return dict(zip(("assembly", "characteristic", "station", "value"), map(list, columns), strict=True))


def batch(*arguments: object) -> int:
    """Run the command in this program."""
    return main(["batch", *map(str, arguments)])


def read(folder: Path, name: str) -> list[dict[str, Any]]:
    """The rows of one of the tables that were written, in the order of the parts."""
    found: list[dict[str, Any]] = pa.parquet.read_table(folder / name).to_pylist()
    return [{key: value for key, value in row.items() if key != "file"} for row in found]


def summary(folder: Path) -> dict[str, Any]:
    """The summary as data."""
    found: dict[str, Any] = json.loads((folder / "summary.json").read_text())
    return found


def shown_capabilities() -> list[Capability]:
    """Capabilities of every look: limits on both sides, on one, of each value's own, too few values, and none."""
    random = np.random.default_rng(7)
    found: list[Capability] = []
    for name, count, low, high, values in (
        ("Both limits", 900, 0.1, 0.5, random.normal(0.3, 0.04, 900)),
        ("At most", 900, -np.inf, 0.5, random.normal(0.3, 0.04, 900) + np.linspace(0, 0.1, 900)),
        ("Own limits", 900, np.linspace(0.1, 0.12, 900), 0.5, random.normal(0.3, 0.04, 900)),
        ("Skewed", 900, 0.0, 0.5, random.exponential(0.1, 900)),
        ("Few", 3, 0.1, 0.5, random.normal(0.3, 0.04, 3)),
        ("Alike", 30, 0.1, 0.5, np.full(30, 0.3)),
    ):
        when = np.arange(count, dtype=np.float64)
        ends = (np.broadcast_to(np.asarray(end, dtype=np.float64), count) for end in (low, high))
        sample = Values(when, values, *ends)
        kinds = frozenset({("must", bool(np.isfinite(low).all()), True)})
        extents = ((float(end.min()), float(end.max())) for end in (sample.low, sample.high))
        moments = moments_of(when, values)
        seen = Seen(moments, moments_of(when, sample.place), 0, 0, 0, kinds, *extents, sample)
        found += capabilities(name, OfRule(name, "mm", {0: seen}, moments), "", False)
    return found
