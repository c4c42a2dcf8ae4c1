"""What can be wrong with how packs say which stations there are, and which belong to which."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from checker.errors import Problem, nearest
from checker.frozen import FrozenMapping
from checker.graph import comes_round
from checker.packs.characteristic import Stations
from checker.packs.layers import Layered


def strange_stations(layered: Layered) -> Iterator[Problem]:
    """Kinds that refer to unknown ones or to themselves, and layouts that count what is no station."""
    for stations in layered.stations.values():
        yield from _strange(stations, layered)
    for layout in layered.layouts.values():
        for name in layout.counts:
            if name not in layered.stations:
                place = layout.origin.at(name)
                yield Problem(f"no stations {name!r}", place, nearest(name, layered.stations))


def sound_parents(layered: Layered) -> Mapping[str, str | None]:
    """What each kind of station belongs to; none where it would belong to itself."""
    parents = layered.parents
    return FrozenMapping({name: None if comes_round(name, parents) else parents[name] for name in parents})


def _strange(stations: Stations, layered: Layered) -> Iterator[Problem]:
    at = stations.origin.at
    for other in (stations.of, stations.as_many_as):
        if other is not None and other not in layered.stations:
            yield Problem(f"no stations {other!r}", at(), nearest(other, layered.stations))
    if comes_round(stations.name, layered.parents):
        yield Problem("stations belong to each other in a circle", at())
    if stations.as_many_as == stations.name:
        yield Problem("there are always as many as there are", at("as_many_as"), "name another kind")
    if stations.each and stations.of is None:
        hint = "say with 'of' which stations have so many, as in {of: shaft, each: 2}"
        yield Problem("these stations belong to no others", at("each"), hint)
