"""Random small packs and records, judged and held against dense sampling of what their readings may really be.

A verdict of within is false when a value between the ends of each reading known from its ends, together with a point
of the ellipsoid in which (move / expanded uncertainty)**2 adds up to one at most, does not conform; nor may it hang on
what a reading is that is lacking or refused, or a fact that nobody stated. By hand, for so many packs with a record
each:

    python tests/tools/proof_trials.py 10000          # the packs 1 to 10000
    python tests/tools/proof_trials.py 500 2001       # 500 from the 2001st on
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np
from trial_agreement import disagreements
from trial_packs import ASKS_WHAT_IS_KNOWN, failing_quietly, rulebook
from trial_records import Written, sampled, written

from checker import Report, Rulebook
from checker.expressions.truth import CANNOT_TELL, TRUE, Array
from checker.judging.block import Block
from checker.judging.conformity import Decision
from checker.judging.judge import Judged, Verdict, judge
from checker.judging.measures import measure
from checker.packs.compiled import CompiledCharacteristic
from checker.records.instruments import COVERAGE

USES = ("any-use", "hard-use")
DECISIONS = (Decision(), Decision("guarded"), Decision("probability", 0.95), Decision("simple"))
FACE_VALUE = Decision("simple")
CONFORMS = (Verdict.WITHIN, Verdict.NOT_APPLICABLE)
MUST_HOLDS = (*CONFORMS, Verdict.ADVISORY)


class Told(NamedTuple):
    """One verdict and what became of it when sampled."""

    rule: str
    record: str
    decision: str
    verdict: Verdict
    is_refuted: bool
    is_must_refuted: bool

    @property
    def is_false(self) -> bool:
        """Whether it says more than sampling left standing."""
        refuted = self.is_must_refuted if self.verdict is Verdict.ADVISORY else self.is_refuted
        return self.verdict in MUST_HOLDS and refuted


class _Sampled(Block):
    """What readings may really be, each record a row; that what was measured is possible is told already."""

    def _plausible(self, values: Array, _: CompiledCharacteristic) -> Array:
        return values


def refuted(report: Report, judged: Judged, values: dict[str, Array]) -> Array:
    """Where a sampled record does not conform, and where it breaks what must hold, of shape (2, stations)."""
    context = report.context
    block = _Sampled(context.characteristics, context.block.layout, values)
    with np.errstate(all="ignore"), failing_quietly():
        measures = measure(judged.rule, block, context.chain, context.part_limit(judged.rule))
        # Where it cannot be told whether the rule applies, what it says wherever it applies counts.
        measures = replace(measures, applies=np.where(measures.applies == CANNOT_TELL, TRUE, measures.applies))
        codes = judge(judged.rule, measures, FACE_VALUE).codes
    return np.stack([~np.isin(codes, CONFORMS), ~np.isin(codes, MUST_HOLDS)]).any(axis=1)


def trials(seed: int, folder: Path, rules: int = 6, records: int = 4) -> Iterator[Told]:
    """The verdicts on some records by one random pack."""
    random = np.random.default_rng(seed)
    book = rulebook(random, folder, rules)
    for _ in range(records):
        said = _written(random, book)
        record, use = said.record(), str(random.choice(USES))
        for decision in DECISIONS:
            report = book.check(record, use, decision=decision)
            values = sampled(said, decision.guard() / COVERAGE, random)
            for judged in report.judged:
                if _asks_what_is_lacking(report, judged, said):
                    continue
                amiss = refuted(report, judged, values)
                for station, code in enumerate(judged.codes[0]):
                    where = f"{judged.rule.name} of {seed}, gear {station + 1}, {use}"
                    yield Told(where, str(said), decision.rule, Verdict(code), *map(bool, amiss[:, station]))


def _written(random: np.random.Generator, book: Rulebook) -> Written:
    by_eye = [name for name, rule in book.rules.items() if rule.rule.inspection.by_eye]
    return written(random, list(book.rules), by_eye)


def _asks_what_is_lacking(report: Report, judged: Judged, said: Written) -> bool:
    """Whether a rule may rightly say otherwise of what is lacking than of what it may be."""
    inputs = report.context.inputs(judged.rule.name)
    return not (inputs.named.isdisjoint(ASKS_WHAT_IS_KNOWN) or inputs.names.isdisjoint(said.lacking()))


def main(packs: int, first: int = 1) -> None:
    """Judge a record by each of so many random packs, and say under each decision rule what sampling made of it."""
    found: Counter[tuple[str, str]] = Counter()
    for seed in range(first, first + packs):
        with TemporaryDirectory() as folder:
            for one in trials(seed, Path(folder), records=1):
                found[one.decision, str(one.verdict)] += 1
                if one.is_false:
                    found[one.decision, "false"] += 1
                    print("false:", one.rule, one.decision, one.verdict, one.record, flush=True)
                if one.verdict is Verdict.UNDECIDED and not one.is_refuted:
                    found[one.decision, "undecided, and sampling found nothing"] += 1
            for words in disagreements(seed, Path(folder) / "again") if seed % 5 == 0 else ():
                found["every way of asking", "disagreed"] += 1
                print("disagreed:", words, flush=True)
        if seed % 100 == 0 or seed == first + packs - 1:
            print(seed, "packs", *(f"\n  {what}: {count}" for what, count in sorted(found.items())), flush=True)


if __name__ == "__main__":
    main(*(map(int, sys.argv[1:]) if len(sys.argv) > 1 else (10_000,)))
