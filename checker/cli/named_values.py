"""Options that name values: texts such as gear=4."""

from __future__ import annotations

from collections.abc import Iterable

from checker.errors import Problem, UsageError
from checker.records.layout import MOST_STATIONS


def named_values(texts: Iterable[str], option: str, example: str) -> dict[str, str]:
    """Values by name; raises UsageError for all that are no name, an equals sign and a value, or come twice."""
    values: dict[str, str] = {}
    problems = []
    for text in texts:
        name, equals, written = (part.strip() for part in text.partition("="))
        if not name or not equals or not written:
            problems.append(Problem(f"{option} {text}: no value", hint=f"write NAME=VALUE, as in {example}"))
        elif name in values:
            problems.append(Problem(f"{option} {name} is given twice"))
        values[name] = written
    if problems:
        raise UsageError(problems)
    return values


def named_counts(texts: Iterable[str]) -> dict[str, int]:
    """How many stations there are of each kind; raises UsageError for all that are no such number."""
    given = named_values(texts, "--stations", "gear=4")
    hint = f"write NAME=COUNT, as in gear=4; at most {MOST_STATIONS}"
    problems = [
        Problem(f"--stations {name}={count}: not a number of stations", hint=hint)
        for name, count in given.items()
        if not is_count(count)
    ]
    if problems:
        raise UsageError(problems)
    return {name: int(count) for name, count in given.items()}


def is_count(text: str) -> bool:
    """Whether a text is a number of stations that a record may have."""
    return text.isascii() and text.isdigit() and len(text) <= 3 and 1 <= int(text) <= MOST_STATIONS
