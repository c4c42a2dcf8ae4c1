"""The source distribution holds all that its tests read, and nothing of building stands at the top of the project."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tarfile
import tomllib
from pathlib import Path

import pytest
from places import ROOT

AT_THE_TOP = (
    *("DEVELOPERS.md", "LICENSE", "README.md", "pyproject.toml"),
    *("checker", "plugins", "rules", "schema", "tests"),
)
BESIDE = (".ci", ".github", ".pre-commit-config.yaml")
LEFT_OUT = shutil.ignore_patterns("__pycache__", "*.py[cod]", ".*_cache", ".hypothesis", "build", "*.egg-info")


def files_in(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def test_nothing_but_the_project_stands_at_the_top() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode or not listed.stdout:
        pytest.skip("this is no checkout")
    names = {line.partition("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in names if not name.startswith(".")} == set(AT_THE_TOP)


def test_every_file_is_in_the_source_distribution(tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    copy.mkdir()
    for name in (*AT_THE_TOP, *BESIDE):
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, copy / name, ignore=LEFT_OUT)
        else:
            shutil.copy(source, copy / name)
    stated = files_in(copy)
    system = tomllib.loads((copy / "pyproject.toml").read_text())["build-system"]
    program = (
        f"import sys; sys.path.insert(0, {system['backend-path'][0]!r}); import {system['build-backend']} as backend"
    )
    code = f"{program}; backend.build_sdist(sys.argv[1])"
    subprocess.run([sys.executable, "-c", code, str(tmp_path)], cwd=copy, check=True, capture_output=True)
    (archive,) = tmp_path.glob("*.tar.gz")
    with tarfile.open(archive) as held:
        names = {member.name.partition("/")[2] for member in held.getmembers() if member.isfile()}
    assert stated - names == set()
    assert len(stated) > 500
