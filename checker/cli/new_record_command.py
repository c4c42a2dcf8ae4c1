"""`checker new-record`: a first record to fill in, from answers at the terminal or from options."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterable, Mapping
from pathlib import Path

from checker.cli.look import say
from checker.cli.named_values import is_count, named_counts
from checker.cli.output import write_out
from checker.cli.pack_choice import on_top_of, packs_for, uses_of
from checker.cli.progress import progress
from checker.cli.questions import ask, choose
from checker.cli.terminal import is_terminal, standard_output
from checker.errors import Problem, UsageError, nearest
from checker.new_record import SYSTEMS, new_record
from checker.packs.pack import Pack
from checker.packs_asked import installed_packs
from checker.plugins import gather
from checker.records.layout import MOST_STATIONS
from checker.rulebook import Rulebook, load_rulebook
from checker.sheets.blank import NAME

_SYSTEMS = dict(zip(SYSTEMS, ("inches and pounds", "millimetres and newtons"), strict=True))


def run(options: Namespace) -> int:
    """Write a record that can be judged at once and says what to fill in."""
    path = Path(options.file)
    if path.exists():
        raise UsageError(Problem(f"{options.file} exists already; nothing was written", hint="name another file"))
    if path.suffix.lower() not in (".yaml", ".yml"):
        raise UsageError(Problem(f"{options.file}: a new record is written as YAML", hint=f"{path.stem}.yaml"))
    plugins = gather(without=options.without)
    packs = installed_packs(plugins)
    asks = is_terminal(sys.stdin) and is_terminal(standard_output())
    use = options.use or (choose("What will it be used for?", uses_of(packs)) if asks and not options.pack else "")
    taken = options.pack or [_only_pack(use, packs)]
    if asks and not options.pack and not options.use:
        taken += _ask_added(taken[0], packs)
    with progress("reading the rule packs"):
        rulebook = load_rulebook(*taken, plugins=plugins)
    if not use:
        raise _unnamed_use(rulebook.applications)
    rulebook.chain(use)
    stations = named_counts(options.stations)
    layout = _layout(options.layout, rulebook, asks and not stations)
    if asks and not stations and not layout:
        stations = _ask_stations(rulebook)
    system = options.units or (choose("Inches or millimetres?", _SYSTEMS) if asks else SYSTEMS[0])
    name = options.name or (ask("What is it called?", NAME) if asks else NAME)
    with progress("writing the record"):
        written = new_record(rulebook, use, name, system, stations, path.name, layout, options.scope)
    write_out(written, options.file)
    written = f"{options.file} written for {rulebook.layered.applications[use].title}, by {rulebook}."
    say(f"{written}\nFill it in, or: checker measure {options.file}\nThen: checker check {options.file}\n")
    return 0


def _only_pack(use: str, packs: Mapping[str, Pack]) -> str:
    """The installed pack that defines a use; raises UsageError where it is not exactly one."""
    if not use:
        raise _unnamed_use(uses_of(packs))
    fitting = packs_for(use, packs)
    if len(fitting) > 1:
        hint = f"name one with --pack: {', '.join(fitting)}"
        raise UsageError(Problem(f"several installed rule packs have a use {use!r}", hint=hint))
    return fitting[0]


def _unnamed_use(uses: Iterable[str]) -> UsageError:
    return UsageError(Problem("a record says what it is used for", hint=f"name it with --for: {', '.join(uses)}"))


def _ask_added(base: str, packs: Mapping[str, Pack]) -> list[str]:
    """The packs that go on top of the use, one after the other until Enter."""
    added: list[str] = []
    while left := {name: title for name, title in on_top_of(base, packs).items() if name not in added}:
        chosen = choose("Is anything added to it?", left, none="nothing more" if added else "nothing")
        if not chosen:
            break
        added.append(chosen)
    return added


def _layout(given: str | None, rulebook: Rulebook, asks: bool) -> str:
    layouts = {name: name for name in rulebook.layered.layouts}
    if given and given not in layouts:
        known = f"known: {', '.join(layouts)}" if layouts else "no rule pack here has layouts"
        raise UsageError(Problem(f"no layout {given!r}", hint=nearest(given, layouts) or known))
    return given or (choose("Which layout?", layouts, none="another; it is counted") if asks and layouts else "")


def _ask_stations(rulebook: Rulebook) -> dict[str, int]:
    """How many there are of each kind; Enter leaves one out."""
    write_out("How many are there? Enter where there are none, or to say it later.\n", None)
    counts = {}
    for name, kind in rulebook.layered.stations.items():
        typed = ask(f"  {kind.title}")
        while typed and not is_count(typed):
            typed = ask(f"  {kind.title} (1 to {MOST_STATIONS})")
        if typed:
            counts[name] = int(typed)
    return counts
