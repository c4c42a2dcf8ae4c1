"""`checker capability`: how capable a process is of the limits of some rules, over the assemblies of a batch."""

from __future__ import annotations

import gc
import json
import sys
from argparse import Namespace
from collections.abc import Sequence
from itertools import chain
from pathlib import Path

from checker.cli.output import write_out
from checker.cli.progress import progress
from checker.cli.terminal import fitting
from checker.errors import Problem, UsageError
from checker.packs.titles import Titles
from checker.plugins import gather
from checker.rule_search import find_rules, nearest_words, words_of
from checker.rulebook import Rulebook

try:
    from checker.fleet.capability import Capability, capabilities, seen_over
    from checker.fleet.capability_text import capability_data, write_capabilities
    from checker.fleet.parts import parts_of
    from checker.fleet.plan import Asked, head_for, plan_of
    from checker.fleet.run import differences, head_of
    from checker.fleet.seen import OfRule
    from checker.fleet.sources import open_source
except ImportError as error:
    hint = "python -m pip install 'assembly-checker[fleet]'"
    raise UsageError(Problem(f"nothing can be told here: {error.name} is not installed", hint=hint)) from None


def run(options: Namespace) -> int:
    """Read the tables of a batch again, for the rules asked for, and tell what their values show."""
    gc.enable()  # this runs for long
    studies = _capabilities(options)
    if options.format == "html":
        from checker.html.capability_page import write_capability_html  # few runs write it

        write_out(write_capability_html(studies), options.output)
    elif options.format == "json":
        write_out(
            json.dumps([capability_data(study) for study in studies], indent=1, allow_nan=False) + "\n", options.output
        )
    else:
        text = write_capabilities(studies)
        write_out(text if options.output else f"{fitting(text, sys.stdout)}\n", options.output)
    return 0


def _capabilities(options: Namespace) -> Sequence[Capability]:
    folder = Path(options.folder)
    head = head_of(folder)
    if head is None:
        raise UsageError(Problem(f"{folder} holds no results", hint="checker batch makes them"))
    asked = Asked(**{key: head[key] for key in Asked._fields if key in head})
    plan = plan_of(asked, gather(without=options.without))
    rules = _rules(plan.rulebook, options.words)
    with progress("reading the tables") as step:
        sources = [open_source(path, asked.rows) for path in head["tables"]]
        if changed := list(differences(head, head_for(plan, sources))):
            hint = "run checker batch anew"
            made = f"not as it was when {folder} was made"
            raise UsageError([Problem(f"{made}: {change}", hint=hint) for change in changed])
        parts = parts_of(sources, asked.rows, plan.name_column, plan.is_long)
        seen: dict[str, OfRule] = {}
        for number, so_far in enumerate(seen_over(plan, parts, rules), 1):
            step(f"{number} of {len(parts)} parts")
            seen = so_far
    kinds = {name: Titles(plan.rulebook.layered).of(plan.rulebook.rules[name].stations or "") for name in seen}
    by_rule = (capabilities(name, seen[name], kinds[name], options.by_station) for name in rules if name in seen)
    return list(chain.from_iterable(by_rule))


def _rules(book: Rulebook, words: Sequence[str]) -> list[str]:
    """The names of the rules that some words find."""
    names = [rule.rule.name for rule in find_rules(words, book.rules, book.layered.characteristics)]
    if not names:
        known = {word for rule in book.rules.values() for word in words_of(rule, book.layered.characteristics)}
        hint = nearest_words(words, book.rules, known)
        raise UsageError(Problem(f"no rule has {' '.join(words)!r} in its title, name or characteristic", hint=hint))
    return names
