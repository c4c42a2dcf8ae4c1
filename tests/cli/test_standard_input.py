"""A record that is piped in, with `-` in place of its file, is answered as the file is."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from pack_tools import GEAR_TRAIN
from places import DATA

from checker.cli import main

YAML = (DATA / "gear_train_record.yaml").read_text()
PACK = ("--pack", str(GEAR_TRAIN))
COMMANDS = {
    "check": ("check", "-", *PACK),
    "everything of it": ("check", "-", "--all", *PACK),
    "next": ("next", "-", *PACK),
    "uses": ("uses", "-", *PACK),
    "from use to use": ("uses", "-", "--to", "heavy", *PACK),
    "sheet": ("sheet", "-", "--format", "csv", *PACK),
    "room": ("room", "-", "backlash@2", *PACK),
    "hand-over": ("hand-over", "-", *PACK),
    "compare-packs": ("compare-packs", str(GEAR_TRAIN), str(GEAR_TRAIN), "-"),
}


def piped(text: str | bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    raw = text.encode() if isinstance(text, str) else text
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(raw), encoding="utf-8"))


@pytest.mark.parametrize("arguments", COMMANDS.values(), ids=COMMANDS)
def test_what_is_piped_in_is_answered_as_the_file_is(
    arguments: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "train.yaml"
    file.write_text(YAML)
    status = main([str(file) if word == "-" else word for word in arguments])
    of_file = capsys.readouterr()
    piped(YAML, monkeypatch)
    assert main(list(arguments)) == status
    of_input = capsys.readouterr()
    assert of_input.err == of_file.err
    named = of_file.out.replace(str(file), "standard input").replace("train.yaml", "standard input")
    assert of_input.out == named
    assert len(of_input.out) > 20


def test_what_begins_with_a_brace_is_json(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """A number of JSON may have a sign and an exponent (RFC 8259, 6), which YAML 1.1 reads as words."""
    data = {"record": 1, "assembly": "Train", "application": "general", "rule_packs": {"gear-train": ">=1"}}
    small = {**data, "stations": {"mesh": 1}, "units": {"length": "mm"}, "readings": {"backlash": {"1": 165e-3}}}
    piped("\n" + json.dumps(small).replace("0.165", "165e-3"), monkeypatch)
    main(["check", "-", "--all", *PACK])
    assert "0.165 mm" in capsys.readouterr().out


BROKEN = {
    "a wrong key": ("record: 1\naplication: x\n", "standard input:2:1: aplication: unknown key"),
    "half a record": ('{"record": 1,', "standard input:1:14: expected a key"),
    "nothing": ("", "standard input:1:1: the file holds no data"),
    "no text": (b"\xff\xfe\x00", "standard input:1:1: the file is UTF-16"),
    "no end of it": (b"# much\n" * 300_000, "standard input:1:1: more than 2000000 bytes"),
}


@pytest.mark.parametrize(("text", "told"), BROKEN.values(), ids=BROKEN)
def test_messages_name_the_standard_input(
    text: str | bytes, told: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    piped(text, monkeypatch)
    assert main(["check", "-"]) == 2
    assert told in capsys.readouterr().err


def test_a_closed_input_is_told(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", None)
    assert main(["check", "-"]) == 2
    assert "the standard input is closed" in capsys.readouterr().err


class Broken(io.BytesIO):
    def read(self, size: int | None = -1) -> bytes:
        raise OSError(5, "Input/output error")


def test_an_input_that_breaks_off_is_told(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(Broken(), encoding="utf-8"))
    assert main(["check", "-"]) == 2
    assert "standard input: cannot be read: Input/output error" in capsys.readouterr().err


def test_it_holds_one_record(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "train.yaml"
    file.write_text(YAML)
    piped(YAML, monkeypatch)
    assert main(["compare-builds", "-", str(file), *PACK]) == 0
    assert "before: standard input" in capsys.readouterr().out
    assert main(["compare-builds", "-", "-", *PACK]) == 2
    assert "the standard input holds one record" in capsys.readouterr().err


def test_what_writes_into_the_record_needs_its_file(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["measure", "-"]) == 2
    assert "the record cannot come from standard input" in capsys.readouterr().err
