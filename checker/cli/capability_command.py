"""`checker capability`: how capable a process is of the limits of some rules, over a batch or a table."""

from __future__ import annotations

import gc
from argparse import Namespace
from collections.abc import Mapping, Sequence
from datetime import date
from itertools import chain
from pathlib import Path
from typing import Any

from checker.cli.batch_command import plan_asked_for
from checker.cli.look import say
from checker.cli.output import write_json, write_out
from checker.cli.progress import progress
from checker.errors import Problem, UsageError, needing
from checker.packs.titles import Titles
from checker.plugins import gather
from checker.rule_search import find_rules, none_found
from checker.rulebook import Rulebook

with needing("fleet", "nothing can be told"):
    from checker.fleet.capability import Capability, Over, capabilities, seen_over
    from checker.fleet.capability_text import capability_data, write_capabilities
    from checker.fleet.parts import parts_of
    from checker.fleet.plan import Asked, Plan, head_for, plan_of
    from checker.fleet.run import differences, head_of
    from checker.fleet.sources import KINDS, open_source

_BATCH_STATES = (
    *("base", "layout", "assembly", "column", "instrument", "pack", "application"),
    *("before", "inspection", "decision", "probability", "on", "rows"),
)
"""What says how a table is read, and is written down with the results of a batch."""


def run(options: Namespace) -> int:
    """Read a table, or those of a batch again, for the rules asked for, and tell what their values show."""
    gc.enable()  # this runs for long
    studies = _capabilities(options)
    if options.format == "html":
        from checker.html.capability_page import write_capability_html  # few runs write it

        write_out(write_capability_html(studies), options.output)
    elif options.format == "json":
        write_json([capability_data(study) for study in studies], options.output, indent=1)
    else:
        say(write_capabilities(studies), options.output)
    return 0


def _capabilities(options: Namespace) -> Sequence[Capability]:
    source = Path(options.source)
    is_table = source.suffix.lower() in KINDS and not source.is_dir()
    plan, head = (plan_asked_for(options, options.on or date.today()), None) if is_table else _batch_asked_for(options)
    rules = _rules(plan.rulebook, options.words)
    with progress("reading the tables") as step:
        sources = [open_source(path, plan.asked.rows) for path in (head["tables"] if head else [options.source])]
        if head and (changed := list(differences(head, head_for(plan, sources)))):
            hint, made = "run checker batch anew", f"not as it was when {options.source} was made"
            raise UsageError([Problem(f"{made}: {change}", hint=hint) for change in changed])
        parts = parts_of(sources, plan.asked.rows, plan.name_column, plan.is_long)
        seen = Over({}, 0)
        for number, so_far in enumerate(seen_over(plan, parts, rules), 1):
            step(f"{number} of {len(parts)} parts")
            seen = so_far
    titles = Titles(plan.rulebook.layered)
    by_rule = (
        capabilities(
            name,
            seen.by_rule[name],
            titles.of(plan.rulebook.rules[name].stations or ""),
            options.by_station,
            seen.set_aside,
        )
        for name in rules
        if name in seen.by_rule
    )
    return list(chain.from_iterable(by_rule))


def _batch_asked_for(options: Namespace) -> tuple[Plan, Mapping[str, Any]]:
    """What a batch was asked, ready, and as it is written down with its results."""
    head = head_of(Path(options.source))
    if head is None:
        hint = f"checker batch makes them; a table is known by its suffix: {', '.join(KINDS)}"
        raise UsageError(Problem(f"{options.source} holds no results", hint=hint))
    if stated := [name for name in _BATCH_STATES if getattr(options, name) not in (None, [], "wide")]:
        words = ", ".join(f"--{'record' if name == 'base' else name}" for name in stated)
        raise UsageError(Problem(f"{words}: {options.source} states how its tables are read; this is for a table"))
    asked = Asked(**{key: head[key] for key in Asked._fields if key in head})
    return plan_of(asked, gather(without=options.without)), head


def _rules(book: Rulebook, words: Sequence[str]) -> list[str]:
    """The names of the rules that some words find."""
    names = [rule.rule.name for rule in find_rules(words, book)]
    if not names:
        raise none_found(words, [book])
    return names
