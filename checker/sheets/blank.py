"""A record with nothing measured yet, to lay out a sheet from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from checker.documents.document import parse_yaml
from checker.documents.write import one_line
from checker.errors import Problem, UsageError, nearest
from checker.packs.versions import compatible_range
from checker.records.record import Record, record_in
from checker.rulebook import Rulebook
from checker.units.units import UnitError, unit

NAME = "New assembly"
SOURCE = "blank sheet"
_COMMON = 5  # kinds of quantity with fewer characteristics get no unit for bare numbers


def blank_record(
    rulebook: Rulebook,
    application: str,
    before: str | None,
    stations: Mapping[str, int],
    rows: Mapping[str, tuple[tuple[int, ...], ...]],
    units: Mapping[str, str],
    layout: str | None = None,
    scope: Sequence[str] = (),
) -> Record:
    """A record for some packs, a use and a layout; raises UsageError for what the packs do not know."""
    _require_known([*stations, *rows], rulebook.layered.stations)
    stated = {
        "record": 1,
        "assembly": NAME,
        "application": application,
        "scope": list(scope),
        "before": before,
        "rule_packs": {pack.name: compatible_range(pack.version) for pack in rulebook.packs},
        "units": _units(rulebook, units),
        "layout": layout,
        "stations": {name: _stations(name, stations, rows) for name in dict.fromkeys([*stations, *rows])},
        "readings": {},
    }
    lines = [f"{name}: {one_line(given)}" for name, given in stated.items() if given not in (None, "", [])]
    return record_in(parse_yaml("\n".join(lines).encode(), SOURCE))


def _stations(name: str, counts: Mapping[str, int], rows: Mapping[str, tuple[tuple[int, ...], ...]]) -> object:
    if name not in rows:
        return counts[name]
    return {"count": counts.get(name, sum(map(len, rows[name]))), "rows": [list(row) for row in rows[name]]}


def _units(rulebook: Rulebook, wanted: Mapping[str, str]) -> dict[str, str]:
    """The unit of bare numbers for each common kind of quantity: the one asked for, else the packs' usual one."""
    problems = []
    for kind, name in wanted.items():
        try:
            if unit(name).kind != kind:
                problems.append(Problem(f"{name} is a unit of {unit(name).kind}, not of {kind}"))
        except UnitError as error:
            problems.append(Problem(str(error)))
    if problems:
        raise UsageError(problems)
    units = [item.unit for item in rulebook.characteristics.values() if item.unit is not None]
    names = Counter((own.kind, own.name) for own in units)
    usual: dict[str, str] = {}
    for (kind, name), count in names.most_common():
        if count >= _COMMON and kind != unit("1").kind:
            usual.setdefault(kind, name)
    return {**usual, **wanted}


def _require_known(names: list[str], known: Mapping[str, object]) -> None:
    problems = [
        Problem(f"no stations {name!r}", hint=nearest(name, known) or f"known: {', '.join(known)}")
        for name in names
        if name not in known
    ]
    if problems:
        raise UsageError(problems)
