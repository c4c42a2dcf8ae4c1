"""`checker new-pack`: a first rule pack to start from."""

from __future__ import annotations

import json
from argparse import Namespace
from pathlib import Path
from tempfile import TemporaryDirectory

from checker.cli.look import say
from checker.cli.output import empty_folder, save, save_all
from checker.errors import Problem, UsageError
from checker.packs_asked import installed_packs
from checker.plugins import Plugins, gather
from checker.rulebook import load_rulebook
from checker.sheets.makers_table import read_makers_table
from checker.vetting.makers_cases import makers_cases
from checker.vetting.makers_pack import left_alone, makers_pack
from checker.vetting.name_schema import NAMES_FILE, name_schema
from checker.vetting.new_pack import new_pack
from checker.vetting.templates import first_pack


def run(options: Namespace) -> int:
    """Write a small pack that passes its tests, with cases and, for editors, every name it may use."""
    plugins = gather(without=options.without)
    if options.from_sheet and options.alone:
        message = "a maker's table changes the rules of a pack, so its pack cannot stand alone"
        raise UsageError(Problem(message, hint="leave out --alone, or name the pack with --builds-on"))
    folder = empty_folder(options.folder)
    name = folder.resolve().name.replace("_", "-")
    base = None if options.alone else options.builds_on or _only_base(plugins)
    remarks = ""
    if base is None:
        files = first_pack(name)
    elif options.from_sheet:
        rulebook = load_rulebook(base, plugins=plugins)
        table = read_makers_table(Path(options.from_sheet), rulebook)
        files = makers_pack(name, rulebook, table)
        # Its cases rest on the pack as it loads; what does not load leaves no folder behind.
        with TemporaryDirectory() as draft:
            save_all(files, Path(draft))
            cases = makers_cases(load_rulebook(base, Path(draft), plugins=plugins), table)
        files = {**files, "cases/limits.yaml": cases}
        remarks = "".join(f"Left as it is: {line}.\n" for line in left_alone(rulebook, table))
    else:
        files = new_pack(name, load_rulebook(base, plugins=plugins), options.amends)
    save_all(files, folder)
    names = name_schema([folder, *([base] if base else [])], plugins)
    save(json.dumps(names, indent=1) + "\n", folder / NAMES_FILE)
    say(f"{', '.join(files)} written to {options.folder}, and {NAMES_FILE} for editors.\n{remarks}")
    say(f"Next: checker test-pack {options.folder}\n")
    return 0


def _only_base(plugins: Plugins) -> str:
    """The one installed pack that stands alone: what a new pack builds on unless told."""
    alone = [name for name, pack in installed_packs(plugins).items() if not pack.builds_on]
    if len(alone) != 1:
        hint = f"installed: {', '.join(plugins.rule_packs) or 'none'}"
        message = "say with --builds-on which pack the new one builds on, or --alone for none"
        raise UsageError(Problem(message, hint=hint))
    return alone[0]
