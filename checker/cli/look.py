"""How text looks where it goes: as wide as the terminal and in its colours, or as a file has it."""

from __future__ import annotations

from checker.cli.output import write_out
from checker.cli.terminal import fitting, is_coloured, standard_output, width_of
from checker.findings.text import PLAIN, Look, plain
from checker.judging.judge import Verdict

_COLOURS = {
    Verdict.OUTSIDE: "31;1",
    Verdict.UNDECIDED: "35",
    Verdict.NOT_MEASURED: "35",
    Verdict.ADVISORY: "33",
    Verdict.WITHIN: "32",
}


def look_for(output: str | None) -> Look:
    """How text looks in a file, or where none is named on the standard output."""
    return PLAIN if output is not None else Look(width_of(standard_output()), coloured if is_coloured() else plain)


def say(text: str, output: str | None = None) -> None:
    """Write lines as `write_out` does; a terminal gets those folded that are too long for it."""
    write_out(text if output is not None else f"{fitting(text, standard_output())}\n", output)


def coloured(text: str, verdict: Verdict | None) -> str:
    """A piece of text in the colour of its verdict."""
    code = _COLOURS.get(verdict) if verdict is not None else None
    return f"\x1b[{code}m{text}\x1b[0m" if code else text
