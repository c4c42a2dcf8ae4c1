"""Packs layered and compiled: all that is known before a record is read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from checker.expressions.names import Scope
from checker.notation.vocabulary import Notation
from checker.packs.compiled import CompiledCharacteristic, CompiledRule
from checker.packs.layers import Layered
from checker.packs.materials import Materials
from checker.packs.picturing import CompiledPicture


class CompiledPacks(NamedTuple):
    """What packs say, ready for judging; with `notation` the texts of records are read.

    `per` gives the stations each characteristic is measured at, `materials` what parts and gauges are made of.
    """

    layered: Layered
    notation: Notation
    scope: Scope
    characteristics: Mapping[str, CompiledCharacteristic]
    per: Mapping[str, str | None]
    rules: Mapping[str, CompiledRule]
    materials: Materials
    pictures: Mapping[str, CompiledPicture]
