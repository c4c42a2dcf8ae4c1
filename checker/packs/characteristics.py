"""The characteristics of layered packs: their units and ranges in SI, and what is wrong with what is said of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from checker.errors import Place, Problem, nearest
from checker.expressions.expression import Expression
from checker.expressions.names import MEASURED, Scope, Symbol
from checker.graph import lineage
from checker.notation.read import NotationError
from checker.notation.vocabulary import Notation
from checker.packs.characteristic import ELSE, Characteristic
from checker.packs.compiled import CompiledCharacteristic
from checker.packs.figures import Means
from checker.packs.layers import Layered
from checker.packs.pack import foundations
from checker.packs.texts import NUMBER_AND_UNIT, compile_at, exact_quantity, unit_at
from checker.units.units import UNITS, Unit, difference

SLIP = 0.9
"""A name so far alike another is that one misspelt; means that no pack states may be named freely."""


def strange_characteristics(layered: Layered) -> Iterator[Problem]:
    """What is wrong with what they say of each other, of facts and of means."""
    yield from _strange_follows(layered)
    yield from _strange_choices(layered)
    yield from _strange_means(layered)


def compiled_characteristics(
    layered: Layered, notation: Notation, problems: list[Problem]
) -> Iterator[tuple[str, CompiledCharacteristic]]:
    """Each by its name, as far as it can be used; what is wrong is added to the problems."""
    for item in layered.characteristics.values():
        if item.per is not None and item.per not in layered.stations:
            problems.append(
                Problem(f"no stations {item.per!r}", item.origin.at("per"), nearest(item.per, layered.stations))
            )
            continue
        if (item.unit is None and item.plausible is None) == (not item.choices):
            hint = "of a plain number its plausible range is enough"
            problems.append(Problem("a characteristic has either a unit or choices", item.origin.place, hint))
        elif item.choices:
            twice = sorted({choice for choice in item.choices if item.choices.count(choice) > 1})
            problems.extend(
                Problem(f"the choice {choice!r} stands twice", item.origin.at("choices")) for choice in twice
            )
            yield item.name, CompiledCharacteristic(item, None, 0.0, len(item.choices) - 1.0)
        else:
            yield from _numeric(item, layered.means, notation, problems)


def _numeric(
    item: Characteristic, means: Mapping[str, Means], notation: Notation, problems: list[Problem]
) -> Iterator[tuple[str, CompiledCharacteristic]]:
    unit = unit_at(item.unit or "1", lambda: item.origin.at("unit"), problems)
    if unit is None:
        return
    problems.extend(_strange_counting(item, unit, notation))
    if item.plausible is None:
        problems.append(Problem("a numeric characteristic states its plausible range", item.origin.place))
        return
    low, high = (_plausible_end(text, unit, item, problems) for text in item.plausible)
    if math.isnan(low) or math.isnan(high):
        low, high = 1.0, 2.0  # what is computed from it must not be blamed as well
    if low >= high:
        problems.append(Problem("the plausible range runs from high to low", item.origin.at("plausible")))
    if item.agrees_within and item.derived is None:
        problems.append(
            Problem("agrees_within needs derived: there is nothing to agree with", item.origin.at("agrees_within"))
        )
    agrees = _allowance("agrees_within", unit, item, problems) if item.agrees_within else None
    usual = _usual(unit, item, means, problems)
    yield item.name, CompiledCharacteristic(item, unit, low, high, usual, agrees, notation)


def _strange_counting(item: Characteristic, unit: Unit, notation: Notation) -> Iterator[Problem]:
    """A way of counting that no pack here states, or that is said of another kind of quantity."""
    if not item.counted:
        return
    way = notation.ways.get(item.counted)
    fitting = [name for name, way in notation.ways.items() if way.of == unit.kind]
    known = f"known for {unit.kind}: {', '.join(fitting) or 'none'}"
    if way is None:
        hint = nearest(item.counted, notation.ways) or known
        yield Problem(f"no way of counting {item.counted!r}", item.origin.at("counted"), hint)
    elif way.of != unit.kind:
        yield Problem(f"{item.counted!r} is said of {way.of}, not of {unit.kind}", item.origin.at("counted"), known)


def _usual(unit: Unit, item: Characteristic, means: Mapping[str, Means], problems: list[Problem]) -> float:
    """The usual uncertainty: the characteristic's own, else that of its means, where that is of the same kind."""
    if item.usual_uncertainty:
        return _allowance("usual_uncertainty", unit, item, problems)
    stated = means.get(item.with_)
    if stated is None:
        return 0.0
    for stated_uncertainty in stated.usual_uncertainty:
        try:
            return exact_quantity(stated_uncertainty, difference(unit))
        except NotationError:
            continue
    return 0.0


def _allowance(key: str, unit: Unit, item: Characteristic, problems: list[Problem]) -> float:
    """An amount stated under a key of a characteristic: more than nothing, in its unit or that of its differences."""
    try:
        amount = exact_quantity(getattr(item, key), difference(unit))
    except NotationError as error:
        problems.append(Problem(str(error), item.origin.at(key)))
        return 0.0
    if amount <= 0:
        problems.append(Problem(f"{key} is more than nothing, such as 0.2 thou", item.origin.at(key)))
    return amount


def _plausible_end(text: str, unit: Unit, item: Characteristic, problems: list[Problem]) -> float:
    try:
        return exact_quantity(text, unit)
    except NotationError as error:
        hint = "" if item.unit else "without a unit of its own it is a plain number: add unit"
        problems.append(Problem(str(error), item.origin.at("plausible"), hint))
        return math.nan


def symbol_of(item: CompiledCharacteristic) -> Symbol:
    """What expressions see of it."""
    characteristic = item.characteristic
    return Symbol(
        name=characteristic.name,
        dimension=item.unit.dimension if item.unit else None,
        stations=characteristic.per,
        low=item.low,
        high=item.high,
        choices=characteristic.choices,
        derived=characteristic.derived is not None,
        series=characteristic.series,
    )


def derivation_of(item: CompiledCharacteristic, scope: Scope, problems: list[Problem]) -> Expression | None:
    """What computes it, checked; none where nothing does."""
    characteristic = item.characteristic
    if characteristic.derived is None:
        return None

    def where() -> Place:
        return characteristic.origin.at("derived")

    text = str(characteristic.derived)
    own = scope if item.unit is not None else scope.with_choices(characteristic.choices)
    derived = compile_at(text, own, where, problems)
    if derived is None:
        return None
    if item.unit is None and text not in own.known:
        from checker.expressions.facts import picks_choice  # of released packs that is known

        if not picks_choice(text, characteristic.choices):
            hint = f"as in {characteristic.choices[0]} if a condition holds else {characteristic.choices[-1]}"
            problems.append(Problem(f"{text!r} does not give one of its choices", where(), hint))
    if item.unit is not None and derived.dimension != item.unit.dimension:
        problems.append(Problem(f"{text!r} does not give {item.unit.kind}", where()))
    if derived.stations not in (None, *lineage(characteristic.per, scope.parents)):
        problems.append(Problem(f"{text!r} has stations {derived.stations}, not {characteristic.per}", where()))
    if derived.neighbours:
        hint = "name the neighbour in what a rule judges, or in a reduction"
        problems.append(Problem(f"{text!r} has no value at the end of a line", where(), hint))
    return derived


def _strange_follows(layered: Layered) -> Iterator[Problem]:
    for item in layered.characteristics.values():
        for name in item.follows:
            if name not in layered.characteristics:
                hint = nearest(name, layered.characteristics)
                yield Problem(f"unknown characteristic {name!r}", item.origin.at("follows"), hint)


def _strange_choices(layered: Layered) -> Iterator[Problem]:
    """What is derived by a fact says something of every choice; other names are found wrong when it is compiled."""
    for item in layered.characteristics.values():
        for name, values in item.derived.by_fact.items() if item.derived else ():
            fact = layered.characteristics.get(name)
            left = [choice for choice in fact.choices if choice not in values] if fact and fact.choices else []
            *_, last = values
            if left and last != ELSE:
                hint = nearest(last, left) if fact and last not in fact.choices else f"name it, or end with {ELSE}"
                yield Problem(f"nothing is said of {name} {', '.join(left)}", item.origin.at("derived", name), hint)
            if not left and last == ELSE and fact:
                yield Problem("every choice is named before else", item.origin.at("derived", name, ELSE))


def _strange_means(layered: Layered) -> Iterator[Problem]:
    """Means whose usual uncertainty cannot be read, and names that are those of a means but for a slip."""
    for means in layered.means.values():
        for text in means.usual_uncertainty:
            match = NUMBER_AND_UNIT.fullmatch(text)
            if match is None or match[2] not in UNITS:
                place = means.origin.document.place(*means.origin.path, "usual_uncertainty")
                name = "" if match is None else nearest(match[2], UNITS)
                yield Problem(f"{text!r} is no usual uncertainty", place, name or "write a number and a unit: 0.2 thou")
            elif float(match[1]) <= 0:
                place = means.origin.document.place(*means.origin.path, "usual_uncertainty")
                yield Problem(f"a usual uncertainty is more than nothing, not {text}", place)
    by_name = {pack.name: pack for pack in layered.packs}
    hints: dict[tuple[str, str], str] = {}
    for item in layered.characteristics.values():
        if item.with_ and item.with_ not in layered.means:
            pack = item.origin.pack
            if (pack, item.with_) not in hints:
                seen = {pack, *foundations(by_name[pack], by_name)}
                known = [means.name for means in layered.means.values() if means.origin.pack in seen]
                hints[pack, item.with_] = nearest(item.with_, known, alike=SLIP)
            if hint := hints[pack, item.with_]:
                yield Problem(f"no means {item.with_!r}", item.origin.at("with"), hint)


def circles_in(characteristics: Mapping[str, CompiledCharacteristic]) -> Iterator[Problem]:
    """Those that are derived from themselves."""
    computed = {name: item.derived for name, item in characteristics.items() if item.derived is not None}
    of = {name: {each.name for each in own.columns if each.view != MEASURED} for name, own in computed.items()}
    for name, behind in of.items():
        while more := {each for one in behind for each in of.get(one, ())} - behind:
            behind = behind | more
        if name in behind:
            place = characteristics[name].characteristic.origin.at("derived")
            yield Problem(f"{name!r} is derived from itself", place)
