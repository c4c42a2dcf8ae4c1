"""What .github/SECURITY.md says that a downloaded pack cannot do, tried; expressions and forms have tests elsewhere."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
from places import DEMO_RECORD, ROOT

from checker import CheckerError, PackError, load_rulebook, read_record, record_from_text, rulebook_for
from checker.documents.document import MOST_BYTES
from checker.documents.tree import DEEPEST, MOST_ENTRIES
from checker.expressions.syntax import MOST_CHARACTERS
from checker.packs.files import MOST_FILES
from checker.sheets import archive

POLICY = (ROOT / ".github" / "SECURITY.md").read_text("utf-8")
HEAD = 'pack: downloaded\nversion: 1.0.0\nrule_language: 1\ntitle: Downloaded\nbuilds_on: {four-stroke: ">=1,<2"}\n'
SPY = 'open("ran.txt", "w").write(__name__)\n'


@pytest.fixture
def pack(tmp_path: Path) -> Path:
    (tmp_path / "pack.yaml").write_text(HEAD)
    return tmp_path


@pytest.mark.slow
def test_a_folder_lends_no_modules(pack: Path) -> None:
    """Modules of every name that the checker imports, and a plugin as Python would find one."""
    for name in ("yaml", "numpy", "json", "pluggy", "checker_rules", "sitecustomize", "conftest", "downloaded_plugin"):
        (pack / f"{name}.py").write_text(SPY)
    proof = pack / "downloaded-1.0.dist-info"
    proof.mkdir()
    (proof / "METADATA").write_text("Metadata-Version: 2.1\nName: downloaded\nVersion: 1.0\n")
    (proof / "entry_points.txt").write_text("[checker]\ndownloaded = downloaded_plugin\n")
    command = [sys.executable, "-m", "checker", "packs", "."]
    result = subprocess.run(command, cwd=pack, capture_output=True, text=True, check=False)
    assert "downloaded 1.0.0" in result.stdout
    assert result.stderr == ""
    assert not (pack / "ran.txt").exists()


@pytest.mark.parametrize("name", ["neighbour", "../other", "/etc", "./four-stroke", "C:\\packs"])
def test_a_pack_and_a_record_name_no_folders(name: str, pack: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not even one that lies where the command is given."""
    monkeypatch.chdir(pack)
    (pack / "neighbour").mkdir()
    (pack / "neighbour" / "pack.yaml").write_text(HEAD.replace("downloaded", "neighbour"))
    assert load_rulebook("neighbour").packs[-1].name == "neighbour"
    (pack / "pack.yaml").write_text(HEAD.replace("four-stroke", f"'{name}'"))
    with pytest.raises(PackError):
        load_rulebook(pack)
    with pytest.raises(CheckerError):
        rulebook_for(
            record_from_text(f"record: 1\nassembly: A\napplication: street\nrule_packs: {{'{name}': '>=1'}}\n")
        )


def test_judging_opens_no_connection(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_given: object) -> None:
        raise AssertionError("a connection was opened")

    monkeypatch.setattr("socket.socket.connect", refuse)
    monkeypatch.setattr("socket.getaddrinfo", refuse)
    record = read_record(DEMO_RECORD)
    assert rulebook_for(record).only("top-ring-gap").check(record).outside


def test_the_bounds_are_those_that_are_stated() -> None:
    told = re.sub(r"\s+", " ", POLICY)
    assert f"at most {MOST_BYTES // 10**6} MB, {DEEPEST} levels and {MOST_ENTRIES:,} entries" in told
    assert f"a pack {MOST_FILES} files, an expression {MOST_CHARACTERS} signs" in told
    assert f"at most {archive.MOST_BYTES // 10**6} MB, and {archive._MOST_UNPACKED // 10**6} MB unpacked" in told
