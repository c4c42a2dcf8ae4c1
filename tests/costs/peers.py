"""What the work costs in this project, written by hand, and in general libraries; then the other targets. By hand only.

python tests/costs/peers.py [--rows 10000] [--only NAME,...] [--targets] [--million]

Every library does the same 115 checks on the same assemblies (work.py, work_data.py), each limit with a tolerance of
1e-9, and its counts are compared with those of exact decimal arithmetic. Costs are processor time of one thread; each
sample stands beside one of numpy written by hand, and the ratio is the median of those pairs. A library that is not
installed is left out: python -m pip install simpleeval numexpr.
"""

from __future__ import annotations

import argparse
import os

import numpy as np
from libraries import PEERS, Peer
from measuring import Work, beside
from ours import agreement, this_project
from targets import print_targets
from work import CHECKS
from work_data import Assemblies, assemblies
from work_reference import REFERENCE_ROWS, reference

NUMPY = "numpy by hand"
THREADS = ("POLARS_MAX_THREADS", "OMP_NUM_THREADS", "NUMEXPR_MAX_THREADS")
"""What libraries look at when they are first imported, which is when they are first asked to work."""
LINE = "{:34} {:>8} {:>12} {:>9}  {:24} {}"


def said(differences: int | None) -> str:
    """How the verdicts compare with exact ones."""
    return "not compared" if differences is None else "all as exact" if not differences else f"{differences} differ"


def print_peer(peer: Peer, all_rows: Assemblies, yardstick: Work) -> None:
    """A line of the table."""
    rows = min(len(all_rows.uses), peer.most)
    few = all_rows.some(slice(0, rows))
    try:
        run = peer.prepare(few)
    except ImportError as error:
        print(LINE.format(peer.name, rows, "", "", f"{error.name} is not installed", ""))
        return
    counts = run()
    differences = int(np.abs(counts - reference(rows)).sum()) // 2
    each, ratio = beside(run, yardstick)
    ratio *= len(all_rows.uses) / rows
    print(
        LINE.format(peer.name, rows, f"{each / rows * 1e6:.2f} us", f"{ratio:.2f}", said(differences), peer.how),
        flush=True,
    )


def print_peers(rows: int, only: set[str]) -> None:
    """The table of all who do the work."""
    whole = assemblies(rows)
    print(f"{len(CHECKS)} checks, 641 verdicts on each of {rows} assemblies; processor time, one thread\n")
    print(LINE.format("", "rows", "an assembly", "x numpy", "verdicts", "how"))
    by_hand = next(peer for peer in PEERS if peer.name == NUMPY)
    yardstick = by_hand.prepare(whole)
    for peer in PEERS:
        if not only or peer.name in only:
            print_peer(peer, whole, yardstick)
    if not only or "this project" in only:
        for name, how, work in this_project(whole):
            each, ratio = beside(work, yardstick, 3)
            told = said(agreement(whole.some(slice(0, REFERENCE_ROWS)))) if name == "this project" else ""
            print(LINE.format(name, rows, f"{each / rows * 1e6:.2f} us", f"{ratio:.2f}", told, how), flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--rows", type=int, default=10_000)
    parser.add_argument("--only", default="")
    parser.add_argument("--targets", action="store_true")
    parser.add_argument("--million", action="store_true")
    options = parser.parse_args()
    os.environ.update(dict.fromkeys(THREADS, "1"))
    if not options.targets:
        print_peers(options.rows, set(filter(None, options.only.split(","))))
    print_targets(options.million)
