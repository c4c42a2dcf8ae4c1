"""The entries of a shelf file, each value with its place: of YAML, or of a table of comma-separated values."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from checker import Document, Place, Problem, nearest

EXAMPLE = "{kind: piston, part: P1, size: 3.9870 in, with: micrometer}"
MOST_PARTS = 200


class Row(NamedTuple):
    """One entry as written: each value with its place."""

    place: Place
    texts: Mapping[str, str]
    places: Mapping[str, Place]

    def at(self, key: str) -> Place:
        return self.places.get(key, self.place)


def rows_of_document(document: Document, problems: list[Problem]) -> Iterator[Row]:
    data = document.data
    if not isinstance(data, Mapping):
        found = f"found {kind_of(data)}, expected the keys shelf and parts"
        problems.append(Problem(found, document.place(), f"such as shelf: 1, parts: [{EXAMPLE}]"))
        return
    for key in data:
        if key not in ("shelf", "aims", "parts"):
            hint = nearest(str(key), ("shelf", "aims", "parts")) or "known: shelf, aims, parts"
            problems.append(Problem(f"unknown key {key!r}", document.place(key), hint))
    if data.get("shelf") != 1:
        found = f"found {data.get('shelf')!r}, expected 1" if "shelf" in data else "it does not say shelf: 1"
        problems.append(Problem(found, document.place("shelf"), "write shelf: 1, the version of this form"))
    parts = data.get("parts")
    if not isinstance(parts, list) or len(parts) > MOST_PARTS:
        found = f"found {kind_of(parts)}, expected a list of at most {MOST_PARTS} parts"
        problems.append(Problem(found, document.place("parts"), f"such as [{EXAMPLE}]"))
        return
    for number, given in enumerate(parts):
        place = document.place("parts", number)
        if not isinstance(given, Mapping):
            found = f"found {kind_of(given)}, expected a part with its kind and size"
            problems.append(Problem(found, place, f"such as {EXAMPLE}"))
            continue
        yield _row(document, number, given, place, problems)


def _row(document: Document, number: int, given: Mapping[str, Any], place: Place, problems: list[Problem]) -> Row:
    texts: dict[str, str] = {}
    for key, value in given.items():
        if isinstance(value, list | Mapping):
            found = f"found {kind_of(value)}, expected one value"
            problems.append(Problem(found, document.place("parts", number, key), f"such as {EXAMPLE}"))
        elif value is not None:
            texts[str(key)] = document.written("parts", number, key)
    return Row(place, texts, {key: document.place("parts", number, key) for key in texts})


def kind_of(given: Any) -> str:
    names = ((Mapping, "a mapping"), (list, "a list"), (type(None), "nothing"))
    return next((name for kind, name in names if isinstance(given, kind)), f"{given!r}")


def rows_of_table(text: str, source: str, problems: list[Problem]) -> Iterator[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    header: list[str] = []
    number = 0
    try:
        for cells in reader:
            line, cells = reader.line_num, [cell.strip() for cell in cells]
            if not any(cells):
                continue
            if not header:
                header = [cell.lower().replace(" ", "_") for cell in cells]
                if "kind" not in header:
                    found = f"found {', '.join(cells)}, expected the names of columns, kind among them"
                    problems.append(Problem(found, Place(source, line), "such as kind,part,size,count"))
                    return
                continue
            number += 1
            if len(cells) > len(header) or number > MOST_PARTS:
                few = f"found {len(cells)} cells, expected {len(header)}"
                found = few if number <= MOST_PARTS else f"found more than {MOST_PARTS} parts"
                problems.append(Problem(found, Place(source, line), "such as piston,P1,3.9870 in,1"))
                continue
            texts = {name: cell for name, cell in zip(header, cells, strict=False) if cell}
            yield Row(Place(source, line), texts, {name: Place(source, line, None, name) for name in texts})
    except csv.Error as error:
        hint = 'a quote inside a cell is written twice, as in "4 "" long"'
        problems.append(Problem(f"not comma-separated values: {error}", Place(source, reader.line_num), hint))
