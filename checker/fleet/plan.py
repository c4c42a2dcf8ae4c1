"""What is asked of every row of some tables: plainly, as it is written down with the results, and ready to judge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, NamedTuple

from checker.checking.question import question_of
from checker.fleet.sources import Source
from checker.judging.conformity import PROBABILITY, Decision
from checker.plugin import SHIPPED, own_version
from checker.plugins import Plugins
from checker.records.record import Record, record_from_text
from checker.reports.terms import Terms
from checker.rulebook import Rulebook, rulebook_for

ROWS = {"wide": 8192, "long": 131_072}
"""Rows that are read and judged at once, unless other is asked for: assemblies, or values, of which each has many."""


class Asked(NamedTuple):
    """What is asked, in the words of Rulebook.check_table; `record` is the text of what is alike for all of them."""

    record: str
    pack: Sequence[str] = ()
    layout: str = "wide"
    assembly: str | None = None
    columns: Mapping[str, str] | None = None
    instruments: Mapping[str, str] | None = None
    application: str | None = None
    before: str | None = None
    decision: str | None = None
    probability: float | None = None
    on: str = ""
    inspection: str | None = None
    rows: int = ROWS["wide"]


class Plan(NamedTuple):
    """What is asked, with the packs loaded; it can be sent to other programs."""

    asked: Asked
    rulebook: Rulebook
    record: Record
    decision: Decision | None

    @property
    def terms(self) -> Terms:
        """On which terms every row is judged."""
        day = date.fromisoformat(self.asked.on)
        return Terms(before=self.asked.before, decision=self.decision, on=day, inspection=self.asked.inspection)

    @property
    def is_long(self) -> bool:
        """Whether a row of the tables is a value, not an assembly."""
        return self.asked.layout == "long"

    @property
    def name_column(self) -> str | None:
        """The column that names assemblies; of a wide table perhaps none."""
        if not self.is_long:
            return self.asked.assembly
        return self.asked.assembly or (self.asked.columns or {}).get("assembly", "assembly")

    def check(self, table: Any, verdicts: Sequence[Any] = ()) -> Any:
        """The report on a table, with the findings of these verdicts."""
        asked = self.asked
        return self.rulebook.check_table(
            table,
            self.record,
            layout="long" if self.is_long else "wide",
            columns=asked.columns,
            assembly=asked.assembly,
            instruments=asked.instruments,
            verdicts=verdicts,
            application=asked.application,
            **self.terms,
        )


def plan_of(asked: Asked, plugins: Plugins, source: str = "the record") -> Plan:
    """What is asked, ready; `source` is what messages call the record.

    Raises InputError, PackError and UsageError as a check does.
    """
    record = record_from_text(asked.record, source)
    rulebook = rulebook_for(record, *asked.pack, plugins=plugins)
    decision = None
    if asked.decision is not None:
        decision = Decision(asked.decision, asked.probability or PROBABILITY, "the command")
    plan = Plan(asked, rulebook, record, decision)
    question_of(rulebook, record, asked.application, **plan.terms)  # what is wrong with it is no table's fault
    return plan


def head_for(plan: Plan, sources: Sequence[Source]) -> dict[str, Any]:
    """What is written down with results, and by which they are known again: what was asked, of what, by what."""
    question = question_of(plan.rulebook, plan.record, plan.asked.application, **plan.terms)
    due = question.before and f"only what is due {plan.rulebook.layered.milestone_titles[question.before]}"
    scope = question.plan.scope_words and f"asked of {question.plan.scope_words} alone"
    plugins = {plugin.name: plugin.version for plugin in plan.rulebook.plugins.each if plugin.distribution != SHIPPED}
    return {
        "checker": own_version(),
        "packs": {str(pack): pack.digest for pack in plan.rulebook.packs},
        "plugins": plugins,
        "tables": {source.path: source.sha256 for source in sources},
        "application": plan.asked.application or plan.record.application,
        "extent": "; ".join(filter(None, (due, scope, question.plan.level and f"by {question.plan}"))),
        **{key: value for key, value in plan.asked._asdict().items() if key != "application"},
    }
