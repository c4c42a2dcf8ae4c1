"""`checker packs`: list the rule packs that are installed."""

from __future__ import annotations

import json
from argparse import Namespace

from checker.cli.output import put
from checker.layers import Layered
from checker.plugins import Plugins, gather
from checker.rulebook import load_rulebook


def run(options: Namespace) -> int:
    """List every installed pack with its version, what it builds on and the uses it adds."""
    plugins = gather()
    rows = [_row(name, plugins) for name in plugins.rule_packs]
    if options.format == "json":
        put(json.dumps(rows, indent=2) + "\n", None)
    else:
        put("\n\n".join(map(_text, rows)) + "\n", None)
    return 0


def _row(name: str, plugins: Plugins) -> dict[str, object]:
    layered: Layered = load_rulebook(name, plugins=plugins).layered
    pack = next(pack for pack in layered.packs if pack.name == name)
    return {
        "pack": pack.name,
        "version": pack.version,
        "title": pack.title,
        "builds_on": dict(pack.builds_on),
        "applications": {item.name: item.title for item in pack.applications},
        "rules": len(pack.rules),
        "amends": len(pack.amendments),
        "retires": len(pack.retirements),
        "sha256": pack.digest,
    }


def _text(row: dict[str, object]) -> str:
    lines = [f"{row['pack']} {row['version']}: {row['title']}"]
    counts = [
        f"{row[key]} {word}"
        for key, word in (("rules", "rules"), ("amends", "amended"), ("retires", "retired"))
        if row[key]
    ]
    lines.append(f"  {', '.join(counts)}; SHA-256 {str(row['sha256'])[:12]}")
    builds_on = row["builds_on"]
    if isinstance(builds_on, dict) and builds_on:
        lines.append("  builds on " + ", ".join(f"{name} {allowed}" for name, allowed in builds_on.items()))
    applications = row["applications"]
    if isinstance(applications, dict):
        lines += [f"  use {name}: {title}" for name, title in applications.items()]
    return "\n".join(lines)
