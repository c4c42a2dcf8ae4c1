"""The shelf: what parts there are, read from YAML or from a table of comma-separated values (RFC 4180)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from checker import (
    Document,
    InputError,
    NotationError,
    Note,
    Place,
    Problem,
    Rulebook,
    UsageError,
    nearest,
    read_document,
    read_given,
    read_quantity,
    read_text,
    unit,
)

from checker_select_fit.kinds import KINDS, Kind
from checker_select_fit.shelf_rows import EXAMPLE, Row, kind_of, rows_of_document, rows_of_table

COLUMNS = ("kind", "part", "count", "size", "in_place", "with", "doubtful", "note")
INCH = unit("in")


class Part(NamedTuple):
    """Parts of one kind that are alike, `stock` of them. `size` is in SI; `writes` is what the record says of one.

    `home` is the station it stands in now, counted from 0; parts of which only the size matters have none, but may
    say that they are `in_place` at some. `doubtful` says why it is not to be used unasked.
    """

    kind: str
    name: str
    stock: int
    size: float
    size_text: str
    writes: Mapping[str, tuple[Note, ...]]
    place: Place | None = None
    home: int | None = None
    in_place: str = ""
    doubtful: str = ""

    @property
    def title(self) -> str:
        """What a person calls it."""
        size = f" ({self.size_text})" if self.size_text and self.size_text != self.name else ""
        return f"{self.name}{size}"


class Shelf(NamedTuple):
    """The parts on offer, and what is aimed at by characteristic in SI."""

    source: str
    parts: tuple[Part, ...]
    aims: Mapping[str, float]

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """The kinds that can be chosen from, in the order of KINDS."""
        found = {part.kind for part in self.parts}
        return tuple(kind for name, kind in KINDS.items() if name in found)


def read_shelf(path: str | Path, rulebook: Rulebook) -> Shelf:
    """Read a shelf; raises InputError naming every problem, its line, and what was expected."""
    file = Path(path)
    problems: list[Problem] = []
    aims: dict[str, float] = {}
    if file.suffix.lower() == ".csv":
        rows = list(rows_of_table(read_text(file), str(file), problems))
    else:
        document = read_document(file)
        rows = list(rows_of_document(document, problems))
        aims = dict(_aims(document, rulebook, problems)) if not problems else {}
    parts = [part for row in rows for part in _part(row, rulebook, problems)]
    if not parts and not problems:
        problems.append(Problem("no part is on the shelf", Place(str(file)), f"write parts: [{EXAMPLE}]"))
    if problems:
        raise InputError(problems)
    return Shelf(str(file), tuple(parts), aims)


def _aims(document: Document, rulebook: Rulebook, problems: list[Problem]) -> Iterator[tuple[str, float]]:
    given = document.data.get("aims") or {}
    if not isinstance(given, Mapping):
        hint = "such as aims: {piston_to_wall_clearance: 3 thou}"
        problems.append(Problem(f"found {kind_of(given)}, expected characteristics", document.place("aims"), hint))
        return
    for name, value in given.items():
        place = document.place("aims", name)
        text = "" if isinstance(value, list | Mapping) or value is None else document.written("aims", name)
        found = _value_of(name, text, rulebook, place, problems)
        if found is not None:
            yield name, found


def _value_of(name: str, text: str, rulebook: Rulebook, place: Place, problems: list[Problem]) -> float | None:
    """A size or fact in SI, held to what is possible by the rulebook."""
    try:
        return read_given({name: text}, rulebook.characteristics).values[name]
    except UsageError as error:
        for problem in error.problems:
            # What the checker says to write is meant for its own command.
            hint = "" if problem.hint.startswith("write ") else problem.hint
            problems.append(problem._replace(place=place, hint=hint or f"found {text!r}, expected such as 3.9870 in"))
        return None


def _part(row: Row, rulebook: Rulebook, problems: list[Problem]) -> Iterator[Part]:
    kind = KINDS.get(row.texts.get("kind", ""))
    if kind is None:
        found = f"found kind {row.texts['kind']!r}" if "kind" in row.texts else "it has no kind"
        hint = nearest(row.texts.get("kind", ""), KINDS) or f"such as {EXAMPLE}"
        problems.append(Problem(f"{found}, expected one of {', '.join(KINDS)}", row.at("kind"), hint))
        return
    before = len(problems)
    lacking = [name for name in _needed(kind) if name not in rulebook.characteristics]
    if lacking:
        message = f"no pack of this record knows {lacking[0]}, so no {kind.name} can be chosen"
        problems.append(Problem(message, row.at("kind"), "leave the part out, or name the pack in the record"))
        return
    known = [name for name in (*COLUMNS, *kind.sizes) if name != "in_place" or _is_placed_by_the_shelf(kind)]
    for key in row.texts:
        if key not in known:
            hint = nearest(key, known) or f"known of a {kind.name}: {', '.join(known)}"
            problems.append(Problem(f"a {kind.name} has no {key!r}", row.at(key), hint))
    sizes = _sizes(kind, row, rulebook, problems)
    stock = _stock(row, problems)
    if len(problems) == before and sizes:
        size, text = next(iter(sizes.values()))
        circumstances = {"with": row.texts["with"]} if "with" in row.texts else {}
        writes = {
            name: (Note(name, "", (text,), row.at(name), "value", circumstances),)
            for name, (_, text) in sizes.items()
            if name in kind.sizes
        }
        name = row.texts.get("part") or text
        doubtful = row.texts.get("doubtful", "")
        doubtful = "" if doubtful.lower() in ("no", "false") else doubtful
        in_place = row.texts.get("in_place", "")
        yield Part(kind.name, name, stock, size, text, writes, row.place, None, in_place, doubtful)


def _is_placed_by_the_shelf(kind: Kind) -> bool:
    """Whether only the shelf can say which of these stand where now, since the record has no name for their size."""
    return not kind.read_as and kind.fresh is None


def _needed(kind: Kind) -> tuple[str, ...]:
    labels = tuple(slot.label for slot in kind.slots if slot.label)
    return (*kind.fits, *labels, *kind.sizes[:1])


def _sizes(kind: Kind, row: Row, rulebook: Rulebook, problems: list[Problem]) -> dict[str, tuple[float, str]]:
    """What is known of a part: in SI and as written, its size first; "size" where no characteristic has it."""
    own = kind.sizes[0] if kind.sizes else "size"
    given = {own if key == "size" else key: key for key in row.texts if key == "size" or key in kind.sizes}
    if own != "size" and own in row.texts and "size" in row.texts:
        problems.append(Problem(f"both size and {own} are given", row.at("size"), "they are one; leave out size"))
    if own not in given:
        example = "0.001 in" if kind.slots[0].label else "3.9870 in"
        hint = f"write size: {example}" if own == "size" else f"write {own}: {example}, or size: {example}"
        problems.append(Problem(f"{row.texts.get('part', 'the part')} has no size", row.place, hint))
        return {}
    found: dict[str, tuple[float, str]] = {}
    for name in (own, *(name for name in given if name != own)):
        text, place = row.texts[given[name]], row.at(given[name])
        read_as = kind.read_as if name == own else name
        value = _value_of(read_as, text, rulebook, place, problems) if read_as else _length(kind, text, place, problems)
        if value is not None:
            found[name] = (value, text)
    return found


def _length(kind: Kind, text: str, place: Place, problems: list[Problem]) -> float | None:
    least, greatest = kind.possible or (0.0, 0.0)
    ends = f"{least / 0.0254:.3f} in to {greatest / 0.0254:.3f} in"
    try:
        read = read_quantity(text, INCH, INCH)
        if read.is_one_value and least <= read.spans[0].low <= greatest:
            return float(read.spans[0].low)
        message = f"found {text!r}, expected one length of {ends}"
    except NotationError as error:
        message = f"{error}; expected a length of {ends}"
    problems.append(Problem(message, place, "such as 0.010 in"))
    return None


def _stock(row: Row, problems: list[Problem]) -> int:
    text = row.texts.get("count", "1")
    if text.isascii() and text.isdigit() and int(text[:6]) <= 999:
        return int(text)
    problems.append(Problem(f"found count {text!r}, expected a whole number up to 999", row.at("count"), "such as 4"))
    return 0
