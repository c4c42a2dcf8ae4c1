"""Reading quantities with the words of the four-stroke pack, as records of engines are read."""

from __future__ import annotations

import shutil
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

from checker import Rulebook, gather, load_rulebook
from checker.notation.read import read_quantity

ENGINES = load_rulebook("four-stroke").notation
read_of_engines = partial(read_quantity, notation=ENGINES)


def with_words_of_engines(pack: Path) -> Rulebook:
    """A small pack in a folder, with the words and forms of the four-stroke pack and none of its rules."""
    plugins = gather()
    with TemporaryDirectory() as folder:
        shutil.copy(pack / "pack.yaml", folder)
        shutil.copy(plugins.rule_packs["four-stroke"] / "words.yaml", folder)
        return load_rulebook(Path(folder), plugins=plugins)
