"""Lists that people can read: places that differ only in their number, told as one."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

_NUMBERED = re.compile(r"(.* )(\d+)")


def merged(names: Iterable[str]) -> list[str]:
    """Names that differ only in the number at their end, as one: "journal 1, journal 2" is "journal 1 and 2"."""
    numbers: dict[str, list[int]] = {}
    for name in dict.fromkeys(names):
        match = _NUMBERED.fullmatch(name)
        stem, number = (match[1], [int(match[2])]) if match else (name, [])
        numbers.setdefault(stem, []).extend(number)
    return [f"{stem}{counted(found)}" for stem, found in numbers.items()]


def counted(numbers: Sequence[int]) -> str:
    """Numbers in words, such as "1 to 4, 6 and 8"."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    words = [word for run in runs for word in ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else map(str, run))]
    return " and ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))
