"""The words of layered packs: their ways of counting, their unclear words, and the forms of plugins they ask for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from checker.errors import Place, Problem, nearest
from checker.notation.counting import EVERYWHERE, FORMS, Counting, UnclearWord
from checker.notation.vocabulary import Notation, WrittenForm, is_taken
from checker.packs.layers import Layered
from checker.packs.pack import StatedUnclearWord, StatedWay
from checker.units.units import KINDS, UNITS, UnitError, unit


def notation_of(layered: Layered, forms: Mapping[str, WrittenForm], problems: list[Problem]) -> Notation:
    """What the texts of a record are read with; what is wrong with the packs' words is added to the problems."""
    problems.extend(_problems(layered, forms))
    return Notation(
        [stated.way for stated in layered.ways_of_counting.values()],
        [stated.word for stated in layered.unclear_words.values()],
        {name: forms[name] for pack in layered.packs for name in pack.written_forms if name in forms},
    )


def _problems(layered: Layered, forms: Mapping[str, WrittenForm]) -> Iterator[Problem]:
    references = {stated.way.counted_from for stated in layered.ways_of_counting.values()}
    for stated in layered.ways_of_counting.values():
        yield from _strange_way(stated)
    for other in layered.unclear_words.values():
        yield from _strange_word(other, references)
    yield from _stated_twice(layered)
    for pack in layered.packs:
        for name in pack.written_forms:
            if name not in forms:
                hint = nearest(name, forms) or f"installed: {', '.join(forms) or 'none'}"
                yield Problem(f"no written form {name!r}", pack.places["written_forms"], hint)


def _strange_way(stated: StatedWay) -> Iterator[Problem]:
    way, place = stated.way, stated.origin.place
    if way.name in EVERYWHERE:
        yield Problem(f"{way.name!r} is a way of counting of every bench", place, "give it another name")
    if way.of not in KINDS:
        yield Problem(f"no kind of quantity {way.of!r}", stated.places["of"], nearest(way.of, KINDS))
    for key in ("unit", "whole_numbers"):
        name = getattr(way, key)
        if name:
            yield from _strange_unit(name, way.of, stated.places[key])
    for form in way.forms:
        if form not in FORMS:
            yield Problem(
                f"no form {form!r}", stated.places["forms"], nearest(form, FORMS) or f"known: {', '.join(FORMS)}"
            )
    if way.minus_asks and not way.words:
        yield Problem("minus_asks needs words: nothing else could be meant", stated.places["minus_asks"])


def _strange_word(stated: StatedUnclearWord, references: set[str]) -> Iterator[Problem]:
    word = stated.word
    if word.counted_from and word.counted_from not in references:
        yield Problem(
            f"nothing is counted from {word.counted_from!r}",
            stated.places["counted_from"],
            nearest(word.counted_from, filter(None, references)),
        )
    if word.nought_within:
        number, _, name = word.nought_within.partition(" ")
        if not number.replace(".", "", 1).isdigit() or name not in UNITS:
            yield Problem(f"{word.nought_within!r} is not a quantity such as 0.05 mm", stated.places["nought"])


def _strange_unit(name: str, kind: str, place: Place) -> Iterator[Problem]:
    try:
        found = unit(name)
    except UnitError as error:
        yield Problem(str(error), place)
        return
    if found.kind != kind:
        yield Problem(f"{name} is a unit of {found.kind}, not of {kind}", place)


def _stated_twice(layered: Layered) -> Iterator[Problem]:
    """Each word has one meaning behind a number and one in front of it, and none that every bench has for it."""
    behind: dict[str, str] = {}
    in_front: dict[str, str] = {}
    said: list[tuple[Counting | UnclearWord, Place, str, list[dict[str, str]]]] = []
    for stated in layered.ways_of_counting.values():
        place = stated.origin.place
        said += [(stated.way, place, text, [behind, in_front]) for text in stated.way.words]
        said += [(stated.way, place, text, [in_front]) for text in stated.way.words_in_front]
    said += [(other.word, other.origin.place, other.word.word, [behind]) for other in layered.unclear_words.values()]
    for thing, place, text, sides in said:
        if is_taken(text):
            yield Problem(f"the word {text!r} means something on every bench", place, "write another")
        for side in sides:
            name = thing.word if isinstance(thing, UnclearWord) else thing.name
            other = side.setdefault(text.lower(), name)
            if other != name:
                yield Problem(f"the word {text!r} of {name!r} is one of {other!r} already", place)
