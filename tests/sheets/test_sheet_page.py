"""The printed sheet: a box for each reading where the station lies, on paper of either size, and no name that acts."""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Callable, Iterator
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from browser_tools import PHONE, chromium, opened
from openpyxl import load_workbook
from sheet_tools import HEAD, record, sheet

from checker import rulebook_for
from checker.documents.document import parse_yaml
from checker.records.demo import demo_record
from checker.records.record import record_in
from checker.sheets.plan import plan
from checker.sheets.write_csv import write_csv
from checker.sheets.write_html import write_html
from checker.sheets.write_xlsx import write_xlsx
from checker.sheets.write_yaml import write_yaml

MM = 96 / 25.4
"""Pixels of a style sheet in a millimetre."""
A4, LETTER = (297, 210), (279.4, 215.9)
"""Paper laid wide, in millimetres: ISO 216 and ANSI Y14.1."""

MOST_PAGES = {"street": 10}
"""Of a sheet for a street V8 from nothing: what a builder would carry to the bench, common practice."""

ROWS = HEAD.replace("shaft: 2", "shaft: {count: 2, rows: [[2], [1]]}")


class Tables(HTMLParser):
    """The boxes of each measurement in writing order, by its title, as texts; and every element that is used."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.boxes: dict[str, list[str]] = {}
        self.used: set[str] = set()
        self.title = ""
        self.inside = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        self.used |= {tag, *(f"@{name}" for name, _ in attributes)}
        self.inside = "title" if tag == "b" else tag
        if self.inside == "title":
            self.title = ""
        elif tag == "td":
            self.boxes.setdefault(self.title, []).append("")

    def handle_data(self, data: str) -> None:
        if self.inside == "title":
            self.title += data
        elif self.inside == "span" and self.title in self.boxes:
            self.boxes[self.title][-1] += f"{data} "

    def handle_endtag(self, tag: str) -> None:
        if tag in ("table", "b"):
            self.inside = ""


def test_stations_stand_as_they_lie_from_the_front() -> None:
    boxes = Tables(write_html(sheet(ROWS + "readings: {}\n"))).boxes
    assert boxes["Shaft diameter"] == ["2 ", "1 "]
    assert boxes["Gear bore"] == ["3 ", "4 ", "1 ", "2 "]
    assert boxes["Module"] == ["1 ", "2 "]


def test_what_is_measured_is_printed_in_its_box() -> None:
    readings = "readings: {gear_module: {2: 2.5 mm}, gear_mass: {all: 2 kg}, backlash: {1: [0.1 mm, 0.12 mm]}}\n"
    boxes = Tables(write_html(sheet(HEAD + readings))).boxes
    assert boxes["Module"] == ["1 ", "2 2.5 mm "]
    assert boxes["Gear mass"] == ["all 2 kg "]
    assert boxes["Backlash"][0] == "1 0.1 mm 0.12 mm "


def test_every_box_has_room_for_two_tries() -> None:
    page = write_html(sheet(HEAD + "readings: {}\n"))
    boxes = page.count('class="box"')
    assert boxes > 10
    assert page.count('class="try"') >= 2 * boxes


def test_limits_stand_beside_the_boxes_and_guidance_behind_them() -> None:
    page = write_html(sheet(HEAD + "readings: {gear_module: {1: 2 mm}}\n"))
    assert "recommended 0.06 mm to 0.10 mm; required 0.04 mm to 0.16 mm" in page
    assert "needs module" in page
    assert "outside micrometer" in page
    assert page.index("How to measure") > page.rindex('class="target"')


def test_choices_are_ticked() -> None:
    page = write_html(sheet(HEAD + "facts: {oil: grease}\nreadings: {}\n"))
    assert "<i>\u2713</i>grease" in page
    assert "<i></i>mineral" in page


def test_a_choice_that_may_differ_by_station_is_asked_once() -> None:
    head = "record: 1\nassembly: Engine 5\napplication: street\nstations: {cylinder: 2}\n"
    head += "rule_packs: {four-stroke: '>=1'}\n"

    def page(readings: str) -> str:
        engine = record(f"{head}readings: {readings}\n")
        rulebook = rulebook_for(engine)
        return write_html(plan(rulebook, rulebook.check(engine, before="crank-in")))

    assert page("{}").count("<b>Piston alloy") == 1
    assert "not all alike" in page("{}")
    assert Tables(page("{piston_alloy: {1: cast, 2: '4032'}}")).boxes["Piston alloy"] == ["1 cast ", "2 4032 "]


def test_what_is_asked_for_at_one_station_has_one_box() -> None:
    engine = "record: 1\nassembly: Engine 5\napplication: street\nlayout: V8 with pushrods\n"
    engine += "facts: {valve_pockets: cut, valve_sizes: larger}\nreadings: {}\n"
    rulebook = rulebook_for(record(engine))
    laid_out = plan(rulebook, rulebook.check(record(engine)))
    few = [line for line in laid_out.lines if 0 < len(line.spots) < len(line.rows or ((),)) * 4 and line.rows]
    boxes = Tables(write_html(laid_out)).boxes
    assert few
    assert all(len(boxes.get(line.title, line.spots)) == len(line.spots) for line in few)


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


def workbook_text(raw: bytes) -> str:
    book = load_workbook(io.BytesIO(raw))
    return "\n".join(
        str(cell.value) for tab in book.worksheets for row in tab.iter_rows() for cell in row if cell.value
    )


STREET = "record: 1\nassembly: Engine 5\napplication: street\nlayout: V8 with pushrods\n"


def test_milestones_are_written_as_people_say_them() -> None:
    engine = record(STREET)
    rulebook = rulebook_for(engine)
    laid_out = plan(rulebook, rulebook.check(engine))
    titles = laid_out.report.context.milestones
    raw = [name for name in rulebook.milestones if "-" in name and name not in titles[name]]
    assert raw
    page, workbook = write_html(laid_out), workbook_text(write_xlsx(laid_out))
    assert "before the heads go on" in page
    assert "(before the heads go on)" in workbook
    for text in (page, workbook, write_csv(laid_out), write_yaml(laid_out)):
        assert [name for name in raw if name in text] == []


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("sheets")
    record = demo_record()
    rulebook = rulebook_for(record)
    engine = record_in(parse_yaml(STREET.encode(), "engine.yaml"))
    written = {
        "street": plan(rulebook, rulebook.check(engine)),
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


class Printed(NamedTuple):
    """A sheet as paper of one size takes it, and what one measures on the page it was printed from."""

    titles: list[str]
    tries: list[dict[str, float]]
    is_too_wide: bool
    lies_wide: bool
    texts: list[str]
    """Of each page, a blank between any two words."""


@pytest.fixture(scope="module")
def printed(browser: Any, pages: dict[str, Path]) -> Callable[[str, tuple[float, float]], Printed]:
    """Printing and reading what came out takes seconds: of each sheet on each paper it is done once."""
    pdf = pytest.importorskip("pypdf")

    @cache
    def on_paper(name: str, paper: tuple[float, float]) -> Printed:
        wide, high = paper
        with opened(browser, pages[name], {"width": round((wide - 20) * MM), "height": 700}) as shown:
            shown.page.emulate_media(media="print")
            tries = shown.page.evaluate(
                "[...document.querySelectorAll('.try')].map(one => one.getBoundingClientRect().toJSON())"
            )
            is_too_wide, titles = shown.wider_than_its_window(), shown.page.locator(".sheet b").all_inner_texts()
            document = pdf.PdfReader(io.BytesIO(shown.page.pdf(width=f"{wide}mm", height=f"{high}mm")))
        box = document.pages[0].mediabox
        texts = [" ".join(plain(page.extract_text()).split()) for page in document.pages]
        return Printed(titles, tries, is_too_wide, box.width > box.height, texts)

    return on_paper


@pytest.mark.browser
@pytest.mark.parametrize("name", ["demo", "blank"])
def test_the_page_asks_for_nothing_and_fits_any_screen(browser: Any, pages: dict[str, Path], name: str) -> None:
    for size in (PHONE, {"width": 1280, "height": 800}):
        with opened(browser, pages[name], size) as shown:
            assert shown.complaints == []
            assert shown.requests == [pages[name].as_uri()]
            assert not shown.wider_than_its_window()


@pytest.mark.browser
@pytest.mark.parametrize("paper", [A4, LETTER], ids=["A4", "letter"])
@pytest.mark.parametrize("name", ["street", "demo", "blank"])
def test_paper_of_either_size_takes_every_measurement_with_boxes_for_a_pen(
    printed: Callable[[str, tuple[float, float]], Printed], name: str, paper: tuple[float, float]
) -> None:
    """Every title gets onto the paper, no table runs over its edge, and a try takes a pen: 12 mm by 6 or more."""
    found = printed(name, paper)
    assert min(one["height"] for one in found.tries) >= 6 * MM - 0.1
    assert min(one["width"] for one in found.tries) >= (12 if paper is A4 else 11) * MM
    assert not found.is_too_wide
    assert len(found.texts) <= MOST_PAGES.get(name, 15)
    assert found.lies_wide
    text = "".join(found.texts).replace(" ", "")
    assert found.titles
    assert [title for title in found.titles if "".join(title.split()) not in text] == []


@pytest.mark.browser
def test_no_measurement_is_torn_apart_by_the_end_of_a_page(
    printed: Callable[[str, tuple[float, float]], Printed],
) -> None:
    """The last station's box stands on the page of the title."""
    texts = printed("demo", A4).texts
    for title in ("Cylinder bore in", "Rod journal diameter in", "Top ring end gap in"):
        found = [text for text in texts if title in text]
        assert found, title
        assert re.search(r"\b8\b", found[0].split(title, 1)[1])


@pytest.mark.browser
@pytest.mark.parametrize("size", [PHONE, {"width": 1280, "height": 800}], ids=["phone", "desktop"])
def test_no_number_is_broken_over_two_lines(browser: Any, pages: dict[str, Path], size: dict[str, int]) -> None:
    """Half of a bore of 4.0305 in is another bore."""
    with opened(browser, pages["demo"], size) as shown:
        broken = shown.page.evaluate(
            """[...document.querySelectorAll('.try.done')].filter(one => {
                const lines = document.createRange(); lines.selectNodeContents(one);
                return lines.getClientRects().length > one.textContent.trim().split(/[\\s\\/-]+/).length;
            }).map(one => one.textContent)"""
        )
        assert shown.page.locator(".try.done").count() > 100
        assert broken == []
