"""The report on one record: findings, readings in doubt, and which packs said so."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import chain, groupby
from operator import itemgetter
from typing import Any, TypeAlias, cast

import numpy as np
import numpy.typing as npt

from checker.errors import Problem, UsageError, nearest, require
from checker.expressions.names import Column
from checker.expressions.truth import Array, Truths
from checker.findings.context import Context
from checker.findings.finding import Finding
from checker.findings.findings import at_face_value, disputed, disputed_rules, findings_of
from checker.findings.permission import Standing, standings_of
from checker.frozen import Applied, FrozenMapping
from checker.judging.judge import Codes, Judged, Verdict
from checker.packs.compiled import CompiledRule
from checker.packs.inspection import LeftOut
from checker.packs.layers import Retired
from checker.packs.pack import Pack
from checker.packs.picturing import CompiledPicture
from checker.plugin import Plugin
from checker.records.entry import Reading
from checker.records.flag import Flag
from checker.records.record import Record
from checker.reports.terms import Terms

_Made: TypeAlias = tuple[int, int, Finding]
"""The number of its rule, its station, and a finding."""
HELD = 0
BROKEN = 1
NOT_JUDGED = 3
_AMISS = (Verdict.ADVISORY, Verdict.UNDECIDED, Verdict.OUTSIDE, Verdict.NOT_MEASURED, Verdict.NOT_COVERED)
"""The verdicts of a check that does not hold, or is not known to, be it required or not."""
SHOWN_AS = {HELD: Verdict.WITHIN, BROKEN: Verdict.OUTSIDE, NOT_JUDGED: Verdict.NOT_MEASURED}
"""The verdict in whose colour and by whose mark a status is shown."""


@dataclass(frozen=True, eq=False, repr=False)
class Report:
    """The verdicts on one record for one application; findings are made only when asked for.

    `judged` holds the verdicts as arrays, one rule each, and `later` the names of the rules that are not due yet.
    `suspect_sheets` are part sheets that count for nothing until somebody confirms or mends them, `flags` readings to
    look at again or that were refused, `notes` how others were understood. `pack_choice` says why these packs were
    taken where the record names none, `plugins` are those whose functions, reader or packs made the verdicts, and
    `retired` the rules that a pack has dropped.

    A report that one process sends to another is judged again where it arrives: rather send what you need of it, such
    as its findings, its counts, or what write_json tells.
    """

    record: Record
    application: str
    before: str | None
    judged: tuple[Judged, ...]
    later: tuple[str, ...]
    suspect_sheets: tuple[Flag, ...]
    flags: tuple[Flag, ...]
    notes: tuple[Flag, ...]
    readings: tuple[Reading, ...]
    packs: tuple[Pack, ...]
    plugins: tuple[Plugin, ...]
    retired: tuple[Retired, ...]
    cautions: tuple[str, ...]
    milestones: tuple[str, ...]
    pictures: Mapping[str, CompiledPicture]
    context: Context
    again: Applied
    """Judges the same record once more by the same rulebook: what becomes of a report in another program."""
    pack_choice: str = ""
    computed: frozenset[str] = frozenset()
    """The characteristics that were computed on the way."""
    only: str = ""
    """By how few rules it was judged, in words, where that was by some alone."""

    def __repr__(self) -> str:
        return f"<Report on {self.record.source} for {self.application}: status {self.status}>"

    def __reduce__(self) -> tuple[Any, ...]:
        return self.again.function, self.again.first

    def values(self, characteristic: str) -> Array:
        """The values of a characteristic at its stations, in SI; missing ones are NaN.

        Raises UsageError for a characteristic that there is not.
        """
        known = self.context.characteristics
        if characteristic not in known:
            raise UsageError(Problem(f"no characteristic {characteristic!r}", hint=nearest(characteristic, known)))
        values: Array = self.context.block.fetch(Column(characteristic))[0]
        return values

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """Every finding, worst first within its system, systems as the build reaches them."""
        return self._in_order(self.with_verdict(*Verdict))

    def _in_order(self, made: Iterable[Finding]) -> tuple[Finding, ...]:
        order = {name: number for number, name in enumerate(self.systems)}
        return tuple(sorted(made, key=lambda finding: (order[finding.system], -finding.verdict)))

    @cached_property
    def systems(self) -> tuple[str, ...]:
        """The groups of rules, in the order in which a build reaches their first milestone."""
        first: dict[str, int] = {}
        for judged in self.judged:
            rule = judged.rule.rule
            reached = self.milestones.index(rule.before)
            first[rule.system] = min(reached, first.get(rule.system, reached))
        return tuple(sorted(first, key=lambda system: first[system]))

    def with_verdict(self, *verdicts: Verdict) -> tuple[Finding, ...]:
        """The findings with one of these verdicts, in the order of the rules."""
        _require_verdicts(verdicts)
        if new := frozenset(verdicts) - self._made.keys():
            made: dict[Verdict, list[_Made]] = {verdict: [] for verdict in new}
            for number in self._having(new):
                for finding in findings_of(self.judged[number], self.context, new):
                    made[finding.verdict].append((number, finding.station, finding))
            self._made.update(made)
        chosen = sorted(chain.from_iterable(self._made[it] for it in frozenset(verdicts)), key=itemgetter(0, 1))
        return tuple(finding for _, _, finding in chosen)

    def _having(self, wanted: Iterable[Verdict]) -> list[int]:
        """The numbers of the rules that have one of these verdicts somewhere."""
        # np.unique imports masked arrays, which nothing else here needs.
        return sorted(set(self._numbers[np.isin(self._codes, list(wanted))].tolist()))

    @cached_property
    def _made(self) -> dict[Verdict, list[_Made]]:
        """The findings made so far, by verdict."""
        return {}

    @cached_property
    def unsettled(self) -> tuple[Finding, ...]:
        """The findings that are missed, too near a limit, or leave a must open, in the order of all of them."""
        of_open = {Verdict(code) for code in set(self._codes[self._open].tolist())}
        return self._in_order(self.with_verdict(*of_open, Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY))

    @cached_property
    def outside(self) -> tuple[Finding, ...]:
        """The findings that break a must, permitted ones too, in the order of the rules."""
        return self.with_verdict(Verdict.OUTSIDE)

    @property
    def advisory(self) -> tuple[Finding, ...]:
        """The findings that miss a should and break no must."""
        return self.with_verdict(Verdict.ADVISORY)

    @property
    def undecided(self) -> tuple[Finding, ...]:
        """The findings too near a limit for what they were measured with."""
        return self.with_verdict(Verdict.UNDECIDED)

    @property
    def not_measured(self) -> tuple[Finding, ...]:
        """The findings for which a reading is missing; each says which."""
        return self.with_verdict(Verdict.NOT_MEASURED)

    @cached_property
    def concessions(self) -> tuple[Standing, ...]:
        """Every concession of the record, and whether it counts."""
        return tuple(standings_of(self.judged, self.context))

    @property
    def left_out(self) -> tuple[tuple[CompiledRule, LeftOut], ...]:
        """The rules with a must that a control plan leaves out though they may apply, and why."""
        out = self.context.plan.left_out
        may_apply = (one for one in self.judged if one.rule.name in out and one.measures.asks_must)
        unasked = (one for one in may_apply if (one.codes == Verdict.NOT_ASKED).any())
        return tuple((judged.rule, out[judged.rule.name]) for judged in unasked)

    @property
    def extent(self) -> str:
        """How much was asked, in words; empty where everything is asked and no level is stated."""
        plan, unasked = self.context.plan, self.counts[Verdict.NOT_ASKED]
        if not plan.level and not unasked and not plan.scope:
            return self.only
        scope = f"asked of {plan.scope_words} alone" if plan.scope else ""
        further = f"{unasked} further check{'s were' if unasked != 1 else ' was'} not asked"
        amiss = sum(self.counts[verdict] for verdict in _AMISS)
        is_whole = self.status == HELD and not (amiss or self.later or self.only)
        held = f"every check of {plan} holds" if is_whole else f"judged by {plan}"
        return "; ".join(filter(None, (self.only, scope, held, further if unasked else "")))

    @property
    def without_uncertainty(self) -> tuple[int, int]:
        """How many of the quantities measured come with no instrument, and of how many."""
        measured = (reading for reading in self.readings if reading.unit is not None and not reading.is_fact)
        counted = [reading for reading in measured if not reading.set_aside]
        return sum(reading.uncertainty_is_unstated for reading in counted), len(counted)

    @property
    def what_is_unstated(self) -> str:
        """What becomes of readings that name no instrument."""
        if self.context.decision.needs_instruments:
            return "name no instrument: what rests on them is undecided until each says with what it was measured"
        return "name no instrument and count at face value"

    @property
    def on(self) -> date:
        """The day of judging."""
        return self.context.past.day

    @property
    def terms(self) -> Terms:
        """The terms it was made on, to make another on the same: check(record, report.application, **report.terms)."""
        stated = Terms(
            before=self.before,
            decision=self.context.decision,
            on=self.on,
            inspection=self.context.plan.level or None,
        )
        return cast(Terms, FrozenMapping(stated))

    @property
    def disputed(self) -> tuple[Finding, ...]:
        """The findings that are within by this rulebook, but about which others say something else."""
        return self._in_order(disputed(self.judged, self.context))

    @property
    def disputed_count(self) -> int:
        """Of how many rules those are."""
        return disputed_rules(self.judged, self.context)

    @cached_property
    def at_face_value(self) -> tuple[Finding, ...]:
        """The findings that are within, but nearer to a limit than readings without an instrument usually tell."""
        return self._in_order(at_face_value(self.judged, self.context))

    @property
    def face_value_count(self) -> int:
        """How many those are."""
        return 0 if self.context.face_value is None else self.context.face_value.count

    @cached_property
    def counts(self) -> Mapping[Verdict, int]:
        """How many findings there are of each verdict."""
        return FrozenMapping(zip(Verdict, np.bincount(self._codes, minlength=len(Verdict)).tolist(), strict=True))

    @cached_property
    def _codes(self) -> Codes:
        """The verdicts of all rules at all their stations, one after another."""
        return np.concatenate([np.zeros(0, np.int8), *(judged.codes[0] for judged in self.judged)])

    @cached_property
    def _numbers(self) -> npt.NDArray[np.intp]:
        """The numbers of the rules, in the same order."""
        return np.repeat(np.arange(len(self.judged)), [judged.codes.shape[1] for judged in self.judged])

    @cached_property
    def _open(self) -> Truths:
        """Where a must is not judged, in the same order."""
        return np.concatenate([np.zeros(0, np.bool_), *(judged.must_open[0] for judged in self.judged)])

    @property
    def open_musts(self) -> int:
        """At how many stations of all rules a must is not judged."""
        return int(self._open.sum())

    def leaving_open(self, *verdicts: Verdict) -> list[tuple[Judged, Verdict]]:
        """The rules that leave a must open by one of these verdicts, each with the worst of them."""
        _require_verdicts(verdicts)
        is_so = self._open & np.isin(self._codes, verdicts)
        worst = np.full(len(self.judged), -1)
        np.maximum.at(worst, self._numbers[is_so], self._codes[is_so])
        return [(self.judged[number], Verdict(int(worst[number]))) for number in np.flatnonzero(worst >= 0).tolist()]

    def besides_musts(self, verdict: Verdict) -> int:
        """At how many stations a rule says this, those left out where a must is not judged."""
        _require_verdicts([verdict])
        return int(((self._codes == verdict) & ~self._open).sum())

    @cached_property
    def breaks_must(self) -> bool:
        """Whether a must is broken that nobody has permitted."""
        return any(finding.breaks_must for finding in self.outside)

    @cached_property
    def must_open(self) -> bool:
        """Whether a must could not be judged, or may have to be judged at stations that nobody counted."""
        return bool(self.uncounted) or bool(self._open.any())

    @property
    def uncounted(self) -> tuple[str, ...]:
        """The kinds of station, by their titles, that were measured without saying how many there are."""
        return tuple(self.context.stations[name].title for name in self.context.block.layout.uncounted)

    @property
    def status(self) -> int:
        """Exit status: 0 every must judged and held, 1 a must broken, 3 nothing broken but a must not judged."""
        if self.breaks_must:
            return BROKEN
        # A report on nothing is no good news.
        is_judged = any(self.counts[it] for it in (Verdict.WITHIN, Verdict.SEEN, Verdict.ADVISORY, Verdict.OUTSIDE))
        return HELD if is_judged and not self.must_open else NOT_JUDGED

    @property
    def grounds(self) -> tuple[str, ...]:
        """The record and the packs, each with the SHA-256 of its content, and the plugins with their versions.

        That is what the report can be held to later.
        """
        packs = (f"rule pack {pack}, SHA-256 {pack.digest}{pack.remark}" for pack in self.packs)
        chosen = (self.pack_choice,) if self.pack_choice else ()
        plugins = (f"plugin {plugin} ({plugin.added})" for plugin in self.plugins)
        return (f"record {self.record.source}, SHA-256 {self.record.digest}", *chosen, *packs, *plugins)

    @property
    def not_asked(self) -> tuple[str, ...]:
        """The rules that are not asked here by policy: each with the pack that dropped it, and why."""
        return tuple(f"not asked here, by policy: {retired}" for retired in self.retired)

    def by_system(self, *verdicts: Verdict) -> Iterator[tuple[str, tuple[Finding, ...]]]:
        """Findings grouped by system; only those with these verdicts, if any are named."""
        chosen = self._in_order(self.with_verdict(*verdicts)) if verdicts else self.findings
        for system, findings in groupby(chosen, key=lambda finding: finding.system):
            yield system, tuple(findings)

    def rules_with(self, verdict: Verdict) -> Iterator[tuple[CompiledRule, int]]:
        """The rules that have a verdict anywhere, each with the number of its stations that have it."""
        _require_verdicts([verdict])
        counts = np.bincount(self._numbers[self._codes == verdict], minlength=len(self.judged)).tolist()
        return ((judged.rule, count) for judged, count in zip(self.judged, counts, strict=True) if count)


def _require_verdicts(verdicts: Iterable[Verdict]) -> None:
    """A word in the place of a verdict would find nothing, and nothing found reads as nothing wrong."""
    for verdict in verdicts:
        require(verdict, "give verdicts, as in Verdict.OUTSIDE", Verdict)
