"""`checker new-pack`: a first rule pack to start from."""

from __future__ import annotations

import json
from argparse import Namespace
from pathlib import Path

from checker.cli.output import put, save
from checker.errors import Problem, UsageError
from checker.packs.reader import read_pack
from checker.plugins import Plugins, gather
from checker.rulebook import load_rulebook
from checker.vetting.first_pack import first_pack
from checker.vetting.name_schema import NAMES_FILE, name_schema
from checker.vetting.new_pack import base_pack, new_pack


def run(options: Namespace) -> int:
    """Write a small pack that passes vetting, with cases and, for editors, every name it may use."""
    plugins = gather(without=options.without)
    folder = Path(options.folder)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(Problem(f"{options.folder} exists and is not an empty folder"))
    name = folder.resolve().name.replace("_", "-")
    base = None if options.alone else options.builds_on or _only_base(plugins)
    files = first_pack(name) if base is None else new_pack(name, load_rulebook(base, plugins=plugins), options.amends)
    for file, text in files.items():
        _make((folder / file).parent)
        save(text, folder / file)
    names = name_schema([folder, *([base] if base else [])], plugins)
    save(json.dumps(names, indent=1) + "\n", folder / NAMES_FILE)
    put(f"{', '.join(files)} written to {options.folder}, and {NAMES_FILE} for editors.\n", None)
    put(f"Next: checker vet {options.folder}\n", None)
    return 0


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(Problem(f"{folder} cannot be made: {error.strerror}")) from None


def _only_base(plugins: Plugins) -> str:
    found = base_pack({name: read_pack(folder) for name, folder in plugins.rule_packs.items()})
    if found is None:
        hint = f"installed: {', '.join(plugins.rule_packs) or 'none'}"
        message = "say with --builds-on which pack the new one builds on, or --alone for none"
        raise UsageError(Problem(message, hint=hint))
    return found
