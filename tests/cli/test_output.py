"""Where the command's output goes; where it cannot be written the status is that of no judgement."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from pack_tools import GEAR_TRAIN
from places import DATA

from checker.cli import main

FULL = Path("/dev/full")
RECORD = DATA / "gear_train_record.yaml"
"""A short one: where a report goes does not depend on how long it is."""
PACK = ("--pack", str(GEAR_TRAIN))
CHECK = ("check", str(RECORD), *PACK)


@pytest.mark.skipif(not FULL.exists(), reason="this system has no file that is always full")
def test_output_that_cannot_be_written_is_no_judgement() -> None:
    with FULL.open("w") as full:
        done = subprocess.run([sys.executable, "-m", "checker", *CHECK], stdout=full, stderr=subprocess.PIPE, text=True)
    assert done.returncode == 2
    assert done.stderr.startswith("the output cannot be written: ")
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="closes the output as a shell of Unix does")
def test_no_output_at_all_is_no_judgement() -> None:
    done = subprocess.run(in_shell('"$0" -m checker "$@" >&-'), stderr=subprocess.PIPE, text=True)
    assert done.returncode == 2
    assert "the standard output is closed" in done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="closes the output as a shell of Unix does")
def test_the_status_does_not_depend_on_anyone_listening_to_complaints() -> None:
    unheard = subprocess.run(in_shell('"$0" -m checker "$@" >/dev/null 2>&-')).returncode
    assert unheard == main([*CHECK])


def in_shell(command: str) -> list[str]:
    return ["/bin/sh", "-c", command, sys.executable, *CHECK]


def checked_into(output: Path) -> int:
    return main([*CHECK, "--output", str(output)])


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_written_to_and_not_replaced(tmp_path: Path) -> None:
    """So are devices: a report thrown away must not throw /dev/null away."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with subprocess.Popen(("cat", str(pipe)), stdout=subprocess.PIPE) as reader:
        assert checked_into(pipe) == 1
        assert reader.stdout is not None
        assert b"judged" in reader.stdout.read()
    assert pipe.is_fifo()


@pytest.mark.skipif(sys.platform == "win32", reason="links and rights as on Unix")
def test_a_link_goes_on_pointing_to_its_file_which_keeps_its_rights(tmp_path: Path) -> None:
    kept, link = tmp_path / "kept.txt", tmp_path / "link.txt"
    kept.write_text("old")
    kept.chmod(0o600)
    link.symlink_to(kept)
    assert checked_into(link) == 1
    assert link.is_symlink()
    assert "judged" in kept.read_text()
    assert kept.stat().st_mode & 0o777 == 0o600


@pytest.mark.skipif(sys.platform == "win32", reason="rights as on Unix")
def test_a_new_file_has_the_rights_that_its_owner_gives_new_files(tmp_path: Path) -> None:
    before = os.umask(0o077)
    try:
        for umask, rights in ((0o077, 0o600), (0o022, 0o644)):
            os.umask(umask)
            output = tmp_path / f"{umask}.txt"
            assert checked_into(output) == 1
            assert output.stat().st_mode & 0o777 == rights
    finally:
        os.umask(before)


def test_a_folder_is_not_written_to(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert checked_into(tmp_path) == 2
    assert capsys.readouterr().err.startswith(f"cannot write {tmp_path}: ")


@pytest.mark.parametrize("command", ["check", "uses", "hand-over", "sheet"])
def test_a_record_is_not_overwritten_by_what_is_made_of_it(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = tmp_path / "engine.yaml"
    record.write_bytes(RECORD.read_bytes())
    (tmp_path / "same.yaml").symlink_to(record)
    for output in ("engine.yaml", "same.yaml"):
        assert main([command, str(record), *PACK, "--output", str(tmp_path / output)]) == 2
        assert "is the record; the output would overwrite it" in capsys.readouterr().err
    assert record.read_bytes() == RECORD.read_bytes()


@pytest.mark.parametrize(
    ("command", "name", "begins"),
    [
        ("sheet", "s.CSV", b"# Caution"),
        ("sheet", "s.yaml", b"#"),
        ("check", "r.json", b"{"),
        ("check", "r.html", b"<!doctype html>"),
        ("check", "r.md", b"#"),
        ("uses", "u.json", b"{"),
        ("compare-builds", "b.json", b"["),
        ("check", "r.txt", b"Training drive"),
        ("check", "r.pdf.txt", b"Training drive"),
    ],
)
def test_a_file_gets_the_form_that_its_name_says(command: str, name: str, begins: bytes, tmp_path: Path) -> None:
    records = [str(RECORD)] * (2 if command == "compare-builds" else 1)
    assert main([command, *records, *PACK, "--output", str(tmp_path / name)]) != 2
    assert (tmp_path / name).read_bytes().lower().startswith(begins.lower())


@pytest.mark.parametrize(
    ("command", "asked", "name", "hint"),
    [
        ("hand-over", "html", "h.pdf", "ask for it, as in --format pdf, or end the name otherwise"),
        ("sheet", "csv", "s.xlsx", "ask for it, as in --format xlsx, or end the name otherwise"),
        ("check", "text", "r.json", "ask for it, as in --format json, or end the name otherwise"),
        ("check", None, "r.pdf", "end the name otherwise; the forms are text, html, json, csv, markdown, junit"),
    ],
)
def test_nothing_is_written_under_the_name_of_another_form(
    command: str, asked: str | None, name: str, hint: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    output, form = tmp_path / name, ["--format", asked] if asked else []
    assert main([command, str(RECORD), *PACK, *form, "--output", str(output)]) == 2
    said = f"{output} is named as {name[2:]}, and what goes there is {asked or 'text'} ({hint})"
    assert capsys.readouterr().err.startswith(said) and not output.exists()


@pytest.mark.parametrize("place", [0, 1])
def test_neither_of_two_builds_is(place: int, tmp_path: Path) -> None:
    records = [tmp_path / "before.yaml", tmp_path / "after.yaml"]
    for record in records:
        record.write_bytes(RECORD.read_bytes())
    assert main(["compare-builds", *map(str, records), *PACK, "--output", str(records[place])]) == 2
    assert records[place].read_bytes() == RECORD.read_bytes()


def test_an_earlier_report_is_replaced_whatever_it_is_called(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    report = tmp_path / "gears-on"
    report.write_text("old")
    monkeypatch.chdir(tmp_path)
    assert main([*CHECK, "--before", "gears-on", "--output", "gears-on"]) == 1
    assert "judged" in report.read_text()


def test_a_report_that_its_file_cannot_take_is_printed_instead(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*CHECK]) == 1
    report = capsys.readouterr().out
    assert main([*CHECK, "--output", str(tmp_path / "no" / "report.txt")]) == 2
    out, err = capsys.readouterr()
    assert out == report
    assert err.startswith("cannot write ")
    assert err.endswith("(it is printed instead)\n")


def test_a_workbook_that_its_file_cannot_take_is_kept_elsewhere(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    wanted = tmp_path / "no" / "sheet.xlsx"
    assert main(["sheet", str(RECORD), *PACK, "--format", "xlsx", "--output", str(wanted)]) == 2
    (kept,) = tmp_path.iterdir()
    assert f"it is in {kept} instead" in capsys.readouterr().err
    assert kept.read_bytes().startswith(b"PK")


@pytest.mark.parametrize("given", [".", "../shop", "{folder}"])
def test_a_pack_is_told_of_by_a_path_that_is_there(
    given: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A whole path is shortened to its last part: a report says the same on every machine."""
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "pack.yaml").write_text("pack: shop\nversion: 1.0.0\nrule_language: 1\ntitle: Shop\nmistake: 1\n")
    monkeypatch.chdir(folder)
    assert main(["test-pack", given.format(folder=folder)]) == 2
    told = Path(capsys.readouterr().err.partition(":5:1: mistake: ")[0])
    assert told == (Path("shop/pack.yaml") if "folder" in given else Path(given) / "pack.yaml")
    assert (folder.parent / told if "folder" in given else told).exists()
