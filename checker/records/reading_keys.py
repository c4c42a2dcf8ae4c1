"""How a record writes what was measured of a characteristic: the keys beside a value, and those in its place.

Notes are made of these shapes in notes.py. Annotations are read (documents/keys.py), so none may be put off.
"""

from collections.abc import Mapping
from typing import Annotated, Any, NamedTuple, TypeAlias

from checker.documents.key_forms import NOTHING, Symbol
from checker.documents.keys import Form, Key, KeysOf, Others, keys_of

ALL = "all"
STATION = f"[1-9][0-9]{{0,3}}|{ALL}"
"""How a station is named: by its number, or all of them at once."""
_PLAIN = {"type": ["string", "number", "boolean", "null"]}
_SEVERAL = {"type": ["array", *_PLAIN["type"]], "items": _PLAIN}
_BY_STATION = {"$ref": "#/$defs/station_reading"}
_Plain: TypeAlias = Annotated[Any, Form(_PLAIN)]
_Several: TypeAlias = Annotated[Any, Form(_SEVERAL)]


class StationReading(NamedTuple):
    """What is written for one station: a value, several readings, or either with what is to be said of it."""

    alone: Annotated[_Several, Key("The value, or a list of readings.", "0.08 mm", is_whole=True)] = None
    value: Annotated[_Several, Key("The value.", "0.08 mm")] = None
    readings: Annotated[_Several, Key("Several readings at one place.", ["0.08 mm", "0.09 mm"])] = None
    above: Annotated[_Several, Key("It lies above this: off the range of what reads it.", "0.003 in")] = None
    below: Annotated[_Several, Key("It lies below this.", "0.001 in")] = None
    between: Annotated[_Several, Key("It lies between these.", ["0.08 mm", "0.10 mm"])] = None
    with_: Annotated[_Plain, Key("The instrument, by its name in this record.", "micrometer", written="with")] = None
    taken: Annotated[_Plain, Key("The day it was taken.", "2026-05-02")] = None
    by: Annotated[_Plain, Key("Who took it.", "bench lead")] = None
    note: Annotated[_Plain, Key("Whatever else is to be said of it.", "beside the keyway")] = None
    temperature: Annotated[_Plain, Key("How warm the part was.", "22 degC")] = None


class Reading(NamedTuple):
    """What is written for one characteristic: by itself, or by station, with what is to be said of all of it."""

    alone: Annotated[
        Any,
        Key("The value, or a list that counts stations from 1.", [0.08, 0.09], is_whole=True),
        Form({**_SEVERAL, "items": _BY_STATION, "minProperties": 0}),
    ] = None
    values: Annotated[
        Any,
        Key("The values, where something is said of all of them.", [0.08, 0.09]),
        Form(
            {
                "type": ["object", *_SEVERAL["type"]],
                "items": _BY_STATION,
                "propertyNames": {"pattern": f"^({STATION})$"},
                "additionalProperties": _BY_STATION,
            }
        ),
    ] = None
    at_one_place: Annotated[Mapping[str, Any], KeysOf(StationReading)] = NOTHING
    by_station: Annotated[Mapping[str, StationReading], Others(STATION)] = NOTHING


Readings: TypeAlias = Mapping[Symbol, Reading]
"""A section of a record with values by characteristic, as it is written."""
VALUES = "values"
ENDS = ("above", "below", "between")
ONE_PLACE = ("value", "readings", *ENDS)
CIRCUMSTANCES = tuple(key for key in keys_of(StationReading) if key not in ONE_PLACE)
