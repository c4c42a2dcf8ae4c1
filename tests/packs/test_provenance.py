"""Versions and provenance: what made a report, and whether it is still what it was."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pack_tools import GEAR_TRAIN, gear_record, gear_rulebook, plugins_with, write_pack
from shared_packs import nothing_shared

from checker.cli import main
from checker.errors import InputError, PackError, UsageError
from checker.packs.contents import with_releases
from checker.packs.files import _shipped_releases
from checker.packs.pack import Pack
from checker.packs.provenance import require_packs_of
from checker.packs.reader import read_pack
from checker.packs.released import Release, Standing, lock_path, releases, standing
from checker.plugins import gather
from checker.reports.json_report import write_json
from checker.reports.text import write_text
from checker.rulebook import Rulebook, load_rulebook

READINGS = {"backlash": "{1: 0.08 mm}", "gear_module": "{1: 2 mm}"}


@pytest.fixture
def pack() -> Pack:
    return read_pack(GEAR_TRAIN)


@pytest.fixture
def report(tmp_path: Path) -> Path:
    path = tmp_path / "report.json"
    path.write_text(write_json(gear_rulebook().check(gear_record(READINGS))))
    return path


def other_version(folder: Path, old: str, new: str) -> Path:
    """The gear train with some words changed."""
    files = {file.stem: file.read_text().replace(old, new) for file in GEAR_TRAIN.glob("*.yaml")}
    return write_pack(folder, **files)


def test_a_report_carries_names_versions_and_digests(report: Path, pack: Pack) -> None:
    data = json.loads(report.read_text())
    assert data["packs"] == [
        {"pack": "gear-train", "version": "1.2.0", "sha256": pack.digest, "standing": "not released"}
    ]
    assert len(data["record"]["sha256"]) == 64


@pytest.mark.parametrize("form", ["text", "json", "html", "csv", "markdown", "junit"])
def test_every_form_of_a_report_can_be_held_to_its_packs_and_record(form: str, pack: Pack) -> None:
    record = gear_record(READINGS)
    report = gear_rulebook().check(record)
    # The text is short unless all of it is asked for, and says so.
    written = write_text(report, whole=True) if form == "text" else gather().report_writers[form](report)
    for proof in (record.digest, pack.digest, pack.name, pack.version):
        assert proof in written


def test_the_digest_is_of_every_file_but_the_cases(tmp_path: Path, pack: Pack) -> None:
    copy = other_version(tmp_path / "copy", "nothing of the kind", "")
    assert read_pack(copy).digest == pack.digest
    (copy / "cases").mkdir()
    (copy / "cases" / "more.yaml").write_text("cases: {}\n")
    assert read_pack(copy).digest == pack.digest
    (copy / "more.yaml").write_text("constants: {one: {value: 1, basis: computed}}\n")
    assert read_pack(copy).digest != pack.digest


def test_packs_on_hand_may_be_those_of_a_report(report: Path, pack: Pack) -> None:
    require_packs_of(report, [pack])


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("version: 1.2.0", "version: 1.3.0", "made with gear-train 1.2.0, here is 1.3.0"),
        ("at_most: 0.08", "at_most: 0.09", "made with another content of gear-train 1.2.0"),
        ("pack: gear-train", "pack: gear-drive", "made without gear-drive 1.2.0, which is used here"),
    ],
)
def test_packs_that_did_not_make_a_report_are_named(
    report: Path, tmp_path: Path, old: str, new: str, message: str
) -> None:
    changed = read_pack(other_version(tmp_path / "changed", old, new))
    with pytest.raises(UsageError, match=message):
        require_packs_of(report, [changed])


@pytest.mark.parametrize("content", ["{", "[]", '{"packs": 1}', '{"packs": ["a"]}', "[" * 100_000])
def test_what_is_no_report_is_refused(tmp_path: Path, content: str, pack: Pack) -> None:
    path = tmp_path / "report.json"
    path.write_text(content)
    with pytest.raises(InputError, match="not a report in JSON"):
        require_packs_of(path, [pack])
    with pytest.raises(InputError, match="cannot be read"):
        require_packs_of(tmp_path / "none.json", [pack])


def test_the_command_refuses_other_packs(report: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = tmp_path / "record.yaml"
    head = "record: 1\nassembly: A\napplication: general\nrule_packs: {gear-train: '>=1'}\n"
    record.write_text(head + "readings: {backlash: {1: 0.08 mm}}\n")
    asked = ["check", str(record), "--packs-from", str(report), "--pack"]
    assert main([*asked, str(GEAR_TRAIN)]) == 3
    assert capsys.readouterr().out
    changed = other_version(tmp_path / "changed", "at_most: 0.08", "at_most: 0.09")
    assert main([*asked, str(changed)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "another content of gear-train 1.2.0" in err


def test_standing() -> None:
    known = {"gear-train": {"1.0.0": Release("aa", "")}}
    assert standing("gear-train", "1.0.0", "aa", known) is Standing.RELEASED
    assert standing("gear-train", "1.0.0", "bb", known) is Standing.ALTERED
    assert standing("gear-train", "1.1.0", "bb", known) is Standing.UNRELEASED
    assert standing("clock", "1.0.0", "aa", known) is Standing.UNRELEASED


def test_a_release_is_recorded_once_and_never_changed(pack: Pack) -> None:
    clock = Release("aa", "cc")
    known = with_releases([(pack, "dd")], {"clock": {"1.0.0": clock}})
    own = Release(pack.digest, "dd")
    assert known == {"clock": {"1.0.0": clock}, "gear-train": {"1.2.0": own}}
    assert with_releases([(pack, "dd")], known) == known
    newer = pack._replace(version="1.3.0", digest="bb")
    assert with_releases([(newer, "ee")], known)["gear-train"] == {"1.2.0": own, "1.3.0": Release("bb", "ee")}
    with pytest.raises(PackError, match=r"gear-train 1\.2\.0 was released with another content"):
        with_releases([(pack._replace(digest="bb"), "dd")], known)


def test_an_altered_pack_is_named_in_the_report(pack: Pack) -> None:
    altered = pack._replace(standing=Standing.ALTERED)
    report = Rulebook([altered], plugins_with()).check(gear_record(READINGS))
    assert "gear-train 1.2.0, SHA-256 " in write_text(report, whole=True)
    assert "altered since it was released" in write_text(report, whole=True)
    assert "altered" not in write_text(gear_rulebook().check(gear_record(READINGS)), whole=True)


def test_the_packs_command_notices_an_altered_pack(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["packs"]) == 0
    lock = tmp_path / "released.json"
    lock.write_text('{"four-stroke": {"1.0.0": {"digest": "0", "contents": "0"}}}')
    monkeypatch.setattr("checker.packs.released.lock_path", lambda: lock)
    _shipped_releases.cache_clear()
    capsys.readouterr()
    try:
        with nothing_shared():
            assert main(["packs", "--format", "json"]) == 1
    finally:
        _shipped_releases.cache_clear()
    found = {row["pack"]: row["standing"] for row in json.loads(capsys.readouterr().out)}
    assert found["four-stroke"] == "altered since it was released"
    assert found["nitrous"] == "not released"


def test_no_shipped_pack_was_altered_under_an_unchanged_version() -> None:
    """After a change: raise the version in pack.yaml, then `checker packs --release`."""
    for folder in gather().rule_packs.values():
        found = read_pack(folder)
        assert found.standing is not Standing.ALTERED, found


@pytest.mark.usefixtures("nothing_shared")
def test_what_is_released_is_still_sound_when_all_is_checked_again() -> None:
    """A released pack is trusted and compiled as needed; it must not have slipped past a later check."""
    plugins = gather()
    for name in plugins.rule_packs:
        load_rulebook(name, plugins=plugins, strict=True)
    assert set(releases()) <= {read_pack(folder).name for folder in plugins.rule_packs.values()}
    assert lock_path().name == "released.json"
