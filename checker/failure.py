"""How somebody else's code failed, in one line with the place where it did."""

from __future__ import annotations

import os
from pathlib import Path
from traceback import walk_tb

MOST_WORDS = 200
"""How much is told of what a plugin says when it fails; it may show whole arrays."""
_OURS, _PYTHONS = Path(__file__).parent, Path(os.__file__).parent


def told(error: BaseException) -> str:
    """An error in one line, with the file and line of the plugin where it came about, if it did in one."""
    words = " ".join(f"{type(error).__name__}: {error}".split())[:MOST_WORDS]
    steps = [(Path(frame.f_code.co_filename), line) for frame, line in walk_tb(error.__traceback__)]
    foreign = [(path, line) for path, line in steps if _is_foreign(path)]
    if not foreign:
        return words
    # What a library raises is told with the line that called it: deeper steps in other folders are of no use here.
    home = foreign[0][0].parent
    path, line = [step for step in foreign if step[0].parent == home][-1]
    return f"{words} ({path.name}:{line})"


def _is_foreign(path: Path) -> bool:
    """Whether a file is neither of this project nor of Python itself."""
    is_pythons = path.is_relative_to(_PYTHONS) and "site-packages" not in path.parts
    return path.is_absolute() and not is_pythons and not path.is_relative_to(_OURS)
