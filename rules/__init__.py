"""The rule packs shipped with the checker, and the forms that their trade writes."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from checker_rules.written_forms import FORMS

from checker.notation.vocabulary import WrittenForm
from checker.plugin_hooks import hook


@hook
def rule_packs() -> Mapping[str, Path]:
    """Every folder here that holds a pack, by the pack's name."""
    here = Path(__file__).parent
    return {path.parent.name.replace("_", "-"): path.parent for path in sorted(here.glob("*/pack.yaml"))}


@hook
def written_forms() -> Mapping[str, WrittenForm]:
    """Oil grades and undersizes."""
    return FORMS
