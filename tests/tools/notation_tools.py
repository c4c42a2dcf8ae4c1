"""Reading quantities with the words of the four-stroke pack, as records of engines are read."""

from __future__ import annotations

import shutil
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import strategies as st

from checker import Rulebook, gather, load_rulebook
from checker.notation.read import read_quantity
from checker.notation.words import NUMBER_WORDS, SHAPES
from checker.units.units import UNITS

ENGINES = load_rulebook("four-stroke").notation
read_of_engines = partial(read_quantity, notation=ENGINES)
_PIECES = st.sampled_from(
    [
        *UNITS,
        *SHAPES,
        *NUMBER_WORDS,
        *(word for way in ENGINES.ways.values() for word in (*way.words, *way.words_in_front)),
        "X",
        *"0123456789",
        ".0025",
        "5/16",
        "3 3/4",
        "1,000",
        "-",
        "+",
        "M8",
        ".",
    ]
)
ANYTHING = st.text(max_size=70) | st.lists(st.tuples(_PIECES, st.sampled_from(("", " "))), max_size=8).map(
    lambda pieces: "".join(piece + joint for piece, joint in pieces)
)
"""Texts of any kind, and pieces of what people write put together in any order."""


def with_words_of_engines(pack: Path) -> Rulebook:
    """A small pack in a folder, with the words and forms of the four-stroke pack and none of its rules."""
    plugins = gather()
    with TemporaryDirectory() as folder:
        shutil.copy(pack / "pack.yaml", folder)
        shutil.copy(plugins.rule_packs["four-stroke"] / "words.yaml", folder)
        return load_rulebook(Path(folder), plugins=plugins)
