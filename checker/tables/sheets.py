"""Part sheets of a table: alike for all of its rows, but those in which one may be suspect or comes to something else.

Whether a sheet is suspect follows from what packs allow there, and that from sizes and facts that may differ from row
to row; so does whether a rule of the packs judges what the sheet speaks of, and what room is left beside their limits.
"""

from __future__ import annotations

from collections.abc import Mapping, Set
from typing import NamedTuple

import numpy as np

from checker.checking.book import Book
from checker.checking.context import context_of, for_use
from checker.checking.question import Question
from checker.expressions.truth import Truths
from checker.findings.context import Context
from checker.judging.block import Block
from checker.judging.evidence import Evidence
from checker.judging.sheet_rules import are_judged, rules_of_sheets
from checker.judging.suspect_sheets import may_be_suspect
from checker.packs.compiled import CompiledRule
from checker.records.part_sheet import PartLimit, PartSheet


class TableSheets(NamedTuple):
    """The part sheets of what is alike for all rows, and what they come to for a use.

    `rules` are those due, by name: of the packs, and those that judge by a sheet `alone`; `parts` the limits of sheets
    that count for them.
    """

    book: Book
    context: Context
    sheets: Mapping[str, PartSheet]
    rules: Mapping[str, CompiledRule]
    alone: Set[str]
    parts: Mapping[str, PartLimit]

    @property
    def rules_touched(self) -> Set[str]:
        """The rules that a sheet bears on."""
        return self.parts.keys() | self.alone

    @property
    def are_suspect(self) -> bool:
        """Whether one is suspect by what is alike for all rows."""
        return any(sheet.suspicion for sheet in self.sheets.values())

    def odd_rows(self, block: Block) -> Truths:
        """In which rows of a block a sheet may be suspect, or may come to something else."""
        odd = may_be_suspect(self.sheets, self.book.compiled, block)
        for sheet in self.sheets.values():
            blocks = (self.context.block, block)
            alike, own = (are_judged(sheet, self.book.compiled, self.context.chain, one) for one in blocks)
            odd = odd | (own != alike)
        here = self.context._replace(block=block)
        for name, part in self.parts.items():
            if part.is_beside and (own_part := here.part_limit(self.rules[name])) is not None:
                odd = odd | ((own_part.low != part.low) | (own_part.high != part.high)).any(axis=1)
        return np.asarray(odd)


def sheets_of(book: Book, found: Evidence, asked: Question) -> TableSheets:
    """The part sheets of what is alike for all rows of a table."""
    alone = rules_of_sheets(found.part_sheets, book.compiled, asked.chain, found.block)
    context = for_use(context_of(book, found, asked.decision), book, asked.chain, asked.plan, alone)
    rules = {name: book.rules[name] for name, rule in book.judging.items() if rule.before in asked.due} | dict(alone)
    limits = ((name, context.part_limit(rule)) for name, rule in rules.items())
    parts = {name: limit for name, limit in limits if limit is not None}
    return TableSheets(book, context, found.part_sheets, rules, alone.keys(), parts)
