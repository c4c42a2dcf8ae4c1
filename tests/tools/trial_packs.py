"""Random small packs: rules that bend, divide, look up, ask functions of plugins, compare stations, hang on facts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from pack_tools import plugins_with, write_pack

from checker import Function, Interval, PackError, Rulebook, dimension_of, load_rulebook
from checker.expressions.truth import Array
from checker.frozen import FrozenMapping

HEAD = """
pack: trial
version: 1.0.0
rule_language: 1
title: Trial
applications: {any-use: {title: Any use}, hard-use: {title: Hard use, like: any-use}}
milestones: [done]
inspection_levels: {usual: {title: Usual}, close: {title: Close}}
stations: {gear: {title: Gear}, tooth: {title: Tooth, of: gear}}
constants:
  of_rubber: {value: 0.001, unit: per K, basis: BASIS}
  of_bronze: {value: 0.0006, unit: per K, basis: BASIS}
  of_steel: {value: 0.0003, unit: per K, basis: BASIS}
materials:
  rubber: {expansion: of_rubber}
  bronze: {expansion: of_bronze}
  steel: {expansion: of_steel, of_gauges: true}
tables:
  steps: {title: Steps, x: {unit: mm}, y: {unit: mm}, stepped: [[0, 3], [10, 8], [20, 5]], up_to: 45, basis: BASIS}
  line: {title: Line, x: {unit: mm}, y: {unit: mm}, linear: [[-50, 3], [10, 9], [90, 1]], basis: BASIS}
characteristics:
  w: {title: W, per: gear, unit: mm, made_of: alloy, plausible: [-60 mm, 100 mm]}
  h: {title: H, per: gear, unit: mm, made_of: [alloy, rubber], plausible: [-60 mm, 100 mm]}
  t: {title: T, per: gear, unit: mm, plausible: [-60 mm, 100 mm]}
  d: {title: D, per: gear, unit: mm, made_of: steel, plausible: [0.4 mm, 100 mm]}
  a: {title: A, per: gear, unit: deg, plausible: [-180 deg, 540 deg]}
  b: {title: B, per: gear, unit: deg, plausible: [-180 deg, 540 deg]}
  p: {title: P, per: tooth, unit: mm, plausible: [-60 mm, 100 mm], with: caliper}
  alloy: {title: Alloy, choices: [bronze, steel]}
  kind: {title: Kind, per: gear, choices: [plain, keyed, split]}
  gap: {title: Gap, per: gear, unit: mm, plausible: [-200 mm, 200 mm], derived: w - h}
  thick: {title: Thick, per: gear, unit: mm, plausible: [-200 mm, 200 mm], derived: "larger_of(t, mean(w))"}
  share: {title: Share, per: gear, unit: mm, plausible: [-300 mm, 300 mm], derived: "w/d*5 mm"}
  bow: {title: Bow, per: gear, unit: mm, plausible: [-300 mm, 300 mm], derived: "bent(w, h)"}
  patch: {title: Patch, per: gear, unit: mm, plausible: [-300 mm, 300 mm], derived: "patchy(t) + 1 mm"}
  few: {title: Few, per: gear, unit: mm, plausible: [0 mm, 30 mm], derived: "abs(w)"}
  fit: {title: Fit, per: gear, unit: mm, plausible: [-200 mm, 200 mm], derived: {alloy: {bronze: w - 1 mm, steel: h}}}
  grade:
    title: Grade
    per: gear
    choices: [fine, middling, coarse]
    derived: coarse if h > 6 mm and h < 9 mm else (middling if h > 24 mm else fine)
""".replace("BASIS", "{kind: shop policy}")

MEASURED = ("w", "h", "t", "d")
OF_TEETH = ("p",)
SIZES = ("w", "h", "t", "d", "gap", "thick", "share", "bow", "patch", "few", "fit")
ANGLES = ("a", "b")
ASKS_WHAT_IS_KNOWN = {"known", "measured", "count_of_readings", "least_known", "greatest_known", "mean_known"}
"""Functions whose answer a reading may change by merely being there."""


# --- Functions of a plugin: one that bends, one that states no range, and two that can do nothing in a window ---------

LENGTH = dimension_of("mm")
_loud = [True]


@contextmanager
def failing_quietly() -> Iterator[None]:
    """What cannot be told is missing by itself, and ends no calculation of what stands beside it."""
    _loud[0] = False
    try:
        yield
    finally:
        _loud[0] = True


def _bent(one: Array, other: Array) -> Array:
    return np.where(one > 0.015, 2 * one - 0.015, one) - 0.5 * other


def _bent_range(one: Interval, other: Interval) -> Interval:
    low, high = (float(_bent(np.asarray(end), np.asarray(0.0))) for end in one)
    return Interval(low - 0.5 * other.high, high - 0.5 * other.low)


def _hump(values: Array) -> Array:
    return np.asarray(values * np.exp(-np.abs(values) / 0.02))


def _patchy(values: Array) -> Array:
    return np.where(np.abs(values - 0.02) < 0.004, np.nan, values)


def _picky(values: Array) -> Array:
    if _loud[0] and (np.isnan(values) | (values > 0.035)).any():
        raise ValueError("too large to tell")
    return np.where(values > 0.035, np.nan, 0.9 * values)


FUNCTIONS = {
    "bent": Function("bent", (LENGTH, LENGTH), LENGTH, call=_bent, bounds=_bent_range, plugin="shop 1.0"),
    "hump": Function("hump", (LENGTH,), LENGTH, call=_hump, plugin="shop 1.0"),
    "patchy": Function("patchy", (LENGTH,), LENGTH, call=_patchy, plugin="shop 1.0"),
    "picky": Function("picky", (LENGTH,), LENGTH, call=_picky, plugin="shop 1.0"),
}


# --- Expressions ------------------------------------------------------------------------------------------------------


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
        lambda: f"{random.choice(['least', 'mean', 'greatest'])}_known({', '.join(random.permutation(SIZES)[:3])})",
        lambda: f"greatest(abs(next({random.choice(SIZES)}) - {random.choice(SIZES)}))",
        lambda: f"{one()}/larger_of({random.choice(['w', 'h', 't'])}, 1 mm)*1 mm",
        lambda: clamped(random, one(), random.integers(2, 38), random.integers(1, 12) / 4),
        lambda: f"larger_of({one()} + {one()} - {random.integers(5, 70)} mm, 0 mm)",
        lambda: f"{one()}/d*{random.integers(1, 6)} mm",
        lambda: f"{random.integers(1, 40)} mm*(d/(1 mm))**-{random.choice(['1', '2'])}",
        lambda: f"sqrt(d*{random.integers(1, 9)} mm)",
        lambda: f"bent({one()}, {one()})",
        lambda: f"{random.choice(['hump', 'patchy', 'picky'])}({random.choice(MEASURED)})",
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


def condition(random: np.random.Generator, depth: int = 1) -> str:
    """A condition on lengths, angles, facts, or on what is known."""
    if depth > 0 and random.random() < 0.4:
        word = random.choice([" and ", " or "])
        return f"({condition(random, 0)}{word}{condition(random, 0)})"
    kind = random.random()
    if kind < 0.15:
        return f"between_angles(a, b) > {random.integers(10, 170)} deg"
    if kind < 0.35:
        return str(random.choice(FACTS))
    if kind < 0.4:
        return f"known({random.choice(SIZES)})"
    way = random.choice([">", "<", ">=", "<="])
    return f"{size(random, 0)} {way} {random.integers(1, 35)} mm"


FACTS = ("grade is coarse", "grade is not fine", "grade in (middling, coarse)", "alloy is steel", "kind is not keyed")


# --- Rules ------------------------------------------------------------------------------------------------------------


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


def dividing(random: np.random.Generator, number: int) -> str:
    """A rule that divides by what may be next to nothing, with a limit far beyond what it comes to, in YAML."""
    most = random.integers(20, 400)
    judged = random.choice(["share", "20 mm*(1 mm/d)", "h/d*2 mm", "5 mm*(d/(1 mm))**-2", "bent(w, h)*(1 mm/d)"])
    return _short(number, str(judged), f"limits: {{any: {{must: {{at_most: {most} mm}}}}}}")


def windowed(random: np.random.Generator, number: int) -> str:
    """A rule whose limit counts only in a window that the ends of a reading may lie on both sides of, in YAML."""
    window = random.choice(["grade is coarse", "grade is not fine", "h > 6 mm and h < 9 mm"])
    high = f"{{application: any, when: {window}, must: {{at_least: {random.integers(20, 60)} mm}}}}"
    low = f"{{application: any, must: {{at_least: {random.integers(-9, 9)} mm}}}}"
    return _short(number, str(random.choice(["w", "t", "thick", "0.5*w + 0.5*t"])), f"limits: [{high}, {low}]")


def sized(random: np.random.Generator, number: int) -> str:
    """A rule with limits for each millimetre of a size, in YAML."""
    ratio = random.integers(1, 30) / 10
    band = random.choice([f"at_least: {-ratio}", f"at_most: {ratio}", f"at_least: {ratio / 9:.2f}, at_most: {ratio}"])
    limits = f"per_unit_of: {random.choice(['d', 'd', 't', 'h'])}\n    limits: {{any: {{must: {{{band}}}}}}}"
    return _short(number, size(random, 1), limits)


def toothed(random: np.random.Generator, number: int) -> str:
    """A rule about teeth, or about the gears that they belong to, in YAML."""
    judged = [
        *("p", "p - w", "0.5*p + 0.5*t", "larger_of(p, h)", "abs(p - h)", "p*w/(10 mm)"),
        *("greatest(p) - least(p)", "spread(p)", "mean(p) - w", "abs(next(p) - p)", "greatest(p) + 0.1*d"),
    ]
    ends = (f"at_least: {random.integers(-9, 9)} mm", f"at_most: {random.integers(10, 60)} mm")
    first = f"{{application: any, when: '{condition(random, 0)}', must: {{at_least: {random.integers(0, 15)} mm}}}}, "
    limits = f"{{application: any, must: {{{random.choice(ends)}}}}}"
    return _short(number, str(random.choice(judged)), f"limits: [{first if random.random() < 0.4 else ''}{limits}]")


def _short(number: int, judged: str, limits: str) -> str:
    return (
        f"  rule-{number}:\n    title: A rule\n    before: done\n    judges: {judged}\n    unit: mm\n    {limits}\n"
        f"    remedy: {{low: More., high: Less.}}\n    basis: shop policy\n"
    )


def rule(random: np.random.Generator, number: int) -> str:
    """A rule in YAML."""
    kind = random.random()
    for share, kind_of_rule in ((0.1, saturating), (0.18, dividing), (0.26, windowed), (0.34, sized), (0.44, toothed)):
        if kind < share:
            return kind_of_rule(random, number)
    lines = [f"  rule-{number}:", "    title: A rule", "    before: done"]
    kind = random.random()
    if kind < 0.12:
        judged, unit, least, most = "between_angles(a, b)", "deg", random.integers(0, 60), random.integers(90, 200)
    elif kind < 0.27:
        lines += [f"    judges: {condition(random)}", "    limits: {any: {must: true}}"]
        lines += ['    remedy: {broken: "More."}']
        judged = ""
    else:
        judged, unit, least, most = size(random), "mm", random.integers(-20, 15), random.integers(10, 90)
    if judged:
        lines += [f"    judges: {judged}", f"    unit: {unit}", *_limits(random, unit, least, most)]
        lines += ['    remedy: {low: "More.", high: "Less."}']
    if random.random() < 0.3:
        lines += [f"    {random.choice(['when', 'unless'])}: {condition(random)}"]
    if random.random() < 0.4:
        lines += [f"    inspection: {_inspection(random)}"]
    return "\n".join([*lines, "    basis: shop policy", ""])


def _limits(random: np.random.Generator, unit: str, least: int, most: int) -> Iterator[str]:
    """What limits it, by conditions and by physics too."""
    if random.random() < 0.3 and unit == "mm":
        end = random.choice(["0.5*h", "t - 20 mm", "smaller_of(w, t) - 9 mm", "10 mm*h/d", "bent(w, h)"])
        band = f"at_least: '{end}'"
    else:
        band = str(random.choice([f"at_least: {least} {unit}", f"at_most: {most} {unit}"]))
    second = f", should: {{at_most: {most + 5} {unit}}}" if random.random() < 0.3 and "at_least" in band else ""
    entries = [f"{{application: any, must: {{{band}}}{second}}}"]
    if random.random() < 0.35:
        entries.insert(0, f"{{application: any, when: '{condition(random)}', must: {{at_least: {least + 4} {unit}}}}}")
    if random.random() < 0.2:
        entries.insert(0, f"{{application: hard-use, must: {{at_least: {least + 2} {unit}}}}}")
    if random.random() < 0.25 and unit == "mm":
        end = random.choice(["h - 25 mm", "0.3*w", "2 mm", "smaller_of(h, t) - 12 mm"])
        entries.append(f"{{application: any, must: {{at_least: '{end}'}}, basis: {{kind: physics, note: they touch}}}}")
    yield f"    limits: [{', '.join(entries)}]"


def _inspection(random: np.random.Generator) -> str:
    """When it is asked for, and whether looking may do."""
    keys = [
        "level: close",
        f"occasion: {random.choice(['alloy is steel', 'kind is split'])}",
        "sample: one",
        "by_eye: no burr",
    ]
    return "{" + ", ".join(random.permutation(keys)[: random.integers(1, 3)]) + "}"


def loaded(folder: Path, pack: str) -> Rulebook:
    """A pack that may call the functions of the plugin; raises PackError."""
    plugins = plugins_with()._replace(functions=FrozenMapping(FUNCTIONS))
    return load_rulebook(write_pack(folder, pack=pack), plugins=plugins)


def rulebook(random: np.random.Generator, folder: Path, rules: int) -> Rulebook:
    """Random rules, those left out that mean nothing."""
    kept = {f"rule-{number}": rule(random, number) for number in range(rules)}
    is_planned = random.random() < 0.3
    while True:
        # What a shop does not ask for by its own plan is judged all the same where it is measured.
        left_out = f"control_plan: {{leaves_out: {{{min(kept)}: bought to the drawing}}}}\n" if is_planned else ""
        pack = f"{HEAD}{left_out}rules:\n{''.join(kept.values())}"
        try:
            return loaded(folder, pack)
        except PackError as error:
            wrong = {name for name in kept if re.search(rf"rules\.{name}\b", str(error))}
            if not wrong:
                raise
            kept = {name: text for name, text in kept.items() if name not in wrong}
            if not kept:
                kept = {f"rule-{number}": rule(random, number) for number in range(rules)}
