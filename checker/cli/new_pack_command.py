"""`checker new-pack`: a first rule pack to start from."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from checker.cli.output import put, save
from checker.errors import Problem, UsageError
from checker.packs.reader import read_pack
from checker.plugins import Plugins, gather
from checker.rulebook import load_rulebook
from checker.vetting.new_pack import base_pack, new_pack


def run(options: Namespace) -> int:
    """Write a small pack that amends one rule, adds one, has cases, and passes vetting."""
    plugins = gather(without=options.without)
    folder = Path(options.folder)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(Problem(f"{options.folder} exists and is not an empty folder"))
    rulebook = load_rulebook(options.builds_on or _only_base(plugins), plugins=plugins)
    files = new_pack(folder.resolve().name.replace("_", "-"), rulebook, options.amends)
    for name, text in files.items():
        _make((folder / name).parent)
        save(text, folder / name)
    put(f"{', '.join(files)} written to {options.folder}.\nNext: checker vet {options.folder}\n", None)
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
        raise UsageError(Problem("say with --builds-on which pack the new one builds on", hint=hint))
    return found
