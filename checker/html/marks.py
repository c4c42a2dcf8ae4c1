"""Marks: each verdict as a word and a shape, so that nothing hangs on colour."""

from __future__ import annotations

from collections.abc import Iterable

from checker.findings.finding import Finding
from checker.html.markup import Markup, element
from checker.judging.judge import Verdict

ACCEPTED = "accepted"

_CIRCLE, _SQUARE, _BAR = "M8 1a7 7 0 1 1 0 14A7 7 0 1 1 8 1z", "M2 2h12v12H2z", "M2 7h12v2H2z"
_SHAPES = {
    "outside": "M5 1h6l4 4v6l-4 4H5l-4-4V5z",
    "undecided": "M8 .5 15.5 8 8 15.5.5 8z",
    "advisory": "M8 1.5 15.5 14.5H.5z",
    "not covered": _SQUARE,
    "not measured": _SQUARE,
    "within": _CIRCLE,
    "seen": _CIRCLE,
    ACCEPTED: _CIRCLE,
    "not asked": _BAR,
    "not applicable": _BAR,
}
MARKS = tuple(_SHAPES)
"""Every verdict that has a mark, what needs most first."""
_SIGNS = {
    "outside": "M5 5l6 6M11 5l-6 6",
    "advisory": "M8 6v4M8 11.6v1.2",
    "undecided": "M8 3.5v9",
    "within": "M4.6 8.4l2.4 2.4 4.4-5",
    ACCEPTED: "M5 8h6M8 5v6",
    "not covered": "M5 8h6",
    "seen": "M3.5 8q4.5-5 9 0q-4.5 5-9 0z",
}
_INK = {
    "outside": "#8f0f18",
    "advisory": "#6b3f00",
    "undecided": "#4d2a7c",
    "within": "#14502a",
    "seen": "#14502a",
    ACCEPTED: "#05505a",
}
_GREY = "#333f4b"
"""Colours for whoever prints drawings without their style sheet, which goes before them."""
_CALM = frozenset({Verdict.WITHIN, Verdict.NOT_ASKED, Verdict.NOT_APPLICABLE})
_HOLLOW = frozenset({"not measured", "not covered"})


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
    sign, ink = _SIGNS.get(word), _INK.get(word, _GREY)
    is_hollow = word in _HOLLOW
    drawn = {"class_": "hollow", "fill": "none", "stroke": ink} if is_hollow else {"class_": "solid", "fill": ink}
    return element(
        "svg",
        element("path", d=_SHAPES[word], **drawn),
        element("path", d=sign, class_="sign", fill="none", stroke=ink if is_hollow else "#ffffff") if sign else None,
        viewBox="0 0 16 16",
        class_=f"mark {css(word)}",
        aria_hidden="true",
        **place,
    )
