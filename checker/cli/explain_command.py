"""`checker explain`: the limits of a rule for every use, and where they come from."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Sequence

from checker.cli.output import put
from checker.errors import Problem, UsageError, nearest
from checker.packs.layers import families
from checker.packs.reader import read_pack
from checker.plugins import Plugins, gather
from checker.rulebook import load_rulebook
from checker.vetting.explanation import explain


def run(options: Namespace) -> int:
    """Show one rule: what it judges, its limits for each use, remedies, cautions."""
    plugins = gather(without=options.without)
    rulebooks = [load_rulebook(*names, plugins=plugins) for names in _pack_sets(options.pack, plugins)]
    pages = [explain(rulebook, options.rule, options.at) for rulebook in rulebooks if options.rule in rulebook.rules]
    if not pages:
        for rulebook in rulebooks:
            if options.rule in rulebook.layered.retired:
                rulebook.rule(options.rule)  # which says who dropped it, and why
        known = {name for rulebook in rulebooks for name in rulebook.rules}
        packs = "; ".join(map(str, rulebooks))
        raise UsageError(Problem(f"no rule {options.rule!r} in {packs}", hint=nearest(options.rule, known)))
    put("\n".join(pages), None)
    return 0


def _pack_sets(wanted: Sequence[str], plugins: Plugins) -> Iterator[Sequence[str]]:
    """The packs asked for; else all that are installed, those that build on each other together."""
    if wanted:
        yield wanted
    else:
        yield from families({name: read_pack(folder) for name, folder in plugins.rule_packs.items()})
