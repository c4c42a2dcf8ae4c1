"""Files with one mistake each, and what must be said of it.

A file of a corpus begins with one comment for every problem that must be found: its line, and the words of its message
in order, as in `# line 12: words | more words`; `# no line: words` where a problem belongs to no line.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from checker.errors import Problem

_EXPECTATION = re.compile(r"# (?:line ([0-9]+)|no line): (.+)")


def files_in(folder: Path) -> list[Path]:
    """The files of a corpus."""
    return sorted(folder.glob("*.yaml"))


def compare(path: Path, found: Sequence[Problem]) -> None:
    """Hold the problems found to those a file announces: all of them, and no others."""
    told = "\n".join(map(str, found)) or "nothing"
    left = list(found)
    expected = [match for line in path.read_text().splitlines() if (match := _EXPECTATION.fullmatch(line))]
    assert expected, "the file does not say what must be found"
    for match in expected:
        line = int(match[1]) if match[1] else None
        fitting = [problem for problem in left if _line(problem) == line and _has_words(problem, match[2])]
        assert fitting, f"{match[0]}\nis not among what was found:\n{told}"
        left.remove(fitting[0])
    assert not left, f"more was found than announced:\n{told}"


def _line(problem: Problem) -> int | None:
    return problem.place.line if problem.place else None


def _has_words(problem: Problem, words: str) -> bool:
    text = f"{problem.message} {problem.hint}"
    at = 0
    for word in words.split(" | "):
        at = text.find(word, at)
        if at < 0:
            return False
        at += len(word)
    return True
