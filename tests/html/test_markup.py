"""Markup: whatever goes in as text comes out as text, with the standard library's reader as the judge."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checker.documents.printable import printable
from checker.html.markup import element, text


class Read(HTMLParser):
    """What a reader sees: elements, attribute values and texts."""

    def __init__(self, markup: str) -> None:
        super().__init__()
        self.seen: list[tuple[str, tuple[str | None, ...]]] = []
        self.said = ""
        self.feed(markup)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, tuple(value for _, value in attrs)))

    def handle_data(self, data: str) -> None:
        self.said += data


@given(st.text(), st.text())
def test_text_and_attributes_come_back_as_they_went_in(inside: str, beside: str) -> None:
    read = Read(element("p", inside, title=beside))
    assert read.seen == [("p", (printable(beside, keep="\n"),))]
    assert read.said == printable(inside, keep="\n")


@given(st.text())
def test_what_is_printable_has_no_sign_that_steers(given_text: str) -> None:
    assert printable(given_text).isprintable()


def test_markup_is_not_escaped_twice() -> None:
    assert element("p", element("b", "<"), ["&", None]) == "<p><b>&lt;</b>&amp;</p>"
    assert text(text("<")) == "&lt;"


def test_attributes_are_left_out_stand_alone_or_have_a_value() -> None:
    written = element("input", type="checkbox", checked=True, disabled=False, title=None, width=0.0, class_="a")
    assert written == '<input type="checkbox" checked width="0" class="a">'


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("onclick", "alert(1)"),
        ("style", "color: red"),
        ("href", "javascript:alert(1)"),
        ("href", "https://mill.example"),
    ],
)
def test_an_attribute_that_could_run_or_fetch_is_refused(name: str, value: str) -> None:
    with pytest.raises(ValueError, match="has no place in a page"):
        element("a", "text", **{name: value})
