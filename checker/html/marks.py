"""Marks: each verdict as a word and a shape, so that nothing hangs on colour."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from checker.findings.finding import Finding
from checker.html.markup import Markup, element
from checker.judging.judge import Verdict

ACCEPTED = "accepted"


class _Mark(NamedTuple):
    """How a verdict is drawn: its shape and the sign in it, in a colour for whoever prints without the style sheet."""

    shape: str
    sign: str = ""
    ink: str = "#333f4b"
    is_hollow: bool = False


_CIRCLE, _SQUARE, _BAR = "M8 1a7 7 0 1 1 0 14A7 7 0 1 1 8 1z", "M2 2h12v12H2z", "M2 7h12v2H2z"
_MARKS = {
    "outside": _Mark("M5 1h6l4 4v6l-4 4H5l-4-4V5z", "M5 5l6 6M11 5l-6 6", "#8f0f18"),
    "undecided": _Mark("M8 .5 15.5 8 8 15.5.5 8z", "M8 3.5v9", "#4d2a7c"),
    "advisory": _Mark("M8 1.5 15.5 14.5H.5z", "M8 6v4M8 11.6v1.2", "#6b3f00"),
    "not covered": _Mark(_SQUARE, "M5 8h6", is_hollow=True),
    "not measured": _Mark(_SQUARE, is_hollow=True),
    "within": _Mark(_CIRCLE, "M4.6 8.4l2.4 2.4 4.4-5", "#14502a"),
    "seen": _Mark(_CIRCLE, "M3.5 8q4.5-5 9 0q-4.5 5-9 0z", "#14502a"),
    ACCEPTED: _Mark(_CIRCLE, "M5 8h6M8 5v6", "#05505a"),
    "not asked": _Mark(_BAR),
    "not applicable": _Mark(_BAR),
}
MARKS = tuple(_MARKS)
"""Every verdict that has a mark, what needs most first."""
_CALM = frozenset({Verdict.WITHIN, Verdict.NOT_ASKED, Verdict.NOT_APPLICABLE})


def label(finding: Finding) -> str:
    """The verdict in a word; what somebody has permitted is accepted."""
    return ACCEPTED if finding.concession else str(finding.verdict)


def worst(findings: Iterable[Finding]) -> Finding:
    """The finding that matters most; a permitted one matters less than any that needs something done."""
    return max(findings, key=_weight)


def labels(findings: Iterable[Finding]) -> list[str]:
    """Every verdict among findings, worst first; what holds is named only where nothing else is."""
    ordered = sorted(findings, key=_weight, reverse=True)
    telling = [finding for finding in ordered if finding.verdict not in _CALM] or ordered
    return list(dict.fromkeys(map(label, telling)))


def _weight(finding: Finding) -> float:
    return Verdict.NOT_COVERED - 0.5 if finding.concession else finding.verdict


def css(word: str) -> str:
    """The class that gives a verdict its colour."""
    return "v-" + word.replace(" ", "-")


def badge(word: str, label: str | None = None) -> Markup:
    """A verdict's shape with its word, or with what is told instead of it."""
    return element("span", shape(word), label or word, class_=f"badge {css(word)}")


def shape(word: str, middle: tuple[float, float] | None = None) -> Markup:
    """A verdict's shape alone, in a line of text or in the middle of a drawing; a word must stand beside it."""
    place = {} if middle is None else {"x": middle[0] - 8, "y": middle[1] - 8, "width": 16, "height": 16}
    mark = _MARKS[word]
    filled = {"class_": "solid", "fill": mark.ink}
    look = {"class_": "hollow", "fill": "none", "stroke": mark.ink} if mark.is_hollow else filled
    sign = element("path", d=mark.sign, class_="sign", fill="none", stroke=mark.ink if mark.is_hollow else "#ffffff")
    return element(
        "svg",
        element("path", d=mark.shape, **look),
        sign if mark.sign else None,
        viewBox="0 0 16 16",
        class_=f"mark {css(word)}",
        aria_hidden="true",
        **place,
    )
