"""Searching: every option of every station asked of the checker, and the best choice for all of them together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import product
from typing import NamedTuple

import numpy as np
from checker import Record, Report, Rulebook, Verdict

from checker_select_fit.asked import Check, narrow_check
from checker_select_fit.assignment import Array, Even, cheapest
from checker_select_fit.group import Group, record_of
from checker_select_fit.said import Objection, Said, said_of, said_of_all, spread_of
from checker_select_fit.seats import Bench, station_in_words

MOST_TRIES = 40
"""How many choices, the best first, are tried against rules that see several stations together."""
LEAST_DISTANCE = 1e-6
"""Aims that differ by less than this, as squared shares of half a band, are equally near."""
LEAST_STEP = 1e-3
"""A spread that does not do is narrowed by this share at the least."""
NOTHING_SAID = Said(False, 0.0, ())


def chosen_options(
    group: Group, base: Record, bench: Bench, aims: Mapping[str, float], aim_first: bool
) -> tuple[tuple[int, ...] | None, tuple[str, ...]]:
    """The option of each station, or the reasons why there is none."""
    whole_bearing = group.bearing.names
    check = narrow_check(bench.before, bench.rulebook, whole_bearing, whole_bearing)
    at_stations = group.bearing.own if group.seats[0].kind.per else whole_bearing
    check_stations = narrow_check(bench.before, bench.rulebook, at_stations, whole_bearing)
    spreads = _spreads(group, bench.rulebook)
    asked = _asked(group, base, bench, check_stations, aims, frozenset(spreads.values()))
    uses, stock = _stock(group)
    costs = _costs(group, asked.said, aim_first)
    excluded: list[tuple[int, ...]] = []
    even: dict[str, Even] = {}
    against: list[Objection] = []
    for _ in range(MOST_TRIES):
        found = cheapest(costs, uses, stock, excluded, tuple(even.values()))
        if found is None:
            break
        report = check(record_of(group, found, base, bench))
        whole = said_of_all(report, group.bearing, aims)
        if whole.is_good:
            return found, ()
        against += whole.against
        narrower = {name: one for name, _ in whole.against if (one := _narrower(report, name, spreads, asked))}
        even.update(narrower)
        if not narrower:
            excluded.append(found)
    return None, _why_not(group, asked.said, costs, against, bench.rulebook)


def _spreads(group: Group, rulebook: Rulebook) -> dict[str, str]:
    """The rules that judge the spread of something over the stations of these parts."""
    per = group.seats[0].kind.per
    found = {name: spread_of(rulebook.rules[name]) for name in group.bearing.across} if per else {}
    return {name: of for name, of in found.items() if of and rulebook.per[of] == per}


def _narrower(report: Report, name: str, spreads: Mapping[str, str], asked: _Asked) -> Even | None:
    """What keeps a spread that was too wide, or too near its limit, within what is allowed, and below what it was."""
    if name not in spreads:
        return None
    values = asked.values[spreads[name]]
    judged = next(judged for judged in report.judged if judged.rule.name == name)
    spread = float(judged.measures.value[0, 0])
    allowed = float(np.nanmin(judged.measures.limits[2:, 0, 0]))
    if not np.isfinite(values).all() or not np.isfinite(spread):
        return None
    return Even(values, min(allowed, spread * (1 - LEAST_STEP)))


class _Asked(NamedTuple):
    """What is said of each option (second) at each station (first), and the values there of what must be even."""

    said: list[list[Said]]
    values: Mapping[str, Array]


def _asked(
    group: Group, base: Record, bench: Bench, check: Check, aims: Mapping[str, float], names: frozenset[str]
) -> _Asked:
    """In each record judged the stations have options one further on: there are no more records than options."""
    count = len(group.options)
    said: list[list[Said]] = [[NOTHING_SAID] * count for _ in range(group.stations)]
    values = {name: np.full((group.stations, count), np.nan) for name in names}
    for turn in range(count):
        chosen = [(turn + station) % count for station in range(group.stations)]
        report = check(record_of(group, chosen, base, bench))
        for station, option in enumerate(chosen):
            if group.seats[0].kind.per is None:
                said[station][option] = said_of_all(report, group.bearing, aims)
            else:
                said[station][option] = said_of(report, group.bearing, aims, station)
        for name in names:
            values[name][range(group.stations), chosen] = report.values(name)
    return _Asked(said, values)


def _stock(group: Group) -> tuple[Array, Array]:
    """How many of each part an option takes, and how many there are."""
    stock = [part.stock for seats in group.seats for part in seats.parts]
    uses = np.zeros((len(group.options), len(stock)))
    for option in range(len(group.options)):
        start = 0
        for seats, parts in zip(group.seats, group.split(option), strict=True):
            for part in parts:
                uses[option, start + part] += 1
            start += len(seats.parts)
    return uses, np.array(stock, dtype=np.float64)


def _costs(group: Group, said: list[list[Said]], aim_first: bool) -> Array:
    """What each option costs at each station: parts changed first and distance next, or the other way round."""
    distance = np.array([[one.distance if one.is_good else np.inf for one in row] for row in said])
    stations, options = distance.shape
    changes = np.array([[group.changes(option, station) for option in range(options)] for station in range(stations)])
    for_good = np.array(
        [[group.is_for_good(option, station) for option in range(options)] for station in range(stations)]
    )
    for station, option in product(range(stations), range(options)):
        if _doubtful_elsewhere(group, option, station):
            distance[station, option] = np.inf
    most = 1.0 + np.where(np.isfinite(distance), distance, 0.0).max(axis=1).sum()
    costs: Array = distance + LEAST_DISTANCE * changes if aim_first else changes + distance / most
    dearest: Array = costs + for_good * (most + changes.max() * stations)
    return dearest


def _doubtful_elsewhere(group: Group, option: int, station: int) -> bool:
    """Whether a part whose readings are in doubt would go where it does not stand now."""
    return any(
        seats.parts[part].home not in (None, station) and seats.parts[part].doubtful
        for seats, parts in zip(group.seats, group.split(option), strict=True)
        for part in parts
    )


def _why_not(
    group: Group, said: list[list[Said]], costs: Array, against: list[Objection], rulebook: Rulebook
) -> tuple[str, ...]:
    """Why no choice is possible, in words."""
    names = " and ".join(seats.kind.name for seats in group.seats)
    where = group.seats[0].kind.per
    reasons = []
    for station, row in enumerate(said):
        if not np.isfinite(costs[station]).any():
            place = f" at {station_in_words(rulebook.layered.stations[where].title, station)}" if where else ""
            fewest = min(row, key=_how_far)
            reasons.append(f"no {names} that there is would read within{place}: {titles(fewest.against, rulebook)}")
    if against:
        reasons.append(f"of the best choices of {names} none reads within across stations: {titles(against, rulebook)}")
    return tuple(reasons) or (f"there are not enough of any {names} that would read within at each station",)


def _how_far(said: Said) -> tuple[int, int]:
    """Sorts choices by what speaks against them; what is only undecided comes first."""
    return len(said.against), max((it.verdict for it in said.against if it.verdict is not Verdict.UNDECIDED), default=0)


def titles(against: Iterable[Objection], rulebook: Rulebook) -> str:
    titles = dict.fromkeys(f"{rulebook.rules[rule].rule.title} ({verdict})" for rule, verdict in against)
    return "; ".join(titles) or "nothing that judges the fit could be judged; see what is still to be measured"
