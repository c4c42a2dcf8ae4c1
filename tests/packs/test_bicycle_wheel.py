"""The words of a trade are data of its packs: a wheel has no dome, and an engine's words stay with engines."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from places import DATA, ROOT

from checker import Rulebook, load_rulebook, read_record
from checker.cli import main
from checker.notation.read import NotationError, read_quantity
from checker.plugins import Plugins
from checker.units.units import UNITS

WHEEL = DATA / "bicycle_wheel"
RECORD = DATA / "bicycle_wheel_record.yaml"
CORE = ROOT / "checker"
ENGINE = [
    "piston",
    "crank",
    "crankshaft",
    "crankpin",
    "cam",
    "camshaft",
    "lobe",
    "dome",
    "bore",
    "bores",
    "overbore",
    "ring",
    "valve",
    "cylinder",
    "engine",
    "oil",
    "bearing",
    "journal",
    "deck",
    "lash",
    "lifter",
    "tappet",
    "rocker",
    "spark",
    "ignition",
    "octane",
    "intake",
    "exhaust",
    "centreline",
    "gasket",
    "shell",
    "connecting-rod",
    "undersize",
    "oversize",
    "skirt",
    "jugs",
    "BTDC",
    "ATDC",
    "BBDC",
    "ABDC",
    "nitrous",
    "turbo",
    "four-stroke",
    "two-stroke",
    "fuel",
    "crown",
]
"""Words of engines. Not among them are those that mean something on every page or screen too: head, block, main, stroke
(of a pen), rod, pin, case."""
NAMES = re.compile(rf"(?<![A-Za-z])({'|'.join(ENGINE)})s?(?![A-Za-z])", re.IGNORECASE)
OF_ENGINES_ALONE = re.compile(rf"{NAMES.pattern}|(?<![A-Za-z])(dish)(?![A-Za-z])", re.IGNORECASE)


@cache
def wheels() -> Rulebook:
    return load_rulebook(WHEEL, plugins=Plugins((), {}, {}, {}))


def test_no_word_of_an_engine_stands_in_the_core() -> None:
    paths = [path for path in CORE.rglob("*") if path.suffix in (".py", ".txt", ".json", ".css")]
    assert len(paths) > 300
    found = {
        path.relative_to(CORE).as_posix(): OF_ENGINES_ALONE.findall(path.read_text(encoding="utf-8")) for path in paths
    }
    assert {path: words for path, words in found.items() if words} == {}


@pytest.mark.parametrize(
    "command",
    [
        ["check", str(RECORD)],
        ["check", str(RECORD), "--format", "html"],
        ["sheet", str(RECORD)],
        ["sheet", str(RECORD), "--format", "csv"],
    ],
    ids=" ".join,
)
def test_no_word_of_an_engine_is_said_of_a_wheel(command: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*command, "--pack", str(WHEEL)]) in (0, 1, 3)
    out, err = capsys.readouterr()
    assert err == ""
    assert "Spoke tension" in out
    assert [match[0] for match in NAMES.finditer(out)] == []


def test_a_first_record_speaks_of_the_wheel_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "wheel.yaml"
    command = ["new-record", str(file), "--for", "touring", "--name", "Wheel", "--units", "mm", "--stations", "spoke=4"]
    assert main([*command, "--pack", str(WHEEL)]) == 0
    told = file.read_text() + capsys.readouterr().out
    assert "Spoke tension" in told
    assert [match[0] for match in NAMES.finditer(told)] == []


def test_a_wheel_is_judged_in_its_own_words() -> None:
    report = wheels().check(read_record(RECORD))
    verdicts = {(found.name, found.where): str(found.verdict) for found in report.findings}
    assert verdicts["rim-centred", ""] == "outside"  # 1.4 mm to the other side is -1.4 mm; 1 mm is allowed
    assert verdicts["side-runout", ""] == "within"
    assert verdicts["radial-runout", ""] == "advisory"
    assert verdicts["spoke-tension", "spoke 3"] == "outside"
    assert any("to the other side: -1.4 mm to the drive side" in str(note) for note in report.notes)


def read(text: str, unit: str, counted: str = "") -> tuple[float, float]:
    found = UNITS[unit]
    (span,) = read_quantity(text, found, found, counted, wheels().notation).spans
    return found.from_si(span.low), found.from_si(span.high)


def refusal(text: str, unit: str, counted: str = "") -> NotationError:
    with pytest.raises(NotationError) as caught:
        read(text, unit, counted)
    return caught.value


def test_a_negative_volume_is_just_a_number() -> None:
    assert read("-3 cc", "cc") == pytest.approx((-3, -3))


def test_a_dish_is_a_wheels_own() -> None:
    assert refusal("2 mm dish", "mm", "to the drive side").readings == ("2 to the drive side", "2 to the other side")
    assert refusal("-0.4", "mm", "to the drive side").readings == (
        "0.4 mm to the drive side",
        "0.4 mm to the other side",
    )
    assert read("0.4 to the other side", "mm", "to the drive side") == pytest.approx((-0.4, -0.4))


@pytest.mark.parametrize(
    "text", ["0.4 mm in the hole", "0.4 mm deck", "0.4 mm proud", "0.4 mm out of the hole", "0.4 mm dome"]
)
def test_words_of_another_trade_are_refused_with_what_could_be_meant(text: str) -> None:
    error = refusal(text, "mm", "to the drive side")
    assert error.readings == ("0.4 mm to the drive side", "0.4 mm to the other side")


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("7 cc dish", "cc"),
        ("109 ATDC", "deg"),
        ("10/10", "mm"),
        ("20/50", "mm"),
        ("1X", "mm"),
        (".060 over", "mm"),
        ("85.5 jugs", "mm"),
        (".0045 x bore", "1"),
        (".004 per inch", "1"),
        ("4 advanced", "deg"),
    ],
)
def test_an_engines_forms_are_absent(text: str, unit: str) -> None:
    error = refusal(text, unit)
    assert not NAMES.search(error.message.replace(repr(text), "").replace(text.split()[-1], ""))
