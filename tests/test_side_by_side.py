"""Several sessions on one record, and several threads on one rulebook: nothing is lost, and nothing differs."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

import pytest
from sheet_tools import HEAD, record, rulebook
from test_measure import session

from checker import read_record, write_json
from checker.bench.session import Bench
from checker.cli.record_file import RecordFile

SESSIONS, EACH = 8, 4  # with 25 it is a minute on a busy machine
SEATS = SESSIONS * EACH // 4  # four sizes are measured at each seat
SIZES = ("bore", "depth", "width", "height")
CHARACTERISTICS = "\n".join(
    f"  {size}: {{title: {size}, per: seat, unit: mm, plausible: [1 mm, 99 mm]}}" for size in SIZES
)
PACK = f"""pack: seats
version: 1.0.0
rule_language: 1
title: Seats
applications: {{general: {{title: General}}}}
milestones: [closed]
stations: {{seat: {{title: Seat}}}}
characteristics:
{CHARACTERISTICS}
rules:
""" + "".join(
    f"  {size}: {{title: {size}, before: closed, judges: {size}, limits: {{any: {{must: {{at_least: 20 mm}}}}}}, "
    "basis: {kind: shop policy}}\n"
    for size in SIZES
)
MANY = f"""record: 1
assembly: Block
application: general
rule_packs: {{seats: ">=1"}}
stations: {{seat: {SEATS}}}
readings: {{}}
"""
TWO = HEAD + "readings: {}\n"
TODAY = date(2026, 5, 3)

BENCH = """
import sys
from datetime import date
from pathlib import Path
from checker import load_rulebook
from checker.bench.session import Bench
from checker.cli.record_file import RecordFile

folder, own, each = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
file = RecordFile(folder / "record.yaml")
bench = Bench(load_rulebook(folder / "seats"), file.read(), "record.yaml", file.change, date(2026, 5, 3))
for key in [step.key for step in bench.steps][own * each : (own + 1) * each]:
    while bench.step.key != key:
        bench.skip()
    reply = bench.enter(f"30.{own}")
    assert not reply.refused, reply.refused
    print(*key, f"30.{own} mm", flush=True)
"""


def bench_in(folder: Path, number: int) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", BENCH, str(folder), str(number), str(EACH)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def test_eight_sessions_at_once_lose_no_reading_that_was_acknowledged(tmp_path: Path) -> None:
    path, pack = tmp_path / "record.yaml", tmp_path / "seats"
    pack.mkdir()
    (pack / "pack.yaml").write_text(PACK)
    path.write_text(MANY)
    sessions = [bench_in(tmp_path, number) for number in range(SESSIONS)]
    told = [opened.communicate() for opened in sessions]
    assert [opened.returncode for opened in sessions] == [0] * SESSIONS, told
    acknowledged = sorted(line for out, _ in told for line in out.splitlines())
    assert len(acknowledged) == SESSIONS * EACH
    found = read_record(path).notes
    assert sorted(f"{note.characteristic} {note.station} {note.written[0]}" for note in found) == acknowledged
    assert sorted(tmp_path.iterdir()) == [path, pack]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    found = tmp_path / "reducer.yaml"
    found.write_text(TWO)
    return found


def bench(path: Path) -> Bench:
    file = RecordFile(path)
    return Bench(rulebook(), file.read(), path.name, file.change, TODAY, before="shafts-in")


def written(path: Path) -> list[tuple[str, str, tuple[str, ...]]]:
    return [(note.characteristic, note.station, note.written) for note in read_record(path).notes]


def test_a_second_bench_adds_to_what_the_first_has_written(path: Path) -> None:
    first, second = bench(path), bench(path)
    second.skip()
    assert not first.enter("30.00").refused
    assert not second.enter("30.01").refused
    assert written(path) == [("shaft_diameter", "1", ("30.00 mm",)), ("shaft_diameter", "2", ("30.01 mm",))]
    assert first.step is not None
    assert first.step.key == ("shaft_diameter", "2")  # as it was asked before the second wrote
    assert "30.01 mm" in first.enter("30.05").refused[0]
    first.skip()
    assert not first.enter("30.05").refused
    assert (first.taken, second.taken) == (3, 2)


def test_two_values_for_one_station_are_both_told_and_the_first_stays(path: Path) -> None:
    first, second = bench(path), bench(path)
    first.enter("30.00")
    (reason,) = second.enter("30.02").refused
    assert "30.00 mm" in reason
    assert "30.02 mm" in reason
    assert written(path) == [("shaft_diameter", "1", ("30.00 mm",))]
    assert second.step is not None
    assert second.step.key == ("shaft_diameter", "1")
    assert not second.enter("30.02").refused  # knowing of the other, its builder insists
    assert written(path) == [("shaft_diameter", "1", ("30.02 mm",))]


def test_a_value_for_all_stations_does_not_cover_what_another_bench_measured(path: Path) -> None:
    first, second = bench(path), bench(path)
    first.enter("30.00")
    (reason,) = second.enter("30.02", for_all=True).refused
    assert "1: 30.00 mm" in reason


def test_the_same_value_from_two_benches_is_no_contradiction(path: Path) -> None:
    first, second = bench(path), bench(path)
    first.enter("30.00")
    assert not second.enter("30.00").refused
    assert written(path) == [("shaft_diameter", "1", ("30.00 mm",))]


def test_two_sessions_of_the_command_fill_in_one_record(path: Path) -> None:
    with session(path) as first, session(path) as second:
        first.type("30.00")
        assert "Not written down: another session has written 1: 30.00 mm there" in " ".join(
            second.type("30.02").split()
        )
        second.type("")
        second.type("")
        assert "Bearing bore" in first.type("30.01")
        second.type("30.05")
    assert [name for name, _, _ in written(path)] == ["shaft_diameter", "shaft_diameter", "bearing_bore"]


def test_what_a_killed_session_left_half_written_is_cleared_away(path: Path) -> None:
    left = path.with_name(f".{path.name}.0123abcd")
    left.write_text("half a rec")
    path.with_name(f".{path.name}.lock").touch()
    others = [path.with_name(name) for name in (f".{path.name}.mine", ".other.yaml.0123abcd", f"{path.name}.bak")]
    for other in others:
        other.touch()
    bench(path).enter("30.00")
    assert sorted(path.parent.iterdir()) == sorted([path, *others])


def test_many_threads_on_one_rulebook_say_what_one_says() -> None:
    built = record(HEAD + "readings: {shaft_diameter: [30.00 mm, 30.01 mm], bearing_bore: [30.05 mm, 30.08 mm]}\n")
    one = write_json(rulebook().check(built, on=TODAY))
    with ThreadPoolExecutor(16) as threads:
        reports = threads.map(lambda _: write_json(rulebook().check(built, on=TODAY)), range(64))
        assert set(reports) == {one}
