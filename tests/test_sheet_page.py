"""The printed sheet: a box for each reading where the station lies, on paper of either size, and no name that acts."""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from browser_tools import PHONE, chromium, opened
from sheet_tools import HEAD, sheet

from checker import rulebook_for
from checker.records.demo import demo_record
from checker.sheets.plan import plan
from checker.sheets.write_html import write_html

ROWS = HEAD.replace("shaft: 2", "shaft: {count: 2, rows: [[2], [1]]}")


class Tables(HTMLParser):
    """The text of each table, row by row, by the title above it; and every element that is used."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tables: dict[str, list[list[str]]] = {}
        self.used: set[str] = set()
        self.title = ""
        self.inside = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        self.used |= {tag, *(f"@{name}" for name, _ in attributes)}
        self.inside = tag
        if tag == "h3":
            self.title = ""
        elif tag == "tbody":
            self.tables[self.title.strip()] = []
        elif tag == "tr":
            self.tables[self.title.strip()].append([])
        elif tag == "td":
            self.tables[self.title.strip()][-1].append("")

    def handle_data(self, data: str) -> None:
        if self.inside == "h3":
            self.title += data
        elif self.inside in ("td", "span") and self.tables and self.title.strip() in self.tables:
            self.tables[self.title.strip()][-1][-1] += f"{data} "

    def handle_endtag(self, tag: str) -> None:
        if tag == "table":
            self.inside = ""


def test_stations_lie_as_stated_from_the_front() -> None:
    tables = Tables(write_html(sheet(ROWS + "readings: {}\n"))).tables
    assert tables["Shaft diameter"] == [["2 ", "1 "]]
    assert tables["Gear bore"] == [["3 ", "1 "], ["4 ", "2 "]]
    assert tables["Module"] == [["1 "], ["2 "]]


def test_what_is_measured_is_printed_in_its_box() -> None:
    readings = "readings: {gear_module: {2: 2.5 mm}, gear_mass: {all: 2 kg}, backlash: {1: [0.1 mm, 0.12 mm]}}\n"
    tables = Tables(write_html(sheet(HEAD + readings))).tables
    assert tables["Module"] == [["1 "], ["2 2.5 mm "]]
    assert tables["Gear mass"] == [["all 2 kg "]]
    assert tables["Backlash"][0] == ["1 0.1 mm 0.12 mm "]


def test_targets_and_guidance_stand_beside_the_boxes() -> None:
    page = write_html(sheet(HEAD + "readings: {gear_module: {1: 2 mm}}\n"))
    assert "Backlash of a mesh: should 0.06 mm to 0.10 mm; must 0.04 mm to 0.16 mm" in page
    assert "Backlash of a mesh: should at least 0.03 x module" in page
    assert "outside micrometer" in page


def test_choices_are_ticked() -> None:
    page = write_html(sheet(HEAD + "facts: {oil: grease}\nreadings: {}\n"))
    assert "<i>\u2713</i>grease" in page
    assert "<i></i>mineral" in page


def test_a_hostile_name_is_inert() -> None:
    name = "<script>alert(1)</script><img src=x onerror=alert(2)>\\u202e"
    note = "{value: 1 kg, note: \"</td><iframe src='//x.example'>\"}"
    text = HEAD.replace("Reducer 7", f'"{name}"'.replace("\\u202e", "")) + f"readings: {{gear_mass: {{1: {note}}}}}\n"
    page = write_html(sheet(text))
    used = Tables(page).used
    assert not {"script", "img", "iframe", "@src", "@onerror", "@href"} & used
    assert "&lt;script&gt;" in page


def plain(text: str) -> str:
    """Text from a PDF with its ligatures taken apart."""
    return unicodedata.normalize("NFKC", text)


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("sheets")
    record = demo_record()
    rulebook = rulebook_for(record)
    written = {
        "demo": plan(rulebook, rulebook.check(record, before="heads-on")),
        "blank": sheet(ROWS + "readings: {}\n"),
    }
    for name, laid_out in written.items():
        (folder / f"{name}.html").write_text(write_html(laid_out))
    return {name: folder / f"{name}.html" for name in written}


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as started:
        yield started


@pytest.mark.browser
@pytest.mark.parametrize("name", ["demo", "blank"])
def test_the_page_asks_for_nothing_and_fits_any_screen(browser: Any, pages: dict[str, Path], name: str) -> None:
    for size in (PHONE, {"width": 1280, "height": 800}):
        with opened(browser, pages[name], size) as shown:
            assert shown.complaints == []
            assert shown.requests == [pages[name].as_uri()]
            assert not shown.wider_than_its_window()


@pytest.mark.browser
@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", ["demo", "blank"])
def test_paper_of_either_size_takes_whole_cards_with_large_boxes(
    browser: Any, pages: dict[str, Path], name: str, paper: str
) -> None:
    """Every title gets onto the paper, no card runs over its edge, and a box takes a thick pen: 11 mm by 15 or more."""
    pdf = pytest.importorskip("pypdf")
    with opened(browser, pages[name], {"width": 718 if paper == "A4" else 740, "height": 1000}) as shown:
        shown.page.emulate_media(media="print")
        boxes = shown.page.evaluate(
            "[...document.querySelectorAll('.box')].map(b => b.getBoundingClientRect().toJSON())"
        )
        assert min(box["height"] for box in boxes) >= 11 * 96 / 25.4
        assert min(box["width"] for box in boxes) >= 15 * 96 / 25.4
        over = "[...document.querySelectorAll('.card')].filter(c => c.scrollWidth > c.clientWidth + 1).length"
        assert shown.page.evaluate(over) == 0
        titles = shown.page.locator("h3").all_inner_texts()
        document = pdf.PdfReader(io.BytesIO(shown.page.pdf(format=paper)))
    width, height = document.pages[0].mediabox.width, document.pages[0].mediabox.height
    wanted = {"A4": (595, 842), "Letter": (612, 792)}[paper]  # points, ISO 216 and ANSI Y14.1
    assert (round(float(width)), round(float(height))) == pytest.approx(wanted, abs=1)
    text = "".join("".join(plain(page.extract_text()).split()) for page in document.pages)
    missing = [title for title in titles if "".join(title.split()) not in text]
    assert missing == []


@pytest.mark.browser
def test_no_card_is_torn_apart_by_the_end_of_a_page(browser: Any, pages: dict[str, Path]) -> None:
    """Boxes of one card never come on two pages: the last station's number stands on the page of the title."""
    pdf = pytest.importorskip("pypdf")
    with opened(browser, pages["demo"]) as shown:
        document = pdf.PdfReader(io.BytesIO(shown.page.pdf(format="A4")))
    texts = [" ".join(plain(page.extract_text()).split()) for page in document.pages]
    for title in ("Cylinder bore in", "Main journal diameter", "Counterweight to block, closest"):
        (page,) = (text for text in texts if title in text)
        assert "front 1" in page.split(title, 1)[1]
