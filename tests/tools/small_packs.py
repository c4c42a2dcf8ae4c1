"""Small packs of gears and their teeth, one rule or a few in each, judged through the public API."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pack_tools import plugins_with, write_pack

from checker import Finding, Function, Report, Rulebook, load_rulebook
from checker.documents.document import parse_yaml
from checker.frozen import FrozenMapping
from checker.records.record import record_in

HEAD = """
pack: trial
version: 1.0.0
rule_language: 1
title: Trial
applications: {any-use: {title: Any use}}
milestones: [done]
stations: {gear: {title: Gear}, tooth: {title: Tooth, of: gear}}
characteristics:
  width: {title: Width, per: gear, unit: mm, plausible: [1 mm, 100 mm]}
  height: {title: Height, per: tooth, unit: mm, plausible: [1 mm, 100 mm]}
  alloy: {title: Alloy, choices: [bronze, steel, brass]}
"""
RULE = "  {name}:\n    title: A rule\n    before: done\n    {body}\n    basis: {{kind: shop policy}}\n"


def rulebook(folder: Path, *rules: str, head: str = HEAD, functions: Mapping[str, Function] | None = None) -> Rulebook:
    """Rules with a head, and functions that a plugin would add."""
    body = "rules:\n" + "".join(RULE.format(name=f"rule-{n}", body=rule) for n, rule in enumerate(rules, 1))
    plugins = plugins_with()._replace(functions=FrozenMapping(functions or {}))
    return load_rulebook(write_pack(folder, pack=head + body), plugins=plugins)


def judged(book: Rulebook, readings: str, more: str = "") -> Report:
    text = "record: 1\nassembly: Test\napplication: any-use\nrule_packs: {trial: '>=1'}\n"
    return book.check(record_in(parse_yaml(f"{text}{more}\nreadings: {{{readings}}}".encode(), "record.yaml")))


def at(found: Report, station: int = 1) -> Finding:
    return next(finding for finding in found.findings if finding.station == station - 1)
