"""What a part sheet comes to for a rule and a use: the limits that count, those that only add, or none."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np

from checker.expressions.truth import TRUE
from checker.frozen import FrozenMapping
from checker.judging.block import Block
from checker.judging.judge import Judged, Verdict
from checker.judging.measures import measure
from checker.packs.compiled import CompiledRule
from checker.packs.layers import Layered
from checker.packs.limit_set import STATED
from checker.records.part_sheet import PartLimit, PartSheet


class SheetsAtHand(NamedTuple):
    """The part sheets of a record and its packs by characteristic.

    `adders` are the packs for more load than sheets are printed for, each with the uses it defines; `lent` says of a
    rule that takes the limits of another what that judges.
    """

    by_name: Mapping[str, PartSheet] = FrozenMapping({})
    adders: Mapping[str, frozenset[str]] = FrozenMapping({})
    lent: Mapping[str, str] = FrozenMapping({})

    def of(self, rule: CompiledRule) -> PartSheet | None:
        """The sheet for what a rule judges, if that is a plain characteristic, or for what it takes the limits of."""
        if not self.by_name or rule.is_demand:
            return None
        own = self.by_name.get(rule.judges.characteristic or "")
        return own or self.by_name.get(self.lent.get(rule.name, ""))

    def limit(self, rule: CompiledRule, chain: tuple[str, ...], block: Block) -> PartLimit | None:
        """The limits of that sheet as far as they count for a use.

        A sheet that names this use, or the pack of more load that speaks here, counts in place of the packs; one that
        names others only does not count. One that names none was printed for the use of the record; for another use,
        and beside limits for more load, it may add to what the packs ask for, and takes nothing from it.
        """
        sheet = self.of(rule)
        if sheet is None:
            return None
        if sheet.uses and not self._is_named(sheet, rule, chain):
            return None
        if sheet.suspicion:
            unknown = np.full_like(sheet.limit.low, np.nan)
            speaks = sheet.limit.speaks
            return PartLimit(np.where(speaks, unknown, -np.inf), np.where(speaks, unknown, np.inf))
        if sheet.uses or (sheet.meant_for in (None, "", chain[0]) and not set(self._adding(rule, chain))):
            return sheet.limit
        return _where_room_is(sheet.limit, rule, chain, block)

    def _is_named(self, sheet: PartSheet, rule: CompiledRule, chain: tuple[str, ...]) -> bool:
        """Whether a sheet says that it was printed for a use, and for the load that packs add to it."""
        adding = set(self._adding(rule, chain))
        own = {use for name in adding for use in self.adders[name]}
        return bool(adding & set(sheet.uses)) or (chain[0] in sheet.uses and (not adding or chain[0] in own))

    def _adding(self, rule: CompiledRule, chain: tuple[str, ...]) -> Iterator[str]:
        """The packs of more load that state a limit of a rule for a use."""
        for position in STATED if self.adders else ():
            for candidate in rule.limits.candidates(chain, *position):
                if (pack := candidate.bound.limit.origin.pack) in self.adders:
                    yield pack


def names_for_sheets(layered: Layered) -> tuple[str, ...]:
    """The names for which a sheet may be printed: uses, and packs of more load."""
    return (*layered.applications, *(pack.name for pack in layered.packs if pack.adds_load))


def sheets_at_hand(by_name: Mapping[str, PartSheet], layered: Layered) -> SheetsAtHand:
    """Sheets beside the packs."""
    adders = {pack.name: frozenset(use.name for use in pack.applications) for pack in layered.packs if pack.adds_load}
    rules = layered.rules
    lenders = ((name, rule.lender) for name, rule in rules.items() if by_name and rule.lender)
    lent = {name: rules[lender].judges for name, lender in lenders if lender in rules}
    return SheetsAtHand(by_name, FrozenMapping(adders), FrozenMapping(lent))


def held_open(judged: Judged, part: PartLimit | None) -> Judged:
    """Undecided, where a value is there but the only sheet for it is suspect: it is not that something is missing."""
    if part is None:
        return judged
    is_suspect = np.isnan(part.low) | np.isnan(part.high)
    is_held = is_suspect & (judged.codes == Verdict.NOT_MEASURED) & np.isfinite(judged.measures.value[:1])
    codes = np.where(is_held & (judged.measures.applies[:1] == TRUE), np.int8(Verdict.UNDECIDED), judged.codes)
    return judged.saying(codes, judged.must_open)


def _where_room_is(limit: PartLimit, rule: CompiledRule, chain: tuple[str, ...], block: Block) -> PartLimit:
    """Limits that add to those of the packs, left out where nothing would satisfy both."""
    _, _, _, most = of_packs = measure(rule, block, chain).limits
    least = of_packs[0]
    return PartLimit(
        np.where(limit.low > most, -np.inf, limit.low), np.where(limit.high < least, np.inf, limit.high), is_beside=True
    )
