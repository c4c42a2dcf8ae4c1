"""The words of layered packs: their ways of counting, their unclear words, and the forms of plugins they ask for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from checker.errors import Place, Problem, nearest
from checker.notation.counting import EVERYWHERE, FORMS, Counting, UnclearWord
from checker.notation.vocabulary import Notation, WrittenForm, is_taken
from checker.packs.layers import Layered
from checker.units.units import KINDS, UNITS, UnitError, unit


def notation_of(layered: Layered, forms: Mapping[str, WrittenForm], problems: list[Problem]) -> Notation:
    """What the texts of a record are read with; what is wrong with the packs' words is added to the problems."""
    problems.extend(_problems(layered, forms))
    return Notation(
        layered.ways_of_counting.values(),
        layered.unclear_words.values(),
        {name: forms[name] for pack in layered.packs for name in pack.written_forms if name in forms},
    )


def _problems(layered: Layered, forms: Mapping[str, WrittenForm]) -> Iterator[Problem]:
    references = {way.counted_from for way in layered.ways_of_counting.values()}
    for way in layered.ways_of_counting.values():
        yield from _strange_way(way)
    for other in layered.unclear_words.values():
        yield from _strange_word(other, references)
    yield from _stated_twice(layered)
    for pack in layered.packs:
        for name in pack.written_forms:
            if name not in forms:
                hint = nearest(name, forms) or f"installed: {', '.join(forms) or 'none'}"
                yield Problem(f"no written form {name!r}", pack.origin.at("written_forms"), hint)


def _strange_way(way: Counting) -> Iterator[Problem]:
    place = way.origin.place
    if way.name in EVERYWHERE:
        yield Problem(f"{way.name!r} is a way of counting of every bench", place, "give it another name")
    if way.of not in KINDS:
        yield Problem(f"no kind of quantity {way.of!r}", way.origin.at("of"), nearest(way.of, KINDS))
    for key in ("unit", "whole_numbers"):
        name = getattr(way, key)
        if name:
            yield from _strange_unit(name, way.of, way.origin.at(key))
    for form in way.forms:
        if form not in FORMS:
            yield Problem(
                f"no form {form!r}", way.origin.at("forms"), nearest(form, FORMS) or f"known: {', '.join(FORMS)}"
            )
    if way.minus_asks and not way.words:
        yield Problem("minus_asks needs words: nothing else could be meant", way.origin.at("minus_asks"))


def _strange_word(word: UnclearWord, references: set[str]) -> Iterator[Problem]:
    if word.counted_from and word.counted_from not in references:
        yield Problem(
            f"nothing is counted from {word.counted_from!r}",
            word.origin.at("counted_from"),
            nearest(word.counted_from, filter(None, references)),
        )
    if word.nought is not None:
        number, _, name = word.nought.within.partition(" ")
        if not number.replace(".", "", 1).isdigit() or name not in UNITS:
            yield Problem(f"{word.nought.within!r} is not a quantity such as 0.05 mm", word.origin.at("nought"))


def _strange_unit(name: str, kind: str, place: Place) -> Iterator[Problem]:
    try:
        known = unit(name)
    except UnitError as error:
        yield Problem(str(error), place)
        return
    if known.kind != kind:
        yield Problem(f"{name} is a unit of {known.kind}, not of {kind}", place)


def _stated_twice(layered: Layered) -> Iterator[Problem]:
    """Each word has one meaning behind a number and one in front of it, and none that every bench has for it."""
    behind: dict[str, str] = {}
    in_front: dict[str, str] = {}
    said: list[tuple[Counting | UnclearWord, Place, str, list[dict[str, str]]]] = []
    for way in layered.ways_of_counting.values():
        said += [(way, way.origin.place, text, [behind, in_front]) for text in way.words]
        said += [(way, way.origin.place, text, [in_front]) for text in way.words_in_front]
    said += [(word, word.origin.place, word.name, [behind]) for word in layered.unclear_words.values()]
    for thing, place, text, sides in said:
        if is_taken(text):
            yield Problem(f"the word {text!r} means something on every bench", place, "write another")
        for side in sides:
            other = side.setdefault(text.lower(), thing.name)
            if other != thing.name:
                yield Problem(f"the word {text!r} of {thing.name!r} is one of {other!r} already", place)
