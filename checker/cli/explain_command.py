"""`checker explain`: the limits of a rule for every use, and where they come from."""

from __future__ import annotations

from argparse import Namespace

from checker.cli.output import put
from checker.explanation import explain
from checker.plugins import gather
from checker.rulebook import load_rulebook


def run(options: Namespace) -> int:
    """Show one rule: what it judges, its limits for each use, remedies, cautions."""
    plugins = gather()
    rulebook = load_rulebook(*(options.pack or plugins.rule_packs), plugins=plugins)
    put(explain(rulebook, options.rule, options.at), None)
    return 0
