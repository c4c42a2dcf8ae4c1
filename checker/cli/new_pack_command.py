"""`checker new-pack`: a first rule pack to start from."""

from __future__ import annotations

import json
from argparse import Namespace

from checker.cli.output import empty_folder, put, save, save_all
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
    folder = empty_folder(options.folder)
    name = folder.resolve().name.replace("_", "-")
    base = None if options.alone else options.builds_on or _only_base(plugins)
    files = first_pack(name) if base is None else new_pack(name, load_rulebook(base, plugins=plugins), options.amends)
    save_all(files, folder)
    names = name_schema([folder, *([base] if base else [])], plugins)
    save(json.dumps(names, indent=1) + "\n", folder / NAMES_FILE)
    put(f"{', '.join(files)} written to {options.folder}, and {NAMES_FILE} for editors.\n", None)
    put(f"Next: checker vet {options.folder}\n", None)
    return 0


def _only_base(plugins: Plugins) -> str:
    found = base_pack({name: read_pack(folder) for name, folder in plugins.rule_packs.items()})
    if found is None:
        hint = f"installed: {', '.join(plugins.rule_packs) or 'none'}"
        message = "say with --builds-on which pack the new one builds on, or --alone for none"
        raise UsageError(Problem(message, hint=hint))
    return found
