"""Compiling packs: checked, and made ready for judging."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from checker.errors import PackError, Problem
from checker.frozen import FrozenMapping
from checker.judging.sheet_limits import names_for_sheets
from checker.packs.compiled import CompiledCharacteristic
from checker.packs.compiled_packs import CompiledPacks
from checker.packs.compiling import compile_rules
from checker.packs.inspection import plan_problems
from checker.packs.layers import Layered, layer
from checker.packs.materials import materials_of
from checker.packs.pack import Pack
from checker.packs.picturing import compile_pictures
from checker.packs.programs import known_programs
from checker.packs.scope import build_scope
from checker.packs.wording import notation_of
from checker.plugins import Plugins
from checker.records.layout import MOST_STATIONS, Layout
from checker.records.part_sheet import part_sheets_in


def compile_packs(packs: Iterable[Pack], plugins: Plugins, strict: bool) -> CompiledPacks:
    """Compile packs; if strict, all of them at once, else what was released only when it is needed.

    Raises PackError naming everything that is wrong.
    """
    problems: list[Problem] = []
    layered = layer(packs, problems)
    problems.extend(plan_problems(layered))
    strict = strict or not all(pack.is_released for pack in layered.packs)
    notation = notation_of(layered, plugins.written_forms, problems)
    programs = FrozenMapping() if strict else known_programs(layered.packs, plugins.rule_packs.values())
    scope, characteristics, in_scope = build_scope(layered, plugins.functions, notation, programs, strict)
    problems.extend(in_scope)
    rules, in_rules = compile_rules(layered, scope, characteristics, strict)
    problems.extend(in_rules)
    materials = materials_of(layered, scope.constants, problems)
    _check_sheets(layered, characteristics, problems)
    pictures, in_pictures = compile_pictures(layered, scope)
    problems.extend(in_pictures)
    if problems:
        raise PackError(problems)
    return CompiledPacks(
        layered=layered,
        notation=notation,
        scope=scope,
        characteristics=characteristics,
        per=FrozenMapping({name: item.characteristic.per for name, item in characteristics.items()}),
        rules=rules,
        materials=materials,
        pictures=FrozenMapping(pictures),
    )


def _check_sheets(
    layered: Layered, characteristics: Mapping[str, CompiledCharacteristic], problems: list[Problem]
) -> None:
    """What makers' sheets that packs state say, before any record is read."""
    if sheets := layered.part_limits:
        layout = Layout(dict.fromkeys(layered.parents, MOST_STATIONS), layered.parents)
        uses = names_for_sheets(layered)
        part_sheets_in(sheets.values(), characteristics, layout, uses, "", {}, date.today(), problems)
