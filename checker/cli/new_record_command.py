"""`checker new-record`: a first record to fill in, from answers at the terminal or from options."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Mapping, Sequence
from pathlib import Path

from checker.cli.output import put
from checker.documents.printable import printable
from checker.errors import Problem, UsageError, nearest
from checker.new_record import SYSTEMS, new_record
from checker.packs.pack import Pack
from checker.packs.reader import read_pack
from checker.plugins import gather
from checker.records.layout import MOST_STATIONS
from checker.rulebook import Rulebook, load_rulebook, packs_with_use
from checker.sheets.blank import NAME


def run(options: Namespace) -> int:
    """Write a record that can be judged at once and says what to fill in."""
    path = Path(options.file)
    if path.exists():
        raise UsageError(Problem(f"{options.file} exists already and is left as it is", hint="name another file"))
    if path.suffix.lower() not in (".yaml", ".yml"):
        raise UsageError(Problem(f"{options.file}: a record to fill in is YAML", hint=f"{path.stem}.yaml"))
    plugins = gather(without=options.without)
    packs = {name: read_pack(folder) for name, folder in plugins.rule_packs.items()}
    asks = sys.stdin.isatty() and sys.stdout.isatty()
    use = options.use or (_ask_use(packs) if asks and not options.pack else "")
    rulebook = load_rulebook(*(options.pack or [_only_pack(use, packs)]), plugins=plugins)
    if not use or use not in rulebook.applications:
        rulebook.chain(use or _refused_use(rulebook.applications))
    name = options.name or (_ask("What is it called?", NAME) if asks else NAME)
    system = options.units or (_ask_one_of("Inches or millimetres?", SYSTEMS) if asks else SYSTEMS[0])
    stations = _counts(options.stations) or (_ask_stations(rulebook) if asks else {})
    put(new_record(rulebook, use, name, system, stations, path.name), options.file)
    put(f"{options.file} written for {use}, by {rulebook}.\nFill it in, then: checker check {options.file}\n", None)
    return 0


def _only_pack(use: str, packs: Mapping[str, Pack]) -> str:
    """The installed pack that defines a use; raises UsageError where it is not exactly one."""
    fitting = packs_with_use(use, packs)
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        hint = f"name one with --pack: {', '.join(fitting)}"
        raise UsageError(Problem(f"several installed rule packs have a use {use!r}", hint=hint))
    uses = [one.name for pack in packs.values() for one in pack.applications]
    return _refused_use(uses) if not use else _unknown_use(use, uses)


def _refused_use(uses: Sequence[str]) -> str:
    raise UsageError(Problem("a record says what it is used for", hint=f"name it with --for: {', '.join(uses)}"))


def _unknown_use(use: str, uses: Sequence[str]) -> str:
    hint = nearest(use, uses) or f"known: {', '.join(uses)}"
    raise UsageError(Problem(f"no installed rule pack has a use {use!r}", hint=hint))


def _counts(texts: Sequence[str]) -> dict[str, int]:
    """How many stations there are, from texts such as "gear=4"."""
    found: dict[str, int] = {}
    problems = []
    for text in texts:
        name, _, count = text.partition("=")
        if not _is_count(count):
            hint = f"write NAME=COUNT, as in gear=4; at most {MOST_STATIONS}"
            problems.append(Problem(f"--stations {text}: not a number of stations", hint=hint))
            continue
        found[name.strip()] = int(count)
    if problems:
        raise UsageError(problems)
    return found


def _is_count(text: str) -> bool:
    return text.isascii() and text.strip().isdigit() and len(text) <= 3 and 1 <= int(text) <= MOST_STATIONS


def _ask_use(packs: Mapping[str, Pack]) -> str:
    uses = {one.name: one.title for pack in packs.values() for one in pack.applications}
    longest = max(map(len, uses), default=0)
    put("".join(f"  {name:{longest}}  {title}\n" for name, title in uses.items()), None)
    return _ask_one_of("What will it be used for?", tuple(uses))


def _ask_stations(rulebook: Rulebook) -> dict[str, int]:
    """How many there are of each kind; Enter leaves one out."""
    put("How many are there? Enter where there are none, or to say it later.\n", None)
    found = {}
    for name, kind in rulebook.layered.stations.items():
        typed = _ask(f"  {kind.title}", "")
        while typed and not _is_count(typed):
            typed = _ask(f"  {kind.title} (1 to {MOST_STATIONS})", "")
        if typed:
            found[name] = int(typed)
    return found


def _ask_one_of(question: str, choices: Sequence[str]) -> str:
    while True:
        typed = _ask(f"{question} {' / '.join(choices) if len(choices) < 4 else ''}".rstrip(), "")
        if typed in choices:
            return typed
        put(f"  {nearest(typed, choices) or 'one of ' + ', '.join(choices)}\n", None)


def _ask(question: str, usual: str) -> str:
    try:
        typed = input(printable(f"{question}{f' [{usual}]' if usual else ''} ")).strip()
    except EOFError:
        raise UsageError(Problem("the questions were not answered to the end; nothing was written")) from None
    return typed or usual
