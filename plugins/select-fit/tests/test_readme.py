"""The README's example does what it says."""

from __future__ import annotations

import re
from pathlib import Path

from checker.cli import main

from checker_select_fit import KINDS

README = (Path(__file__).parents[1] / "README.md").read_text()


def test_the_example(tmp_path, monkeypatch, capsys) -> None:
    for name, text in re.findall(r"```yaml (\S+)\n(.*?)```", README, re.S):
        (tmp_path / name).write_text(text)
    monkeypatch.chdir(tmp_path)
    command = re.search(r"```sh\nchecker (.*)\n", README)
    shown = re.search(r"```text\n(.*?)```", README, re.S)
    assert command and shown
    assert main(command[1].split()) == 0
    assert shown[1] in capsys.readouterr().out


def test_every_kind_and_option_is_told() -> None:
    assert all(f"`{name}`" in README for name in KINDS)
    assert all(f"`{option}" in README for option in ("--kind", "--use", "--nearest-aim", "--record-to", "--format"))
