"""The measure command at a pseudo-terminal, as over ssh: asked, answered, killed in the middle, and gone on with."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest
from pack_tools import GEAR_TRAIN
from sheet_tools import HEAD, essences
from terminal import ARGUMENTS, session

from checker import read_record
from checker.cli import main


@pytest.fixture
def path(tmp_path: Path) -> Path:
    found = tmp_path / "reducer.yaml"
    found.write_text(HEAD + "# mine\nreadings: {}   # nothing yet\n")
    return found


def readings(path: Path) -> list[str]:
    return [f"{name} {station + 1} {low * 1000:.5g}" for name, station, low, *_ in essences(read_record(path))]


def test_a_session_from_the_first_question_to_the_answer(path: Path) -> None:
    with session(path) as bench:
        assert "Shafts and bearings, before shafts-in (1 of 5)" in bench.said
        assert "Shaft diameter\n  outside micrometer" in bench.said
        assert bench.said.endswith("shaft 1, mm: ")
        assert bench.type("30.00").endswith("shaft 2, mm: ")
        bench.type("30.01")
        bench.type("30.05")
        assert "1 plain" in bench.type("30.06")
        assert "within: Shaft clearance in its bearing, shaft 1, 2 0.05 mm" in bench.type("1")
        assert "ALL REQUIRED CHECKS HOLD before shafts-in: 2 within." in bench.said
        assert bench.process.wait() == 0
    assert path.read_text().startswith(HEAD + "# mine\nreadings:   # nothing yet\n")


def test_killed_in_the_middle_it_loses_nothing_and_goes_on(path: Path) -> None:
    with session(path) as bench:
        bench.type("30.00")
        bench.type("30.01")
        bench.type("30.05")
        bench.kill()
    assert readings(path) == ["shaft_diameter 1 30", "shaft_diameter 2 30.01", "bearing_bore 1 30.05"]
    with session(path) as bench:
        assert "Reducer 7: 3 of 5 measured." in bench.said
        assert bench.said.endswith("shaft 2, mm: ")
        os.write(bench.master, b"30.0")  # typed, but not yet entered
        bench.kill()
    assert len(readings(path)) == 3
    with session(path) as bench:
        bench.type("30.06")
        bench.type("plain")
        assert bench.process.wait() == 0


@pytest.mark.parametrize("count", [2, 4])
def test_killed_at_any_question_every_answer_before_it_is_in_the_file(count: int, path: Path) -> None:
    with session(path) as bench:
        for text in ("30.00", "30.01", "30.05", "30.06")[:count]:
            bench.type(text)
        bench.kill()
    assert len(readings(path)) == count


def test_what_a_builder_does_at_the_bench(path: Path) -> None:
    with session(path, columns=100) as bench:
        assert "again " in bench.type("?")
        assert "Nothing was measured in this session yet," in bench.type("again")
        assert "Not saved: '1,234.5 mm'" in bench.type("1,234.5")
        assert "a hundred times off, 30.01 mm?" in bench.type("3001")
        bench.type("30.00")
        assert bench.type("again").endswith("shaft 1, mm [reading 2 beside 30.00 mm]: ")
        bench.type("30.02")
        assert bench.type("back").endswith("shaft 1, mm [30.00 mm, 30.02 mm]: ")
        bench.type("note burr at the edge")
        bench.type("1.1811 in")
        assert "There is no instrument 'micrometer' in the record." in bench.type("with micrometer")
        assert "Bearing bore" in bench.type("")
        bench.type("all 30.05")
        assert "3 of 5 measured." in bench.type("quit")
        assert bench.process.wait() == 3
    assert readings(path) == ["shaft_diameter 1 30", "bearing_bore 1 30.05", "bearing_bore 2 30.05"]
    assert "note: burr at the edge" in path.read_text()


def test_ring_gaps_are_in_within_five_lines_of_a_terminal_of_80_by_24(tmp_path: Path) -> None:
    """0.0045 and 0.0050 in for each inch of a 4.030 in bore make 0.0181 and 0.0202 in: makers' charts, from memory."""
    path = tmp_path / "engine.yaml"
    path.write_text(
        "record: 1\nassembly: Engine 5\napplication: street\nlayout: V8 with pushrods\n"
        "facts: {piston_alloy: cast}\nreadings: {cylinder_bore: {all: 4.0300 in}}\n"
    )
    with session(path, arguments=()) as bench:
        assert len(bench.type("?").split("\n")) <= 24
        assert bench.type("go ring gap").endswith("cylinder 1, in: ")
        assert "Top ring end gap\n" in bench.said
        assert "Second ring end gap" in bench.said
        assert "within: Top ring end gap, cylinder 1 to 8 0.0200 in" in bench.type("all .020")
        assert "more checks judged. Next best: " in bench.said
        assert len(bench.said.split("\n")) <= 24
        bench.type("all .021")
        assert "Engine 5" not in bench.type("quit")
    gaps = [note.characteristic for note in read_record(path).notes if note.station == "all"]
    assert gaps == ["cylinder_bore", "top_ring_gap", "second_ring_gap"]


def test_a_block_is_left_and_come_back_to(path: Path) -> None:
    with session(path, arguments=("--pack", str(GEAR_TRAIN))) as bench:
        assert "Shafts and bearings: left for another time." in bench.type("skip")
        assert "Shafts and bearings" not in bench.said.split("\n", 1)[1].split("left for another time.")[1]
        assert "No measurement that is asked for has 'gudgeon' in its title" in bench.type("go gudgeon")
        assert bench.type("go bearing bore").endswith("shaft 1, mm: ")
        assert "Bearing bore\n" in bench.said
        assert "Shaft diameter\n" in bench.type("first")


@pytest.mark.parametrize("key", [b"\x04", b"\x03"], ids=["end of input", "interrupt"])
def test_leaving_by_the_keyboard_is_as_good_as_quitting(key: bytes, path: Path) -> None:
    with session(path) as bench:
        bench.type("30.00")
        for _ in range(10):  # a key that comes just before the program listens is lost
            os.write(bench.master, key)
            with suppress(subprocess.TimeoutExpired):
                bench.process.wait(2)
                break
        assert "1 of 5 measured." in bench.read()
        assert bench.process.returncode == 3
    assert len(readings(path)) == 1


def test_it_fits_a_small_terminal(path: Path) -> None:
    with session(path, columns=36) as bench:
        said = bench.said + bench.type("?") + bench.type("30.00") + bench.type("quit")
    assert max(map(len, said.split("\n"))) <= 36


def test_signs_of_the_keyboard_do_no_harm(path: Path) -> None:
    with session(path) as bench:
        assert "Not saved" in bench.type("\x1b[A")
        assert "There is nothing to note." in bench.type("note \x1b[2J\x07")
        os.write(bench.master, b"\xff\xfe\n")
        assert "Not saved" in bench.read()
        bench.type("30.00")
    assert len(readings(path)) == 1


def test_what_another_program_wrote_meanwhile_is_not_overwritten(path: Path) -> None:
    with session(path) as bench:
        bench.type("30.00")
        path.write_text(path.read_text() + "notes: by another hand\n")
        assert "Bearing bore" in bench.type("30.01")
        assert "notes: by another hand" in path.read_text()
        path.write_text("readings: half a rec")
        assert "Not saved: 'record', 'assembly', 'application' are missing" in bench.type("30.05")
        assert path.read_text() == "readings: half a rec"


def test_without_a_terminal_it_says_so(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = path.read_text()
    command = [sys.executable, "-m", "checker", "measure", str(path), *ARGUMENTS]
    done = subprocess.run(command, input="30.00\n", capture_output=True, text=True)
    assert done.returncode == 2
    assert "needs an interactive terminal" in done.stderr
    assert path.read_text() == before
    assert main(["measure", str(path)]) == 2
    assert "checker sheet" in capsys.readouterr().err


def test_a_file_that_is_being_replaced_is_always_whole(tmp_path: Path) -> None:
    """Killed at any moment while it writes, without a pause, what is there is one text or the other."""
    path = tmp_path / "record.yaml"
    texts = [bytes([letter]) * 300_000 for letter in b"ab"]
    path.write_bytes(texts[0])
    program = (
        "import sys, itertools; from pathlib import Path; from checker.documents.replacing import write_atomically\n"
        "print('ready', flush=True)\n"
        "for letter in itertools.cycle(b'ab'): write_atomically(Path(sys.argv[1]), bytes([letter]) * 300_000)\n"
    )
    for _ in range(4):
        with subprocess.Popen([sys.executable, "-c", program, str(path)], stdout=subprocess.PIPE) as writer:
            assert writer.stdout is not None
            writer.stdout.readline()
            while not list(tmp_path.glob(".record.yaml.*")):  # it is in the middle of it
                pass
            writer.kill()
        assert path.read_bytes() in texts
