"""Random small packs and records, judged and held against dense sampling of what their readings may really be.

A verdict of within is false when a value between the ends of each reading known from its ends, together with a point
of the ellipsoid in which (move / expanded uncertainty)**2 adds up to one at most, does not conform. By hand, for so
many packs with a record each:

    python tests/tools/proof_trials.py 10000          # the packs 1 to 10000
    python tests/tools/proof_trials.py 500 2001       # 500 from the 2001st on
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np
from pack_tools import plugins_with, write_pack

from checker import PackError, Record, Rulebook, load_rulebook
from checker.documents.document import parse_yaml
from checker.expressions.truth import Array
from checker.judging.block import Block
from checker.judging.conformity import Decision
from checker.judging.judge import Verdict, judge
from checker.judging.measures import measure_for
from checker.records.instruments import COVERAGE
from checker.records.layout import Layout
from checker.records.record import record_in

CHAIN = ("any-use",)
LAYOUT = Layout({"gear": 2})
STATIONS = 2
SAMPLES = 600
DECISIONS = (Decision(), Decision("guarded"), Decision("probability", 0.95), Decision("simple"))
FACE_VALUE = Decision("simple")
CONFORMS = (Verdict.WITHIN, Verdict.NOT_APPLICABLE)
MUST_HOLDS = (*CONFORMS, Verdict.ADVISORY)

HEAD = """
pack: trial
version: 1.0.0
rule_language: 1
title: Trial
applications: {any-use: {title: Any use}}
milestones: [done]
stations: {gear: {title: Gear}}
tables:
  steps: {title: Steps, x: {unit: mm}, y: {unit: mm}, stepped: [[0, 3], [10, 8], [20, 5]], up_to: 45, basis: BASIS}
  line: {title: Line, x: {unit: mm}, y: {unit: mm}, linear: [[-50, 3], [10, 9], [90, 1]], basis: BASIS}
characteristics:
  w: {title: W, per: gear, unit: mm, plausible: [-60 mm, 100 mm]}
  h: {title: H, per: gear, unit: mm, plausible: [-60 mm, 100 mm]}
  t: {title: T, per: gear, unit: mm, plausible: [-60 mm, 100 mm]}
  a: {title: A, per: gear, unit: deg, plausible: [-180 deg, 540 deg]}
  b: {title: B, per: gear, unit: deg, plausible: [-180 deg, 540 deg]}
  gap: {title: Gap, per: gear, unit: mm, plausible: [-200 mm, 200 mm], derived: w - h}
  thick: {title: Thick, per: gear, unit: mm, plausible: [-200 mm, 200 mm], derived: "larger_of(t, mean(w))"}
""".replace("BASIS", "{kind: shop policy}")

SIZES = ("w", "h", "t", "gap", "thick")
ANGLES = ("a", "b")


class Told(NamedTuple):
    """One verdict and what became of it when sampled."""

    rule: str
    readings: str
    decision: str
    verdict: Verdict
    is_refuted: bool
    is_must_refuted: bool

    @property
    def is_false(self) -> bool:
        """Whether it says more than sampling left standing."""
        refuted = self.is_must_refuted if self.verdict is Verdict.ADVISORY else self.is_refuted
        return self.verdict in MUST_HOLDS and refuted


def size(random: np.random.Generator, depth: int = 2) -> str:
    """A length."""
    one = lambda: size(random, depth - 1)  # noqa: E731 - a random part, again and again
    forms = [
        lambda: f"abs({one()} - {one()})",
        lambda: f"smaller_of({one()}, {one()})",
        lambda: f"larger_of({one()}, {one()})",
        lambda: f"({one()} + {one()})",
        lambda: f"({one()} - {one()})",
        lambda: f"{random.choice(['0.5', '2', '0.9'])}*{one()}",
        lambda: f"({one()} if {condition(random, depth - 1)} else {one()})",
        lambda: f"hypot({one()}, {one()})",
        lambda: f"{one()}*{one()}/(10 mm)",
        lambda: f"{one()}*sin({random.choice(ANGLES)})",
        lambda: f"{random.choice(['steps', 'line'])}({random.choice(SIZES)})",
        lambda: f"round_up({one()}, 5 mm)",
        lambda: f"{random.choice(['least', 'greatest', 'mean', 'spread'])}({random.choice(['w', 'h', 'gap'])})",
        lambda: f"{random.choice(['least', 'spread', 'mean'])}(gap where {condition(random)})",
        lambda: f"{random.choice(['least', 'mean'])}_known({', '.join(random.permutation(SIZES)[:3])})",
        lambda: f"greatest(abs(next({random.choice(SIZES)}) - {random.choice(SIZES)}))",
        lambda: f"{one()}/larger_of({random.choice(['w', 'h', 't'])}, 1 mm)*1 mm",
        lambda: clamped(random, one(), random.integers(2, 38), random.integers(1, 12) / 4),
        lambda: f"larger_of({one()} + {one()} - {random.integers(5, 70)} mm, 0 mm)",
    ]
    if depth == 0 or random.random() < 0.3:
        return str(random.choice(SIZES)) if random.random() < 0.85 else f"{random.integers(1, 30)} mm"
    return forms[random.integers(len(forms))]()


def clamped(random: np.random.Generator, one: str, middle: float, reach: float) -> str:
    """A length that saturates alike both ways, or one way only."""
    ends = [f"{middle - reach} mm", f"{middle + reach} mm"]
    if random.random() < 0.5:
        return f"larger_of(smaller_of({one}, {ends[1]}), {ends[0]})"
    return f"smaller_of({one}, {ends[1]})" if random.random() < 0.5 else f"larger_of({one}, {ends[0]})"


def saturating(random: np.random.Generator, number: int) -> str:
    """A rule that saturates about a middle, with a limit near the most it can come to, in YAML."""
    middle, reach = random.integers(4, 36), random.integers(1, 16) / 4
    one = str(random.choice(["w", "h", "t", "0.5*(w + h)", "abs(w - h)", "(w - h)", "thick", "hypot(w, t)"]))
    most = reach * random.choice([0.72, 0.85, 0.9, 0.95, 1.02])
    judged = f"abs(larger_of(smaller_of({one}, {middle + reach} mm), {middle - reach} mm) - {middle} mm)"
    if random.random() < 0.5:
        other = f"larger_of(smaller_of(t, {middle + reach} mm), {middle - reach} mm)"
        judged, most = f"larger_of(smaller_of({one}, {middle + reach} mm), {middle - reach} mm) + {other}", 2 * most
        most += 2 * middle
    return (
        f"  rule-{number}:\n    title: A rule\n    before: done\n    judges: {judged}\n    unit: mm\n"
        f"    limits: {{any: {{must: {{at_most: {most:.3f} mm}}}}}}\n"
        f"    remedy: {{high: Less.}}\n    basis: shop policy\n"
    )


def condition(random: np.random.Generator, depth: int = 1) -> str:
    """A condition on lengths or angles."""
    if depth > 0 and random.random() < 0.4:
        word = random.choice([" and ", " or "])
        return f"({condition(random, 0)}{word}{condition(random, 0)})"
    if random.random() < 0.2:
        return f"between_angles(a, b) > {random.integers(10, 170)} deg"
    way = random.choice([">", "<", ">=", "<="])
    return f"{size(random, 0)} {way} {random.integers(1, 35)} mm"


def rule(random: np.random.Generator, number: int) -> str:
    """A rule in YAML."""
    if random.random() < 0.15:
        return saturating(random, number)
    lines = [f"  rule-{number}:", "    title: A rule", "    before: done"]
    kind = random.random()
    if kind < 0.15:
        judged, unit, least, most = "between_angles(a, b)", "deg", random.integers(0, 60), random.integers(90, 200)
    elif kind < 0.3:
        lines += [f"    judges: {condition(random)}", "    limits: {any: {must: true}}"]
        lines += ['    remedy: {broken: "More."}']
        judged = ""
    else:
        judged, unit, least, most = size(random), "mm", random.integers(-20, 15), random.integers(10, 90)
    if judged:
        lines += [f"    judges: {judged}", f"    unit: {unit}"]
        if random.random() < 0.3 and unit == "mm":
            band = f"at_least: '{random.choice(['0.5*h', 't - 20 mm', 'smaller_of(w, t) - 9 mm'])}'"
        else:
            band = str(random.choice([f"at_least: {least} {unit}", f"at_most: {most} {unit}"]))
        second = f", should: {{at_most: {most + 5} {unit}}}" if random.random() < 0.3 and "at_least" in band else ""
        limits = f"must: {{{band}}}{second}"
        if random.random() < 0.35:
            other = f"{{application: any, when: '{condition(random)}', must: {{at_least: {least + 4} {unit}}}}}"
            lines += [f"    limits: [{other}, {{application: any, {limits}}}]"]
        else:
            lines += [f"    limits: {{any: {{{limits}}}}}"]
        lines += ['    remedy: {low: "More.", high: "Less."}']
    if random.random() < 0.3:
        lines += [f"    {random.choice(['when', 'unless'])}: {condition(random)}"]
    return "\n".join([*lines, "    basis: shop policy", ""])


class Reading(NamedTuple):
    """A reading, its ends, and the expanded uncertainty of it by itself."""

    low: float
    high: float
    uncertainty: float

    @property
    def text(self) -> str:
        return f"{{between: [{self.low} UNIT, {self.high} UNIT]}}" if self.low < self.high else f"{self.low} UNIT"


def readings(random: np.random.Generator) -> dict[str, list[Reading]]:
    """Random readings of each characteristic."""
    found: dict[str, list[Reading]] = {}
    for name, count, most in (("w", 2, 40.0), ("h", 2, 40.0), ("t", 2, 40.0), ("a", 2, 360.0), ("b", 2, 360.0)):
        kind = random.choice(["exact", "interval", "wide", "uncertain", "uncertain"])
        doubt = round(float(random.uniform(0.01, 0.12)) * most, 2) if kind == "uncertain" else 0.0
        found[name] = []
        for _ in range(count):
            value = round(float(random.uniform(0.0, most)), 1)
            reach = {"interval": 0.1, "wide": 0.9}.get(kind, 0.0) * float(random.random()) * most
            found[name].append(Reading(value, round(min(most, value + reach), 1) if reach > 0.1 else value, doubt))
    return found


def record(made: dict[str, list[Reading]]) -> Record:
    """The record that says so."""
    lines = [
        "record: 1",
        "assembly: Trial",
        "application: any-use",
        "rule_packs: {trial: '>=1'}",
        "stations: {gear: 2}",
    ]
    lines += ["instruments:"]
    for name, items in made.items():
        unit = "deg" if name in ANGLES else "mm"
        lines += [f"  gauge-{name}: {{expanded_uncertainty: {items[0].uncertainty} {unit}}}"]
    lines += ["readings:"]
    for name, items in made.items():
        values = ", ".join(item.text.replace("UNIT", "deg" if name in ANGLES else "mm") for item in items)
        lines += [f"  {name}: {{with: gauge-{name}, values: [{values}]}}"]
    return record_in(parse_yaml("\n".join(lines).encode(), "record.yaml"))


def sampled(made: dict[str, list[Reading]], part: float, random: np.random.Generator) -> dict[str, Array]:
    """What the readings may really be: between their ends, and in the ellipsoid of a part of their uncertainties."""
    count = sum(len(items) for items in made.values())
    doubtful = np.array([item.uncertainty > 0 for items in made.values() for item in items])
    moves = random.normal(size=(SAMPLES, count)) * doubtful
    keep = random.random((SAMPLES, count)) < random.random((SAMPLES, 1))
    moves = np.where(keep, moves, 0.0)
    length = np.sqrt((moves**2).sum(axis=1, keepdims=True))
    moves = np.where(length > 0, moves / np.where(length > 0, length, 1.0), 0.0)
    moves *= np.where(random.random((SAMPLES, 1)) < 0.7, 1.0, random.random((SAMPLES, 1))) * part * (1 - 1e-9)
    shares = random.random((SAMPLES, count))
    shares = np.where(random.random((SAMPLES, count)) < 0.25, np.round(shares), shares)
    found, at = {}, 0
    for name, items in made.items():
        unit = np.pi / 180 if name in ANGLES else 1e-3
        columns = []
        for item in items:
            inside = item.low + (item.high - item.low) * shares[:, at]
            columns.append((inside + item.uncertainty * moves[:, at]) * unit)
            at += 1
        found[name] = np.stack(columns, axis=1)
    return found


def refuted(book: Rulebook, name: str, values: dict[str, Array]) -> Array:
    """Where a sampled record does not conform, and where it breaks what must hold, of shape (2, stations)."""
    block = Block(book.characteristics, LAYOUT, values)
    with np.errstate(all="ignore"):
        codes = judge(book.rules[name], measure_for(book.rules[name], block, CHAIN), FACE_VALUE).codes
    return np.stack([~np.isin(codes, CONFORMS), ~np.isin(codes, MUST_HOLDS)]).any(axis=1)


def rulebook(random: np.random.Generator, folder: Path, rules: int) -> Rulebook:
    """Random rules, those left out that mean nothing."""
    kept: list[str] = []
    while len(kept) < rules:
        one = rule(random, len(kept))
        with suppress(PackError):
            load_rulebook(write_pack(folder, pack=f"{HEAD}rules:\n{one}"), plugins=plugins_with())
            kept.append(one)
    return load_rulebook(write_pack(folder, pack=f"{HEAD}rules:\n{''.join(kept)}"), plugins=plugins_with())


def trials(seed: int, folder: Path, rules: int = 6, records: int = 4) -> Iterator[Told]:
    """The verdicts on some records by one random pack."""
    random = np.random.default_rng(seed)
    book = rulebook(random, folder, rules)
    for _ in range(records):
        made = readings(random)
        written = record(made)
        for decision in DECISIONS:
            report = book.check(written, decision=decision)
            values = sampled(made, decision.guard() / COVERAGE, random)
            for judged in report.judged:
                amiss = refuted(book, judged.rule.name, values)
                for station, code in enumerate(judged.codes[0]):
                    where = f"{judged.rule.name} of {seed}, gear {station + 1}"
                    yield Told(where, str(made), decision.rule, Verdict(code), *map(bool, amiss[:, station]))


def main(packs: int, first: int = 1) -> None:
    """Judge a record by each of so many random packs, and say under each decision rule what sampling made of it."""
    found: Counter[tuple[str, str]] = Counter()
    for seed in range(first, first + packs):
        with TemporaryDirectory() as folder:
            for one in trials(seed, Path(folder), records=1):
                found[one.decision, str(one.verdict)] += 1
                if one.is_false:
                    found[one.decision, "false"] += 1
                    print("false:", one.rule, one.decision, one.verdict, one.readings, flush=True)
                if one.verdict is Verdict.UNDECIDED and not one.is_refuted:
                    found[one.decision, "undecided, and sampling found nothing"] += 1
        if seed % 500 == 0 or seed == first + packs - 1:
            print(seed, "packs", *(f"\n  {what}: {count}" for what, count in sorted(found.items())), flush=True)


if __name__ == "__main__":
    main(*(map(int, sys.argv[1:]) if len(sys.argv) > 1 else (10_000,)))
