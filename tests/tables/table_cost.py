"""What a table costs: as one block, row by row, and in numpy written by hand for the clearance rule. By hand only.

python tests/tables/table_cost.py [ROWS]
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np

import checker

STATIONS = 5
ALONE = 40
"""So many rows are checked one by one; what one costs does not hang on how many there are."""
RULE = "main-oil-clearance"
LIMITS = ("must_low", "should_low", "should_high", "must_high")


def seconds(work: Callable[[], Any], times: int = 3) -> float:
    """The least processor time of several runs."""
    found = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return min(found)


def main(rows: int) -> None:
    """Print the costs of a row, and their ratios, all of one run."""
    random = np.random.default_rng(1)
    journals = 2.449 + random.normal(0, 3e-4, (rows, STATIONS))
    bores = 2.4515 + random.normal(0, 3e-4, (rows, STATIONS))
    names = [f"{name}@{number + 1}" for name in ("main_journal_diameter", "main_bearing_bore") for number in range(5)]
    table = dict(zip(names, [*journals.T, *bores.T], strict=True))
    base = {"application": "street-performance", "units": {"length": "in"}, "stations": {"main": STATIONS}}
    book = checker.load_rulebook("four-stroke")
    one = book.only(RULE)

    def record(row: int) -> checker.Record:
        readings = {"main_journal_diameter": journals[row], "main_bearing_bore": bores[row]}
        return checker.record_from({"assembly": "one", **base, "readings": readings})

    found = one.check_table(table, base, verdicts=tuple(checker.Verdict))
    told = (found.findings[name].to_numpy().reshape(rows, STATIONS) for name in LIMITS)
    must_low, should_low, should_high, must_high = (limits * 0.0254 for limits in told)

    def by_hand() -> Any:
        clearance = (bores - journals) * 0.0254
        codes = np.full(clearance.shape, checker.Verdict.WITHIN, dtype=np.int8)
        codes[(clearance < should_low) | (clearance > should_high)] = checker.Verdict.ADVISORY
        codes[(clearance < must_low) | (clearance > must_high)] = checker.Verdict.OUTSIDE
        codes[np.isnan(clearance)] = checker.Verdict.NOT_MEASURED
        return (codes == checker.Verdict.OUTSIDE).sum(axis=1)

    assert (by_hand() == found.counts["outside"].to_numpy()).all()
    book.check_table({name: column[:10] for name, column in table.items()}, base)
    gauged = {**base, "instruments": {"gauge": {"expanded_uncertainty": "0.1 thou", "shared": "0.05 thou"}}}
    measured: dict[str, Any] = {"instruments": dict.fromkeys(("main_journal_diameter", "main_bearing_bore"), "gauge")}
    costs = {
        "hand-written numpy, one rule, limits given": seconds(by_hand) / rows,
        "check_table, one rule": seconds(lambda: one.check_table(table, base, verdicts=())) / rows,
        "check_table, one rule, its findings": seconds(lambda: one.check_table(table, base)) / rows,
        f"check_table, all {len(book.rules)} rules": seconds(lambda: book.check_table(table, base)) / rows,
        "check_table, one rule, with instruments": seconds(lambda: one.check_table(table, gauged, **measured)) / rows,
        "check_table, all of them, with instruments": seconds(lambda: book.check_table(table, gauged, **measured))
        / rows,
        "check, one rule": seconds(lambda: [one.check(record(row)) for row in range(ALONE)]) / ALONE,
        f"check, all {len(book.rules)} rules": seconds(lambda: [book.check(record(row)) for row in range(ALONE)])
        / ALONE,
    }
    least = min(costs.values())
    for name, cost in costs.items():
        print(f"{name:45} {cost * 1e6:10.2f} us a row {cost / least:12.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000)
