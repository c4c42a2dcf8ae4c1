"""Whatever is removed, blurred or aged in a record, no verdict ever becomes "within" by it.

By guarded acceptance and by probability that holds for instruments too: a reading that names none decides nothing.
Where nobody chose how to decide, it counts at face value, or a record without instruments could not be judged at all;
the report counts such readings, and instruments are left alone here.

What nobody ever said cannot be missed, whatever the rule: that a part was changed, or warm, or that its maker asks for
more than the packs. Nor can one of two readings that disagree, be it read twice or once read and once computed: to drop
one is to take the other.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any, TypeAlias

import numpy as np
import pytest
from examples import examples
from fits_tools import fits
from hypothesis import given
from hypothesis import strategies as st
from judging import as_record

from checker import Decision, InputError, Report, Rulebook, Verdict, load_rulebook
from checker.records.demo import demo_record
from checker.records.entry import Reading

Data: TypeAlias = dict[str, Any]
Change: TypeAlias = Callable[[Data, np.random.Generator], None]
DECISIONS = [Decision("guarded"), Decision("probability", 0.95), Decision("simple"), Decision("where-known")]


def copied(data: Data) -> Data:
    """The same to write into."""
    found: Data = json.loads(json.dumps(data))
    return found


def verdicts(report: Report) -> dict[tuple[str, int], Verdict]:
    return {
        (judged.rule.name, station): Verdict(code)
        for judged in report.judged
        for station, code in enumerate(judged.codes[0])
    }


def turned_within(rulebook: Rulebook, before: Data, after: Data, decision: Decision) -> list[str]:
    """The rules that are within after a change and were not before."""
    try:
        changed = verdicts(rulebook.check(as_record(after), decision=decision))
    except InputError:
        return []
    if Verdict.WITHIN not in changed.values():
        return []
    known = verdicts(rulebook.check(as_record(before), decision=decision))
    return [
        f"{rule} at {station + 1}: {known[rule, station]}"
        for (rule, station), verdict in changed.items()
        if verdict is Verdict.WITHIN and known[rule, station] is not Verdict.WITHIN
    ]


# --- Records that are near their limits, in every shape a reading can have --------------------------------------------


@st.composite
def rigs(draw: st.DrawFn) -> Data:
    """Shafts in bushes: sizes near the limits, dated and undated, by good and by poor instruments."""
    seats = draw(st.integers(1, 3))
    readings: Data = {"bore": {}, "shaft": {}, "clearance": {}, "gap": {}, "pad_height": {}}
    for seat in map(str, range(1, seats + 1)):
        clearance = draw(_near(0.020, 0.030, 0.050, 0.060, 0.080, 0.100))
        if draw(st.booleans()):
            readings["clearance"][seat] = draw(_reading(clearance, "mm", 3))
        else:
            several = draw(st.booleans())
            bore = [draw(_reading(50 + clearance + off, "mm", 3)) for off in ((0, 0.004) if several else (0,))]
            readings["bore"][seat] = {**bore[0], "readings": [each["value"] for each in bore]}
            del readings["bore"][seat]["value"]
            readings["shaft"][seat] = draw(_reading(50.0, "mm", 3))
        readings["gap"][seat] = draw(_reading(draw(_near(0.200, 0.225, 0.300)), "mm", 3))
        readings["pad_height"][seat] = draw(_reading(draw(st.integers(230, 245)) / 10, "mm", 1))
    readings["end_float"] = draw(_reading(draw(_near(0.05, 0.10, 0.30, 0.40)), "mm", 3))
    width = draw(st.integers(30, 60))
    readings["width"] = draw(_reading(width, "mm", 1))
    readings["load"] = draw(_reading(7 * 50 * width * draw(st.integers(90, 110)) / 100, "N", 0)) | {"with": "scale"}
    amounts = {name: draw(st.integers(1, 12)) / 1000 for name in ("gauge", "micrometer")}
    return {
        "record": 1,
        "assembly": "Rig",
        "application": draw(st.sampled_from(("plain", "fine"))),
        "rule_packs": {"fits": ">=1"},
        "stations": {"seat": seats, "pad": seats},
        "instruments": {
            **{
                name: {"expanded_uncertainty": f"{amount} mm", "shared": f"{amount / 2} mm"}
                for name, amount in amounts.items()
            },
            "scale": {"expanded_uncertainty": "4 %"},
        },
        "parts": {"bushes": {"fitted": "2026-05-05", "bears_on": ["bore"]}},
        "facts": {"bush": draw(st.sampled_from(("bronze", "steel", "polymer")))},
        "readings": {name: given for name, given in readings.items() if given},
    }


@st.composite
def _near(draw: st.DrawFn, *limits: float) -> float:
    """A few thousandths of a millimetre from a limit, to either side."""
    return draw(st.sampled_from(limits)) + draw(st.integers(-8, 8)) / 1000


def _reading(size: float, unit: str, decimals: int) -> st.SearchStrategy[Data]:
    return st.builds(
        lambda gauge, taken: (
            {"value": f"{size:.{decimals}f} {unit}"}
            | ({"with": gauge} if gauge else {})
            | ({"taken": taken} if taken else {})
        ),
        st.sampled_from(("gauge", "micrometer", None)),
        st.sampled_from(("2026-05-05", "2026-05-09", "2026-05-07", "2026-05-06", "2026-05-01", None)),
    )


# --- What can be lost -------------------------------------------------------------------------------------------------


def places(data: Data) -> list[tuple[Data, str]]:
    """Every reading with its key and what holds it."""
    return list(_places(data["readings"]))


def _places(given: Data) -> Iterator[tuple[Data, str]]:
    for key, value in given.items():
        if isinstance(value, dict) and not {"value", "readings", "between", "above", "below", "values"} & set(value):
            yield from _places(value)
        else:
            yield given, key


def one_of(data: Data, random: np.random.Generator) -> tuple[Data, str]:
    known = places(data)
    return known[random.integers(len(known))]


def leave_out(data: Data, random: np.random.Generator) -> None:
    holder, key = one_of(data, random)
    del holder[key]


def mark_not_measured(data: Data, random: np.random.Generator) -> None:
    holder, key = one_of(data, random)
    holder[key] = "?"


def blur(data: Data, random: np.random.Generator) -> None:
    """Say only between which ends the value lies; where it lies between them is anybody's guess."""
    holder, key = one_of(data, random)
    if isinstance(holder[key], dict) and "value" in holder[key]:
        number, unit = holder[key].pop("value").split(" ", 1)
        below, above = random.exponential(how_far(float(number), random), 2)
        ends = [f"{max(float(number) - below, 0):.6f} {unit}", f"{float(number) + above:.6f} {unit}"]
        holder[key]["between"] = ends


def how_far(size: float, random: np.random.Generator) -> float:
    """How far off ends may be: thousandths of a millimetre or some, and of a load some parts in a hundred."""
    return size * (0.01, 0.1)[random.integers(2)] if size > 1000 else (0.003, 0.03, 0.3)[random.integers(3)]


def open_an_end(data: Data, random: np.random.Generator) -> None:
    holder, key = one_of(data, random)
    if isinstance(holder[key], dict) and "value" in holder[key]:
        number, unit = holder[key].pop("value").split(" ", 1)
        end = "above" if random.integers(2) else "below"
        off = random.exponential(how_far(float(number), random)) * (-1 if end == "above" else 1)
        holder[key][end] = f"{max(float(number) + off, 0):.6f} {unit}"


def slip(data: Data, random: np.random.Generator) -> None:
    """A slip that leaves no possible value."""
    holder, key = one_of(data, random)
    if isinstance(holder[key], dict) and "value" in holder[key]:
        number, unit = holder[key]["value"].split(" ", 1)
        holder[key]["value"] = f"{float(number) * 1e6:.3f} {unit}"


def make_unreadable(data: Data, random: np.random.Generator) -> None:
    holder, key = one_of(data, random)
    if isinstance(holder[key], dict) and "value" in holder[key]:
        holder[key]["note"] = holder[key].pop("value")
        holder[key]["readings"] = ["perfect"]


def drop_the_date(data: Data, random: np.random.Generator) -> None:
    holder, key = one_of(data, random)
    if isinstance(holder[key], dict):
        holder[key].pop("taken", None)


def age(data: Data, random: np.random.Generator) -> None:
    holder, key = one_of(data, random)
    if isinstance(holder[key], dict) and "taken" in holder[key]:
        holder[key]["taken"] = "2026-04-01"


def renew_a_part(data: Data, random: np.random.Generator) -> None:
    """A part that was fitted later than said, or one more."""
    bears_on = ["bore", "shaft", "clearance", "gap", "width", "bush", "load"]
    data.setdefault("parts", {})[f"part {random.integers(3)}"] = {
        "fitted": f"2026-05-{random.integers(1, 28):02d}",
        "bears_on": [bears_on[random.integers(len(bears_on))]],
    }


def trust_less(data: Data, random: np.random.Generator) -> None:
    """A larger uncertainty, its part that is alike in all readings as large as before."""
    instrument = list(data["instruments"].values())[random.integers(len(data["instruments"]))]
    if "expanded_uncertainty" not in instrument:
        return
    number, unit = instrument["expanded_uncertainty"].split(" ", 1)
    instrument["expanded_uncertainty"] = f"{float(number) * (1 + random.exponential(2)):.9f} {unit}"


def read_more_coarsely(data: Data, random: np.random.Generator) -> None:
    instrument = list(data["instruments"].values())[random.integers(len(data["instruments"]))]
    if "%" not in instrument.get("expanded_uncertainty", "%"):
        instrument["resolution"] = f"{random.exponential(0.02):.6f} mm"


def say_nothing_of_an_instrument(data: Data, random: np.random.Generator) -> None:
    """An instrument that is listed, but not how far it can be trusted."""
    instrument = list(data["instruments"].values())[random.integers(len(data["instruments"]))]
    for key in ("expanded_uncertainty", "shared", "resolution"):
        instrument.pop(key, None)
    instrument["title"] = "Whatever lay on the bench"


def forget_an_instrument(data: Data, random: np.random.Generator) -> None:
    """An instrument that readings name, but that is no longer listed."""
    named = sorted({given["with"] for holder, key in places(data) if "with" in (given := as_mapping(holder[key]))})
    if named:
        data["instruments"].pop(named[random.integers(len(named))], None)


def drop_the_instrument(data: Data, random: np.random.Generator) -> None:
    """Whatever it was, it is no longer said with what a reading was made."""
    holder, key = one_of(data, random)
    as_mapping(holder[key]).pop("with", None)


def drop_all_instruments(data: Data, random: np.random.Generator) -> None:
    data["instruments"] = {"ruler": {"expanded_uncertainty": "1 mm"}}
    for holder, key in places(data):
        as_mapping(holder[key]).pop("with", None)


def as_mapping(given: Any) -> Data:
    return given if isinstance(given, dict) else {}


def forget_a_fact(data: Data, random: np.random.Generator) -> None:
    data["facts"].pop("bush", None)


LOSSES: list[Change] = [
    leave_out,
    mark_not_measured,
    blur,
    open_an_end,
    slip,
    make_unreadable,
    drop_the_date,
    age,
    renew_a_part,
    trust_less,
    read_more_coarsely,
    say_nothing_of_an_instrument,
    forget_an_instrument,
    forget_a_fact,
]
OF_INSTRUMENTS: list[Change] = [drop_the_instrument, drop_all_instruments]


@examples(250)
@given(
    rigs(),
    st.lists(st.sampled_from([*LOSSES, *OF_INSTRUMENTS, blur, blur, open_an_end, trust_less]), min_size=1, max_size=3),
    st.integers(0, 2**32 - 1),
    st.sampled_from(DECISIONS),
)
def test_no_loss_ever_turns_a_verdict_within(data: Data, losses: list[Change], seed: int, decision: Decision) -> None:
    after, random = copied(data), np.random.default_rng(seed)
    for loss in losses:
        if places(after) and (decision.rule != "where-known" or loss not in OF_INSTRUMENTS):
            loss(after, random)
    assert turned_within(fits(), data, after, decision) == []


@pytest.mark.parametrize("loss", [*LOSSES, *OF_INSTRUMENTS], ids=lambda loss: loss.__name__)
def test_each_loss_is_a_loss(loss: Change) -> None:
    """Each of them takes some "within" away from somewhere: none is tested in vain."""
    random, decision = np.random.default_rng(1), Decision("guarded")
    before = verdicts(fits().check(as_record(SOUND), decision=decision))
    for _ in range(40):
        data = copied(SOUND)
        loss(data, random)
        try:
            after = verdicts(fits().check(as_record(data), decision=decision))
        except InputError:
            return
        if any(before[key] is Verdict.WITHIN and after[key] is not Verdict.WITHIN for key in after):
            return
    pytest.fail("forty times nothing was lost")


SOUND: Data = {
    "record": 1,
    "assembly": "Rig",
    "application": "plain",
    "rule_packs": {"fits": ">=1"},
    "stations": {"seat": 1, "pad": 1},
    "instruments": {
        "gauge": {"expanded_uncertainty": "0.004 mm", "shared": "0.003 mm"},
        "scale": {"expanded_uncertainty": "4 %"},
    },
    "parts": {"bushes": {"fitted": "2026-05-05", "bears_on": ["bore"]}},
    "facts": {"bush": "bronze"},
    "readings": {
        "bore": {"1": {"value": "50.050 mm", "with": "gauge", "taken": "2026-05-06"}},
        "shaft": {"1": {"value": "50.000 mm", "with": "gauge", "taken": "2026-05-06"}},
        "gap": {"1": {"value": "0.240 mm", "with": "gauge", "taken": "2026-05-06"}},
        "pad_height": {"1": {"value": "10.0 mm", "with": "gauge", "taken": "2026-05-06"}},
        "end_float": {"value": "0.15 mm", "with": "gauge", "taken": "2026-05-06"},
        "width": {"value": "40 mm", "with": "gauge", "taken": "2026-05-06"},
        "load": {"value": "9000 N", "with": "scale", "taken": "2026-05-06"},
    },
}


# --- The record that comes with the checker ---------------------------------------------------------------------------


@cache
def engine() -> Rulebook:
    return load_rulebook("four-stroke")


def lost_in_the_demo(reading: Reading, how: int, random: np.random.Generator) -> Any:
    """What is left of one reading."""
    text = reading.written
    number, _, unit = text.partition(" ")
    try:
        size = float(number)
    except ValueError:
        return "?"
    below, above = random.exponential(max(abs(size), 1e-3) / 20, 2)
    unit = f" {unit}" if unit else ""
    ends = (f"{size - below:.6f}{unit}", f"{size + above:.6f}{unit}")
    return ("?", {"between": list(ends)}, {"above": ends[0]}, {"below": ends[1]}, f"{size * 1e5:.1f}{unit}")[how]


def test_nor_does_any_in_the_demo() -> None:
    """Sixty of its characteristics at a time lose a reading or their instrument; all of them are measured only."""
    record, random, guarded = demo_record(), np.random.default_rng(7), Decision("guarded")
    plain = {
        name
        for name, item in engine().characteristics.items()
        if item.characteristic.derived is None and item.unit is not None and not item.characteristic.series
    }
    data = record.document.data
    judged = engine().check(record, decision=guarded)
    before = verdicts(judged)
    flat: dict[str, list[Reading]] = defaultdict(list)
    for reading in judged.readings:
        if reading.characteristic in plain & data["readings"].keys():
            flat[reading.characteristic].append(reading)
    for _ in range(8):
        after = copied(data)
        for name in random.choice(sorted(flat), 60, replace=False):
            given, found = data["readings"][name], flat[name]
            with_ = {"with": given["with"]} if random.integers(6) else {}
            at = int(random.integers(len(found)))
            left = [reading.written for reading in found]
            lost = lost_in_the_demo(found[at], int(random.integers(5)), random)
            if len({reading.station for reading in found}) != len(found):
                continue
            if engine().characteristics[name].characteristic.per is None:
                after["readings"][name] = {**with_, **(lost if isinstance(lost, dict) else {"value": lost})}
            else:
                values = {str(reading.station + 1): text for reading, text in zip(found, left, strict=True)}
                after["readings"][name] = {**with_, "values": {**values, str(found[at].station + 1): lost}}
        try:
            changed = verdicts(engine().check(as_record(after), decision=guarded))
        except InputError as error:
            pytest.fail(str(error))
        turned = [
            key
            for key, verdict in changed.items()
            if verdict is Verdict.WITHIN and before[key] not in (Verdict.WITHIN, Verdict.NOT_APPLICABLE)
        ]
        assert turned == []
