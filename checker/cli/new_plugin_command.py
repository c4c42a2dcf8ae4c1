"""`checker new-plugin`: a first plugin to start from."""

from __future__ import annotations

from argparse import Namespace

from checker.cli.look import say
from checker.cli.output import empty_folder, save_all
from checker.vetting.templates import new_plugin


def run(options: Namespace) -> int:
    """Write a plugin that installs, and whose tests pass."""
    folder = empty_folder(options.folder)
    files = new_plugin(folder.resolve().name.replace("_", "-"))
    save_all(files, folder)
    say(f"{', '.join(files)} written to {options.folder}.\n")
    say(f"Next, in {options.folder}: python -m pip install -e . and python -m pytest\n")
    return 0
