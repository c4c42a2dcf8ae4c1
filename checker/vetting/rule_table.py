"""All rules of a pack as a table in Markdown, for reading through."""

from __future__ import annotations

from checker.packs.compiled import CompiledRule
from checker.packs.limit_words import entry_words
from checker.packs.pack import Pack
from checker.rulebook import Rulebook

_BAR, _STAR = r"\|", r"\*"
_HEAD = ("| rule | what it judges | before | limits | basis |", "|---|---|---|---|---|")


def rule_table(pack: Pack, rulebook: Rulebook) -> str:
    """The rules that a pack states, system by system, and those it amends; the rulebook holds it and what it needs."""
    rules = [rule for rule in rulebook.rules.values() if rule.rule.origin.pack == pack.name]
    reasons = ((rule, _reasons(rule, pack)) for rule in rulebook.rules.values())
    amended = [_row(rule, f"{rule.rule.title}. {' '.join(why)}", pack) for rule, why in reasons if why]
    lines = [f"## {pack}", "", pack.title + "."]
    for system in dict.fromkeys(rule.rule.system for rule in rules):
        own = [rule for rule in rules if rule.rule.system == system]
        lines += ["", f"### {system}", "", *_HEAD, *(_row(rule, rule.rule.title, pack) for rule in own)]
    if amended:
        lines += ["", "### Amended", "", *_HEAD, *amended]
    for retirement in pack.retires:
        lines += ["", f"Retires `{retirement.name}`: {retirement.because}"]
    return "\n".join(lines) + "\n"


def _reasons(rule: CompiledRule, pack: Pack) -> list[str]:
    """Why a pack amends a rule; nothing where it does not."""
    return [amendment.because for amendment in rule.rule.amended if amendment.origin.pack == pack.name]


def _row(rule: CompiledRule, what: str, pack: Pack) -> str:
    entries = rule.limits.entries
    stated = [entry for entry in entries if any(bound.limit.origin.pack == pack.name for bound in entry.bounds)]
    limits = "<br>".join(entry_words(entry, rule) for entry in stated)
    bases = (bound.limit.basis or rule.rule.basis for entry in stated for bound in entry.bounds)
    hows = "<br>".join(dict.fromkeys(basis.how for basis in bases if basis is not None))
    cells = (f"`{rule.name}`", what, rule.rule.before, limits, hows)
    return f"| {' | '.join(text.replace('|', _BAR).replace('*', _STAR) for text in cells)} |"
