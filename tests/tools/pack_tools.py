"""Packs and records for tests: the gear train, folders made on the spot, and a set without any plugins."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from places import DATA

from checker.documents.document import parse_yaml
from checker.frozen import FrozenMapping
from checker.plugins import Plugins
from checker.records.record import Record, record_in
from checker.rulebook import Rulebook, load_rulebook

GEAR_TRAIN = DATA / "gear_train"


def plugins_with(**packs: Path) -> Plugins:
    """Nothing but these packs, the gear train among them."""
    folders = {"gear-train": GEAR_TRAIN, **{name.replace("_", "-"): folder for name, folder in packs.items()}}
    return Plugins((), FrozenMapping(folders), FrozenMapping(), FrozenMapping())


def write_pack(folder: Path, *, cases: str = "", **files: str) -> Path:
    """A pack folder with these files; `pack` is the head."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / f"{name}.yaml").write_text(text)
    if cases:
        (folder / "cases").mkdir(exist_ok=True)
        (folder / "cases" / "cases.yaml").write_text(cases)
    return folder


def gear_rulebook(*folders: Path) -> Rulebook:
    """The gear train, with packs on top."""
    return load_rulebook(GEAR_TRAIN, *folders, plugins=plugins_with())


def gear_record(readings: Mapping[str, object] | str, application: str = "general", more: str = "") -> Record:
    """A record of a gear train; readings as a mapping, or as lines of YAML."""
    lines = (
        readings if isinstance(readings, str) else "".join(f"  {name}: {value}\n" for name, value in readings.items())
    )
    text = f"record: 1\nassembly: Test train\napplication: {application}\n# Each test says by which packs.\n{more}"
    return record_in(parse_yaml(f"{text}readings:\n{lines}".encode(), "record.yaml"))
