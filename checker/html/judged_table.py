"""What was judged, a line a rule: the station nearest its limit on its band, the values, the limits and the verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from checker.html.limits import drawn
from checker.html.marks import badge
from checker.html.markup import Content, Markup, element
from checker.html.picture_band import band, band_scale
from checker.html.words import anchor, table_of
from checker.judging.judge import Verdict
from checker.reports.summary import OPEN, RuleLine

_DRAWN = "On its band"
_TITLES = ("What", _DRAWN, "Measured", "Required", "Recommended", "Verdict")
_WIDTH = 220


def judged_tables(
    judged: Sequence[tuple[str, Sequence[RuleLine]]], words: Mapping[str, str] | None = None
) -> list[Markup]:
    """A table for each system; for a customer without drawings, where `words` says how a verdict is told."""
    return [
        element(
            "section",
            element("h3", system),
            _table(f"{system}: what was judged", lines, words, words is None),
            class_="calm" if all(map(_is_calm, lines)) else None,
        )
        for system, lines in judged
    ]


def key_table(lines: Sequence[RuleLine], words: Mapping[str, str]) -> Markup:
    """A few lines, each on its band, for a customer."""
    return _table("Key figures", lines, words, True)


def _table(caption: str, lines: Sequence[RuleLine], words: Mapping[str, str] | None, is_drawn: bool) -> Markup:
    titles = [title for title in _TITLES if is_drawn or title != _DRAWN]
    name = "judged plain" if is_drawn else "judged plain bare"
    return table_of(name, titles, [_line(line, words, is_drawn) for line in lines], caption)


def _is_calm(line: RuleLine) -> bool:
    """Whether nobody has to do anything about it."""
    return line.verdict == str(Verdict.WITHIN)


def _line(line: RuleLine, words: Mapping[str, str] | None, is_drawn: bool) -> Markup:
    has_more = words is None and line.verdict != OPEN
    return element(
        "tr",
        element(
            "th",
            element("a", line.title, href=f"#{anchor(line.name)}") if has_more else line.title,
            element("small", f" {line.places}") if line.places else None,
            [element("p", remark, class_="terms") for remark in line.remarks] if words is None else None,
            scope="row",
        ),
        element("td", _drawing(line), class_="drawing") if is_drawn else None,
        element("td", line.values, class_="value"),
        element("td", line.required or line.needs, class_="limits", data_label="required " if line.required else None),
        element("td", line.recommended, class_="limits", data_label="recommended " if line.recommended else None),
        element("td", _verdict(line, words or {}), class_="verdict"),
        class_="calm" if _is_calm(line) else None,
    )


def _verdict(line: RuleLine, words: Mapping[str, str]) -> Markup:
    if line.verdict == OPEN:
        return badge("not measured", OPEN)
    return badge(line.verdict, words.get(line.verdict, line.verdict) + line.verdict_words.removeprefix(line.verdict))


def _drawing(line: RuleLine) -> Content:
    nearest = line.nearest
    items = drawn(line.findings)
    if line.verdict == OPEN or not nearest.edges or nearest.station not in items:
        return None
    return band(items[nearest.station], list(items.values()), band_scale(list(items.values()), _WIDTH), _WIDTH)
