"""What is aimed at besides the work of the peers: each a ratio of two costs of one run, with its target."""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from statistics import median
from typing import Any, NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from libraries import PEERS
from measuring import Elsewhere, beside, children_time, clock_time, started
from ours import columns, rulebook
from work import USES
from work_data import assemblies
from work_pack import base

import checker

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "rules" / "demo_record.yaml"
COMMAND = Path(sys.executable).with_name("checker")
REQUIREMENTS = "import numpy, pint, jsonschema, asteval, pluggy, yaml"
BEFORE = "1e7f62a"
GROUP = 25_000
"""So many rows of a Parquet file are read and judged at a time."""
INCH = 0.0254

DEMO = """
import sys, time
import checker
book, record = checker.load_rulebook("four-stroke"), checker.read_record(sys.argv[1])
def work():
    return len(book.check(record).findings)
work()
print(work(), flush=True)
for _ in sys.stdin:
    start = time.process_time(); work(); print(time.process_time() - start, flush=True)
"""


class Measured(NamedTuple):
    """Something measured: the most it should be, what it is, and how it was obtained."""

    name: str
    target: float
    value: float
    how: str
    unit: str = "x"

    @property
    def is_met(self) -> bool:
        return self.value <= self.target


@contextmanager
def commit(name: str) -> Iterator[Path]:
    """A folder with the packages of this project as they stood at a commit."""
    with tempfile.TemporaryDirectory() as folder:
        tree, packages = Path(folder) / "tree", Path(folder) / "packages"
        subprocess.run(["git", "-C", ROOT, "worktree", "add", "--detach", "--quiet", tree, name], check=True)
        try:
            packages.mkdir()
            (packages / "checker").symlink_to(tree / "checker")
            (packages / "checker_rules").symlink_to(tree / "rules")
            yield packages
        finally:
            subprocess.run(["git", "-C", ROOT, "worktree", "remove", "--force", tree], check=True)


def demo_then_and_now() -> Iterator[Measured]:
    """The example of the command, judged with a loaded rulebook and every finding made: each commit its own."""
    with commit(BEFORE) as packages:
        command = [sys.executable, "-c", DEMO]
        old_example = (packages / "checker_rules").resolve() / EXAMPLE.name
        old, new = Elsewhere([*command, str(old_example)], packages), Elsewhere([*command, str(EXAMPLE)], ROOT)
        ratio = median(new.cost() / old.cost() for _ in range(7))
        old.end(), new.end()
    how = f"{new.said} findings of our packs now against {old.said} of those then"
    yield Measured(f"complete demo, warm, against {BEFORE}", 1 / 6, ratio, how)
    yield Measured("  the same for each finding", 1 / 6, ratio * int(old.said) / int(new.said), how)


def ten_readings() -> Iterator[Measured]:
    """Five journals and five bores: status and what is outside, against the same comparisons written by hand."""
    book = checker.load_rulebook("four-stroke")
    sizes = {"main_journal_diameter": ["2.449 in"] * 5, "main_bearing_bore": ["2.4515 in"] * 5}
    head = {"record": 1, "assembly": "ten readings", "application": "street-performance"}
    record = checker.record_from(
        {**head, "rule_packs": {"four-stroke": ">=1"}, "stations": {"main": 5}, "readings": sizes}
    )
    journals, bores = ([value * INCH for value in values] for values in ([2.449] * 5, [2.4515] * 5))
    report = book.check(record)
    told = {checker.Verdict.WITHIN, checker.Verdict.ADVISORY, checker.Verdict.OUTSIDE}
    judged = {finding.name: 0 for finding in report.with_verdict(*told)}

    def by_hand() -> tuple[int, list[str]]:
        clearances = [bore - journal for bore, journal in zip(bores, journals, strict=True)]
        outside, advised, open_musts = [], [], len(report.judged) - len(judged)
        for station, (clearance, journal) in enumerate(zip(clearances, journals, strict=True)):
            low = max(0.0003 * journal, 0.0005 * INCH)
            high = max(0.0010 * journal + 0.0015 * INCH, 0.0015 * journal)
            if clearance < low - 1e-12 or clearance > high + 1e-12:
                outside.append(f"main oil clearance {station + 1}")
            elif clearance < 0.0009 * journal - 1e-12 or clearance > 0.0010 * journal + 0.0005 * INCH + 1e-12:
                advised.append(f"main oil clearance {station + 1}")
        if max(clearances) - min(clearances) > 0.0005 * INCH + 1e-12:
            advised.append("main oil clearance, spread")
        return 1 if outside else 3 if open_musts else 0, outside

    def ours() -> tuple[int, object]:
        found = book.check(record)
        return found.status, found.outside

    assert judged.keys() == {"main-oil-clearance", "main-clearance-spread"}
    assert by_hand() == (ours()[0], [])
    each, ratio = beside(ours, lambda: [by_hand() for _ in range(100)], 15)
    how = f"{each * 1e3:.1f} ms; of {len(report.judged)} rules {len(judged)} have readings, and these by hand"
    yield Measured("ten readings, against plain Python", 20, ratio * 100, how)
    text = checker.write_json(report)
    _, ratio = beside(lambda: checker.write_json(report), lambda: book.check(record), 15)
    yield Measured("JSON of ten readings, against its check", 0.5, ratio, "write_json(report)")
    yield Measured("  its length", 60, len(text.encode()) / 1e3, "UTF-8", "kB")


def example() -> Iterator[Measured]:
    """The JSON of the example, and every use of it with a loaded rulebook."""
    book, record = checker.load_rulebook("four-stroke"), checker.read_record(EXAMPLE)
    report = book.check(record)
    _, ratio = beside(lambda: checker.write_json(report), lambda: book.check(record), 7)
    yield Measured("JSON of the demo, against its check", 0.5, ratio, "write_json(report)")
    _, ratio = beside(lambda: list(book.check_uses(record)), lambda: book.check(record), 5)
    yield Measured("uses against check, warm", 1.5, ratio, f"{len(book.applications)} uses, without findings")


def commands() -> Iterator[Measured]:
    """Cold commands."""
    bare, check = started(sys.executable, "-c", REQUIREMENTS), started(COMMAND, "check", EXAMPLE)
    for clock, words in ((children_time, "processor time"), (clock_time, "by the clock")):
        _, ratio = beside(check, bare, 7, clock)
        yield Measured(f"cold check of the demo, {words}", 1.3, ratio, f"against {REQUIREMENTS}")
    _, ratio = beside(started(COMMAND, "uses", EXAMPLE), check, 5, children_time)
    yield Measured("uses against check, cold commands", 1.5, ratio, "every use of the demo, processor time")


def in_doubt() -> Iterator[Measured]:
    """One block with an instrument named for every size, against the same without."""
    book, some = rulebook(), assemblies(500)
    one = some.some(np.flatnonzero(some.uses == 0))
    table, alike = pa.table(columns(one)), base("street")
    gauges = {"instruments": {"gauge": {"expanded_uncertainty": "0.05 thou"}}}
    lengths = [name.partition("@")[0] for name in table.column_names]
    measured = {name: "gauge" for name in lengths if _is_length(book, name)}

    def doubtful() -> object:
        return book.check_table(table, {**alike, **gauges}, instruments=measured, verdicts=())

    _, ratio = beside(doubtful, lambda: book.check_table(table, alike, verdicts=()), 3)
    yield Measured(
        "with doubt against without, same block", 4, ratio, f"{table.num_rows} rows, every length with a gauge"
    )


def _is_length(book: checker.Rulebook, name: str) -> bool:
    unit = book.characteristics[name].unit
    return unit is not None and unit.kind == "length" and unit.name != "uin"


def judge_file(path: str, use: int) -> tuple[int, int, float]:
    """Rows judged, rows rejected and peak memory in MB of one Parquet file, a group of rows after the other."""
    book, alike = rulebook(), base(USES[use])
    judged = rejected = 0
    for group in pq.ParquetFile(path).iter_batches(GROUP):
        counts = book.check_table(pa.Table.from_batches([group]), alike, verdicts=()).counts
        judged += counts.num_rows
        rejected += int((counts["status"].to_numpy() == 1).sum())
    return judged, rejected, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _in_programs(files: list[str], programs: int) -> list[tuple[int, int, float]]:
    with ProcessPoolExecutor(programs, get_context("spawn")) as pool:
        return list(pool.map(judge_file, files, [0] * len(files)))


def many(rows: int) -> Iterator[Measured]:
    """Parquet files: of one use, so that each is one table."""
    small = assemblies(10_000)
    book, alike = rulebook(), base("street")
    numpy_by_hand = next(peer for peer in PEERS if peer.name == "numpy by hand").prepare(small)
    with tempfile.TemporaryDirectory() as folder:
        table = pa.table(columns(small._replace(uses=np.zeros_like(small.uses))))
        files = [str(Path(folder) / f"{number}.parquet") for number in range(max(2, rows // 10_000))]
        for file in files:
            pq.write_table(table, file)

        def judged() -> object:
            with pq.ParquetFile(files[0], pre_buffer=False) as file:  # as a batch reads it
                return book.check_table(file.read(use_threads=False), alike, verdicts=())

        _, ratio = beside(judged, numpy_by_hand, 3)
        yield Measured("Parquet to verdicts against numpy in memory", 4, ratio, "10,000 rows, one core")
        _, ratio = beside(lambda: _in_programs(files, 2), lambda: _in_programs(files, 1), 1, clock_time)
        yield Measured("two processes against one", 0.65, ratio, f"{len(files)} files of 10,000 rows, by the clock")
        peak = max(peak for _, _, peak in _in_programs(files, 1))
        yield Measured("peak memory of a process", 600, peak, f"{len(files)} files, one after the other", "MB")
    large = pa.concat_tables([table] * 10)  # more at once would be 5 GB in memory
    each = [partial(book.check_table, it, alike, verdicts=()) for it in (large, table)]
    _, ratio = beside(*each, 1)
    yield Measured("cost per record, 100,000 against 10,000", 1.05, ratio / 10, "one table in memory")


def on_their_limits(rows: int) -> Iterator[Measured]:
    """Readings on a limit, or a step of their last digit beside it; what is exact is worked out in whole numbers."""
    random = np.random.default_rng(11)
    step, steps = 10_000, random.integers(-1, 2, (rows, 5))  # 0.0001 in; all in units of 1e-8 in
    journal = 244_850_000 + step * random.integers(-3, 4, (rows, 5))
    shell = 9_500_000 + step * random.integers(-3, 4, (rows, 5))
    housing = journal + 2 * shell + np.where(random.random((rows, 5)) < 0.5, 170_000, 330_000) + step * steps
    front = (
        journal + np.where(random.random((rows, 5)) < 0.5, -50_000, 50_000) + step * random.integers(-1, 2, (rows, 5))
    )
    sizes = {
        "journal_x": journal,
        "shell": shell,
        "housing_x": housing,
        "journal_front": front,
        "journal_rear": journal,
    }
    left = housing - 2 * shell - journal
    exact = {
        "stackup-9": (left < 170_000) | (left > 330_000),
        "taper-6": np.abs(front - journal) > 50_000,
        "range-13": (shell < 9_480_000) | (shell > 9_520_000),
        "range-5": (journal < 244_810_000) | (journal > 244_890_000),
    }
    table = {
        f"main_{name}@{station + 1}": one[:, station] / 10_000 / 10_000
        for name, one in sizes.items()
        for station in range(5)
    }
    report = rulebook().only(*exact).check_table(table, base("street"))
    found = {name: np.zeros((rows, 5), dtype=np.bool_) for name in exact}
    findings = report.findings.to_pandas()
    for name, own in findings.groupby("rule", observed=True):
        found[name][own["row"], own["station"] - 1] = True
    differing = sum(int((found[name] != exact[name]).sum()) for name in exact)
    on_limit = int(np.isin(left, (170_000, 330_000)).sum() + (np.abs(front - journal) == 50_000).sum())
    how = f"{rows * 5 * len(exact):,} verdicts, {on_limit:,} of them exactly on their limit, against whole numbers"
    yield Measured("verdicts that differ from exact ones", 0, differing, how, "")


def print_targets(is_million: bool) -> None:
    """The table of targets."""
    rows = 1_000_000 if is_million else 100_000
    measured: tuple[Callable[[], Any], ...] = (
        demo_then_and_now,
        ten_readings,
        example,
        commands,
        in_doubt,
        lambda: many(rows),
        lambda: on_their_limits(rows),
    )
    line = "{:46} {:>9} {:>12} {:7} {}"
    print("\n" + line.format("", "target", "measured", "", "how"))
    for measure in measured:
        for one in measure():
            target, value = (f"{number:.3g} {one.unit}" for number in (one.target, one.value))
            print(line.format(one.name, target, value, "met" if one.is_met else "missed", one.how), flush=True)
