"""Pictures ready to be drawn: the angles a pack wants to see together, as checked expressions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from checker.errors import Problem, nearest
from checker.expressions.expression import Expression
from checker.expressions.names import Scope
from checker.frozen import FrozenMapping
from checker.graph import lineage
from checker.packs.characteristic import Picture
from checker.packs.layers import Layered
from checker.packs.texts import compile_at
from checker.units.dimensions import describe
from checker.units.units import unit

BAND = "band"
ROW = "row"
KINDS_BY_THEMSELVES = (BAND, ROW)
"""How a rule can be drawn without a picture of its own."""

_ANGLE = unit("deg").dimension


class CompiledPicture(NamedTuple):
    """A picture whose expressions are checked; it is drawn once for each of its stations."""

    picture: Picture
    angles: Mapping[str, tuple[Expression, ...]]
    marks: Mapping[str, Expression]
    stations: str | None
    words: Mapping[tuple[str, int], str]
    """The trade's word for an angle on one side (1 or -1) of a mark, such as "ahead" of "the front mark"."""


def compile_pictures(layered: Layered, scope: Scope) -> tuple[dict[str, CompiledPicture], list[Problem]]:
    """Compile every picture; what is wrong with them, or with a rule that asks for one, is listed."""
    problems: list[Problem] = list(_strange_names(layered))
    words = {
        (way.counted_from, way.sign): way.words[0]
        for way in layered.ways_of_counting.values()
        if way.is_direction and way.words and not way.names_it and not way.gives_the_sign
    }
    made = {name: _compiled(picture, scope, words, problems) for name, picture in layered.pictures.items()}
    return made, problems


def _strange_names(layered: Layered) -> Iterator[Problem]:
    known = (*KINDS_BY_THEMSELVES, *layered.pictures)
    for rule in layered.rules.values():
        if rule.picture is not None and rule.picture not in known:
            place = rule.place("picture")
            hint = nearest(rule.picture, known) or f"known: {', '.join(known)}"
            yield Problem(f"no picture {rule.picture!r}", place, hint)
    for picture in layered.pictures.values():
        if picture.name in KINDS_BY_THEMSELVES:
            yield Problem(f"{picture.name!r} is how a rule is drawn by itself", picture.origin.place)


def _compiled(
    picture: Picture, scope: Scope, words: Mapping[tuple[str, int], str], problems: list[Problem]
) -> CompiledPicture:
    angles = {label: tuple(_angles(texts, "of", picture, scope, problems)) for label, texts in picture.of.items()}
    marks = {
        label: angle
        for label, text in picture.marks.items()
        for angle in _angles((text,), "marks", picture, scope, problems)
    }
    if picture.kind == "clock" and any(len(texts) > 1 for texts in picture.of.values()):
        problems.append(Problem("a clock shows directions; spans belong on a cycle", picture.origin.at("of")))
    everything = [*(angle for ends in angles.values() for angle in ends), *marks.values()]
    return CompiledPicture(
        picture,
        FrozenMapping(angles),
        FrozenMapping(marks),
        _common_stations(everything, picture, scope, problems),
        FrozenMapping({key: word for key, word in words.items() if key[0] in marks}),
    )


def _angles(
    texts: tuple[str, ...], key: str, picture: Picture, scope: Scope, problems: list[Problem]
) -> Iterator[Expression]:
    for text in texts:
        angle = compile_at(text, scope, lambda: picture.origin.at(key), problems)
        if angle is None:
            continue
        if angle.dimension is None or angle.dimension != _ANGLE:
            given = describe(angle.dimension) if angle.dimension is not None else angle.nature
            problems.append(Problem(f"{text!r} is a {given}, not an angle", picture.origin.at(key)))
        yield angle


def _common_stations(
    expressions: list[Expression], picture: Picture, scope: Scope, problems: list[Problem]
) -> str | None:
    """The stations that see all the others: one picture is drawn for each."""
    sets = {angle.stations for angle in expressions if angle.stations is not None}
    deepest = max(sets, key=lambda name: len(lineage(name, scope.parents)), default=None)
    for name in sorted(sets - set(lineage(deepest, scope.parents))):
        problems.append(Problem(f"{name} and {deepest} cannot be drawn together", picture.origin.at("of")))
    return deepest
