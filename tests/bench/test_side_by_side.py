"""Several sessions on one record, and several threads on one rulebook: nothing is lost, and nothing differs."""

from __future__ import annotations

import pickle
import subprocess
import sys
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from enum import Enum
from functools import cache
from numbers import Number
from pathlib import Path
from types import FunctionType, MethodType
from typing import Any

import numpy as np
import pytest
from pack_tools import gear_record, gear_rulebook, write_pack
from plugin_tools import plug_in, plug_in_gear_train
from sheet_tools import HEAD, record, rulebook
from terminal import session

from checker import PluginError, load_rulebook, read_record, write_json
from checker.bench.session import Bench
from checker.cli.record_file import RecordFile
from checker.errors import Place
from checker.frozen import FrozenList, FrozenMapping
from checker.records.demo import demo_record

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
    "basis: shop policy}\n"
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
        assert "Not saved: another session has written 1: 30.00 mm there" in " ".join(second.type("30.02").split())
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


ATOMS = (str, bytes, Number, type(None), Enum, date, Path, type, FunctionType, MethodType, np.generic, np.ufunc, Place)
READ_ONLY = (FrozenMapping, FrozenList)


@cache
def public(kind: type) -> tuple[str, ...]:
    return tuple(name for name in dir(kind) if not name.startswith("_") and name not in ("count", "index"))


def reachable(*roots: Any) -> Iterator[tuple[Any, str]]:
    """Everything that public attributes, keys and items lead to, each once, with the last step of the way to it."""
    seen: dict[int, Any] = {}
    waiting: list[tuple[Any, str]] = [(root, "") for root in roots]
    while waiting:
        thing, step = waiting.pop()
        if isinstance(thing, ATOMS) or id(thing) in seen:
            continue
        seen[id(thing)] = thing
        yield thing, step
        if isinstance(thing, Mapping):
            waiting += [(inner, step) for key in thing for inner in (key, thing.get(key))]
        elif isinstance(thing, (tuple, list, set, frozenset)):
            waiting += [(inner, step) for inner in thing]
        if not isinstance(thing, (dict, list, set, frozenset, np.ndarray)) and type(thing) is not tuple:
            own = (*public(type(thing)), *getattr(thing, "_fields", ()), *getattr(thing, "__dict__", ()))
            waiting += [(getattr(thing, name), name) for name in own if not name.startswith("_")]


def writable(*roots: Any) -> list[str]:
    kinds = (dict, list, set, bytearray)
    return [
        step or type(thing).__name__
        for thing, step in reachable(*roots)
        if (isinstance(thing, kinds) and not isinstance(thing, READ_ONLY))
        or (isinstance(thing, np.ndarray) and thing.flags.writeable)
    ]


def test_nothing_that_a_report_or_a_rulebook_leads_to_can_be_written_into() -> None:
    book = load_rulebook("four-stroke")
    report = book.check(demo_record(), on=TODAY)
    assert len(report.findings) > 300
    assert writable(book, report) == []


def test_the_walk_sees_what_can_be_written_into() -> None:
    report = rulebook().check(record(HEAD + "readings: {}\n"), on=TODAY)
    assert writable(report, [np.zeros(2)], ({"a": {1}},)) != []
    assert len(writable([np.zeros(2)], ({"a": {1}},))) == 4


@pytest.mark.parametrize("change", ["update", "clear", "pop", "setdefault", "popitem", "__setitem__", "__ior__"])
def test_a_mapping_of_a_report_refuses_every_change(change: str) -> None:
    counts = rulebook().check(record(HEAD + "readings: {}\n"), on=TODAY).counts
    with pytest.raises(TypeError, match=r"shared and read-only; make your own with dict\(\.\.\.\)"):
        getattr(counts, change)({})


@pytest.mark.parametrize("change", ["append", "extend", "insert", "pop", "remove", "sort", "reverse", "__iadd__"])
def test_a_list_of_a_record_refuses_every_change(change: str) -> None:
    document = record(HEAD + "readings: {shaft_diameter: [30.00 mm, 30.01 mm]}\n").document
    sizes = document.data["readings"]["shaft_diameter"]
    with pytest.raises(TypeError, match="shared and read-only"):
        getattr(sizes, change)()
    assert sizes == ["30.00 mm", "30.01 mm"]


def there_and_back(thing: Any) -> Any:
    return pickle.loads(pickle.dumps(thing))  # noqa: S301 - our own


def test_what_is_sent_to_another_process_says_the_same_there() -> None:
    book, built = gear_rulebook(), gear_record({"backlash": "{1: 0.6 mm, 2: 0.05 mm}", "gear_module": "{all: 2 mm}"})
    report = book.check(built, on=TODAY)
    sent, sent_book = there_and_back((report, book))
    assert write_json(sent) == write_json(sent_book.check(built, on=TODAY)) == write_json(report)
    assert writable(sent) == []
    for finding in report.findings:
        found = there_and_back(finding)
        assert (str(found), found.source, found.missed_by, found.remedy) == (
            str(finding),
            finding.source,
            finding.missed_by,
            finding.remedy,
        )
        limits, sent_limits = finding.rule.limits, found.rule.limits
        position = (("general",), "must", "high")
        assert [one.bound.limit for one in sent_limits.candidates(*position)] == [
            one.bound.limit for one in limits.candidates(*position)
        ]


def test_what_a_plugin_calculates_goes_by_the_name_of_its_plugin(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plug_in_gear_train(tmp_path, monkeypatch)
    code = """
        SIZE = dimension_of("mm")

        @hook
        def functions():
            return {"twice": Function("twice", (SIZE,), SIZE, call=lambda size: 2 * size)}
    """
    plug_in(tmp_path / "twice", monkeypatch, code, name="doubling")
    pack = (
        "pack: shop\nversion: 1.0.0\nrule_language: 1\ntitle: Shop\nbuilds_on: {gear-train: '>=1'}\n"
        "rules:\n  double:\n    title: Double\n    before: housing-closed\n    judges: twice(backlash)\n    unit: mm\n"
        "    limits: {any: {must: {at_most: 1 mm}}}\n    basis: shop policy\n    remedy: {high: Less.}\n"
    )
    book = load_rulebook(write_pack(tmp_path / "shop", pack=pack))
    report = book.check(gear_record({"backlash": "{1: 0.6 mm}"}), on=TODAY)
    (finding,) = (found for found in report.outside if found.name == "double")
    sent, sent_finding = there_and_back((report, finding))
    assert write_json(sent) == write_json(report)
    assert str(sent_finding) == str(finding)
    data = pickle.dumps(finding)
    monkeypatch.setattr("checker.plugins.installed", list)
    with pytest.raises(PluginError, match=r"plugin doubling 1\.0 was used, and is not installed here"):
        pickle.loads(data)  # noqa: S301 - our own


def test_many_threads_on_one_rulebook_say_what_one_says() -> None:
    built = record(HEAD + "readings: {shaft_diameter: [30.00 mm, 30.01 mm], bearing_bore: [30.05 mm, 30.08 mm]}\n")
    one = write_json(rulebook().check(built, on=TODAY))
    with ThreadPoolExecutor(16) as threads:
        reports = threads.map(lambda _: write_json(rulebook().check(built, on=TODAY)), range(64))
        assert set(reports) == {one}
