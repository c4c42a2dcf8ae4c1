"""A new plugin installs and passes its own tests, as it is written."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from checker.cli import main


@pytest.mark.slow
def test_it_installs_and_passes_its_tests(tmp_path: Path) -> None:
    """Installed into a folder of its own, without the network, and tested by another process that looks there."""
    folder = tmp_path / "our_cones"
    assert main(["new-plugin", str(folder)]) == 0
    installed = tmp_path / "installed"
    offline = ["--quiet", "--no-deps", "--no-build-isolation", "--no-index", "--disable-pip-version-check"]
    pip = [sys.executable, "-m", "pip", "install", *offline, "--target", str(installed), str(folder)]
    environment = {**os.environ, "PYTHONPATH": str(installed), "PYTHONWARNINGS": ""}
    assert subprocess.run(pip, capture_output=True, text=True, check=False).returncode == 0
    (folder / "src").rename(folder / "not-used")
    tests = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", str(folder / "tests")]
    result = subprocess.run(tests, capture_output=True, text=True, check=False, env=environment, cwd=folder)
    assert result.returncode == 0, result.stdout
    assert "3 passed" in result.stdout


def test_a_name_that_its_pack_cannot_have_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new-plugin", str(tmp_path / "9cones")]) == 2
    assert "a pack cannot be called '9cones'" in capsys.readouterr().err


def test_nothing_is_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "notes.txt").write_text("ours")
    assert main(["new-plugin", str(tmp_path)]) == 2
    assert "is not an empty folder" in capsys.readouterr().err
