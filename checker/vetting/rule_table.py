"""All rules of a pack as a table in Markdown, for reading through."""

from __future__ import annotations

from collections.abc import Iterator

from checker.packs.compiled import CompiledRule
from checker.packs.limit_set import CompiledEntry
from checker.packs.limit_words import entry_words
from checker.packs.pack import Pack
from checker.rulebook import Rulebook

_HEAD = ("| rule | what it judges | before | limits | basis |", "|---|---|---|---|---|")


def rule_table(pack: Pack, rulebook: Rulebook) -> str:
    """The rules that a pack states, system by system, and those it amends; the rulebook holds it and what it needs."""
    rules = [rule for rule in rulebook.rules.values() if rule.rule.origin.pack == pack.name]
    amended = [rule for rule in rulebook.rules.values() if _amended_by(rule, pack)]
    lines = [f"## {pack}", "", pack.title + "."]
    for system in dict.fromkeys(rule.rule.system for rule in rules):
        own = [rule for rule in rules if rule.rule.system == system]
        lines += ["", f"### {system}", "", *_HEAD, *(_row(rule, rule.rule.title, pack) for rule in own)]
    if amended:
        lines += ["", "### Amended", "", *_HEAD, *(_row(rule, _reasons(rule, pack), pack) for rule in amended)]
    for retirement in pack.retires:
        lines += ["", f"Retires `{retirement.name}`: {retirement.because}"]
    return "\n".join(lines) + "\n"


def _amended_by(rule: CompiledRule, pack: Pack) -> bool:
    return any(amendment.origin.pack == pack.name for amendment in rule.rule.amended)


def _reasons(rule: CompiledRule, pack: Pack) -> str:
    reasons = (item.because for item in rule.rule.amended if item.origin.pack == pack.name)
    return f"{rule.rule.title}. {' '.join(reasons)}"


def _row(rule: CompiledRule, what: str, pack: Pack) -> str:
    stated = [entry for entry in rule.limits.entries if _is_stated_by(entry, pack)]
    limits = "<br>".join(entry_words(entry, rule) for entry in stated)
    cells = (f"`{rule.name}`", what, rule.rule.before, limits, "<br>".join(_bases(rule, stated)))
    return f"| {' | '.join(_cell(text) for text in cells)} |"


def _is_stated_by(entry: CompiledEntry, pack: Pack) -> bool:
    return any(bound.limit.origin.pack == pack.name for bound in entry.bounds)


def _bases(rule: CompiledRule, entries: list[CompiledEntry]) -> Iterator[str]:
    bases = [bound.limit.basis or rule.rule.basis for entry in entries for bound in entry.bounds]
    yield from dict.fromkeys(basis.how for basis in bases if basis is not None)


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("*", "\\*")
