"""The rulebook: packs loaded, layered and compiled once, then used on as many records as you like."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Unpack

from checker.checking.book import Book
from checker.checking.check import check_record, check_uses
from checker.checking.question import question_of
from checker.compile_packs import compile_packs
from checker.errors import Problem, UsageError, needing, require
from checker.judging.judge import AMISS, Verdict
from checker.packs.pack import Pack
from checker.packs_asked import packs_for, read_packs
from checker.plugins import Plugins, gather
from checker.records.record import Record
from checker.reports.report import Report
from checker.reports.terms import Terms

if TYPE_CHECKING:
    from checker.given import GivenValue
    from checker.limits import RuleLimits
    from checker.room import Room
    from checker.session import Session
    from checker.tables.report import TableReport

_READ_IT = 'read it first, as in read_record("record.yaml"), or record_from(data)'


class Rulebook(Book):
    """Compiled rules; read-only, and safe to share between threads.

    What it was made of stands in its attributes: `rules` by name with their titles, bases and systems,
    `characteristics` by name with their titles, units and stations, and what a program seldom needs.
    """

    def __init__(self, packs: Iterable[Pack], plugins: Plugins, strict: bool = False, choice: str = "") -> None:
        super().__init__(compile_packs(packs, plugins, strict), plugins, choice)

    @property
    def milestones(self) -> tuple[str, ...]:
        """The milestones of a build, in order."""
        return self.layered.milestones

    @property
    def inspection_levels(self) -> tuple[str, ...]:
        """The names of the inspection levels, the one that asks for least first."""
        return tuple(self.layered.inspection_levels)

    def check(self, record: Record, application: str | None = None, **terms: Unpack[Terms]) -> Report:
        """Judge a record on these terms: before, decision, on, inspection, as in Terms.

        Raises InputError for readings that cannot be understood, UsageError for unknown names and for packs that the
        record asks for and that are not loaded.
        """
        require(record, _READ_IT, Record)
        return check_record(self, record, question_of(self, record, application, **terms))

    def check_uses(self, record: Record, *applications: str, on: date | None = None) -> Iterator[Report]:
        """Judge a record for several uses, all that there are unless some are named; sooner than one by one.

        Raises InputError for readings that cannot be understood, UsageError for unknown names.
        """
        require(record, _READ_IT, Record)
        return check_uses(self, record, applications or self.applications, on)

    def check_many(
        self, records: Iterable[Record], application: str | None = None, **terms: Unpack[Terms]
    ) -> Iterator[Report]:
        """Judge records one after another, all as on the same day; each report is made when it is asked for.

        Where a record cannot be judged, `next` raises its InputError, and the next record follows all the same.
        """
        terms["on"] = terms.get("on") or date.today()

        def checked(record: Record) -> Report:
            return self.check(record, application, **terms)

        return map(checked, records)  # a generator would end with the first record that cannot be judged

    def check_table(
        self,
        table: Any,
        record: Record | Mapping[str, Any] | None = None,
        *,
        layout: Literal["wide", "long"] = "wide",
        columns: Mapping[str, str] | None = None,
        assembly: str | None = None,
        units: Mapping[str, str] | None = None,
        instruments: Mapping[str, str] | None = None,
        verdicts: Sequence[Verdict] = AMISS,
        application: str | None = None,
        **terms: Unpack[Terms],
    ) -> TableReport:
        """Judge many assemblies at once, from any table that speaks Arrow: pyarrow, polars, pandas, duckdb, or columns.

        Wide: a row an assembly, each column a characteristic, or `characteristic@station`; `columns` says so of columns
        with other names, and then no others are read. Such a column may be worked out, as "4.030 + deviation_1 / 1000"
        is from what a gauge tells. Long: a row a value, in columns called assembly, characteristic,
        station, value and perhaps unit, or as `columns` calls them. `assembly` is the column that names each.

        What is alike for all stands in `record` (facts, stations, instruments, part sheets), a record or the keys of
        one. `units` are those of numbers, by kind, as in {"length": "mm"}; `instruments` say with what a
        characteristic was measured. An empty cell was not measured. The verdicts are those of checking each row as a
        record; `verdicts` are those of which each finding is told. Needs the extra `tables`.

        Raises UsageError for columns that cannot be read, InputError for what is wrong with the record, TypeError for
        what is no table. A row that cannot be read is set aside, with the reason; a line of a long table takes along
        its assembly, and where that is not named each assembly it may tell of.
        """
        with needing("tables", "tables cannot be read"):
            from checker.tables.check import check_table  # few need it
        how = layout, columns, assembly, units, instruments, verdicts
        return check_table(self, table, record, *how, application, terms)

    def room(
        self,
        record: Record,
        characteristic: str,
        station: int | None = None,
        *,
        musts_only: bool = False,
        application: str | None = None,
        **terms: Unpack[Terms],
    ) -> Room:
        """How far a value, at a station counted from 1, may move each way before a rule says worse of it than now.

        Worse is advisory, undecided, outside or not to be judged; with `musts_only` what is only advised is left out.
        Raises UsageError where nothing was measured there.
        """
        from checker.room import room_of  # few need it, as what limits and sessions import

        report = self.check(record, application, **terms)
        return room_of(self, report, characteristic, station, musts_only)

    def session(self, record: Record, application: str | None = None, **terms: Unpack[Terms]) -> Session:
        """A session that takes one reading of a record after another and says what each changed."""
        from checker.session import Session

        return Session(self, self.check(record, application, **terms))

    def limits(self, rule: str, application: str, given: Mapping[str, GivenValue] | None = None) -> RuleLimits:
        """The limits of a rule for a use, without a record: in numbers as far as `given` sizes and facts allow.

        A number, or a text without a unit, is in the usual unit of its characteristic; a quantity has its own. Raises
        UsageError for names that are unknown and values that cannot be read or are not possible.
        """
        from checker.given import read_given
        from checker.limits import limits_of

        require(given or {}, "give sizes and facts by name, as in {'shaft_diameter': 30.0}", Mapping)
        return limits_of(self, self.rule(rule), application, read_given(given or {}, self.characteristics))

    def __repr__(self) -> str:
        return f"<Rulebook {self}>"

    def __reduce__(self) -> tuple[Any, ...]:
        chosen = () if self.judging is self.layered.rules else tuple(self.judging)
        return _again, (self.packs, self.plugins, self.choice, chosen)


def _again(packs: tuple[Pack, ...], plugins: Plugins, choice: str, chosen: tuple[str, ...]) -> Rulebook:
    """The same rulebook in another program."""
    found = Rulebook(packs, plugins, choice=choice)
    return found.only(*chosen) if chosen else found


def load_rulebook(*names: str | Path, plugins: Plugins | None = None, strict: bool = False) -> Rulebook:
    """Load packs by name or folder, and all the packs they build on.

    If strict, all is checked at once, released packs too. Raises PackError, PluginError or UsageError.
    """
    if not names:
        raise UsageError(Problem("a rulebook needs a pack", hint='as in load_rulebook("gear-train")'))
    for name in names:
        require(name, 'give packs one by one, as in load_rulebook("gear-train", "our-shop")', str, Path)
    found = gather() if plugins is None else plugins
    return Rulebook(read_packs(names, found), found, strict)


def rulebook_for(record: Record, *more: str | Path, plugins: Plugins | None = None) -> Rulebook:
    """The rulebook a record asks for, with more packs; a folder given here stands in for an installed pack.

    Versions are held to the record's ranges.
    """
    require(record, _READ_IT, Record)
    found = gather() if plugins is None else plugins
    packs, choice = packs_for(record, more, found, {})
    return Rulebook(packs, found, choice=choice)
