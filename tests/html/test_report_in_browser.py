"""The pages in a browser: what is broken is seen at once, on any screen, in any light, by anybody, and on paper."""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser_tools import DESKTOP, OVERPRINTED, PAPER, PHONE, chromium, opened
from fleet_tools import shown_capabilities
from places import HONEST
from report_tools import mill_report

from checker import read_record, rulebook_for
from checker.html.capability_page import write_capability_html
from checker.html.hand_over_page import write_hand_over
from checker.html.report_page import PRINT_ALL, write_html
from checker.html.uses_page import write_uses_html
from checker.records.demo import demo_record
from checker.uses import Use

pytestmark = pytest.mark.browser
PAGES = ("report", "mill", "hand-over", "uses", "capability")


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as started:
        yield started


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Every kind of page as a file; the report is the demo's, the rest are a mill's."""
    folder = tmp_path_factory.mktemp("pages")
    record, street = demo_record(), read_record(HONEST / "street_v8.yaml")
    mill = mill_report(folder)
    uses = [Use("grind", "Grinding", mill), Use("sift", "Sifting", mill_report(folder, use="sift"))]
    written = {
        "report": write_html(rulebook_for(record).check(record)),
        "mill": write_html(mill),
        "hand-over": write_hand_over(mill),
        "uses": write_uses_html("Test mill", uses),
        "capability": write_capability_html(shown_capabilities()),
        "front": write_hand_over(rulebook_for(record).check(record)),
        "street": write_html(rulebook_for(street).check(street)),
        "long": write_html(mill_report(folder / "long", say=lambda phrase: phrase + "M" * 900)),
    }
    for name, page in written.items():
        (folder / f"{name}.html").write_text(page)
    return {name: folder / f"{name}.html" for name in written}


@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_the_answer_and_every_broken_must_are_in_the_first_screen(
    browser: Any, pages: dict[str, Path], size: dict[str, int]
) -> None:
    with opened(browser, pages["report"], size) as shown:
        assert "STOP" in shown.page.locator("h2").first.inner_text()
        broken = shown.page.locator(".broken > li")
        assert broken.count() == 2  # the demo's two
        for number in range(broken.count()):
            title = broken.nth(number).locator("a").first.bounding_box()
            assert title["y"] + title["height"] <= size["height"]


@pytest.mark.parametrize("name", PAGES)
def test_a_page_asks_for_nothing_and_complains_of_nothing(browser: Any, pages: dict[str, Path], name: str) -> None:
    with opened(browser, pages[name]) as shown:
        shown.unfold()
        assert shown.complaints == []
        assert shown.requests == [pages[name].as_uri()]
        # The policy lets the style in, or everything would be unstyled.
        assert shown.page.evaluate("getComputedStyle(document.querySelector('header')).borderBottomWidth") in (
            "2px",
            "3px",
        )


@pytest.mark.parametrize("name", [*PAGES, "long"])
@pytest.mark.parametrize("size", [PHONE, {"width": 320, "height": 600}, PAPER], ids=["phone", "small phone", "paper"])
def test_nobody_has_to_scroll_sideways(browser: Any, pages: dict[str, Path], name: str, size: dict[str, int]) -> None:
    with opened(browser, pages[name], size) as shown:
        if size is PAPER:
            shown.page.emulate_media(media="print")
        shown.unfold()
        assert not shown.wider_than_its_window()


@pytest.mark.parametrize(
    ("name", "scheme"),
    [*((name, "light") for name in PAGES), *((name, "dark") for name in ("mill", "uses", "capability"))],
)
def test_an_accessibility_checker_finds_nothing(browser: Any, pages: dict[str, Path], name: str, scheme: str) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="the extra browser is not installed")
    with opened(browser, pages[name], scheme=scheme) as shown:
        if name != "report":  # the demo folded, as one first sees it; the mill has everything that is folded in it
            shown.unfold()
        results = axe.Axe().run(shown.page)
        assert results.violations_count == 0, results.generate_report()
        checked = {rule["id"] for rule in results.response["passes"]}
        assert "color-contrast" in checked


@pytest.mark.parametrize("name", ["report", "street", "mill", "front"])
@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_no_word_of_a_drawing_covers_another(
    browser: Any, pages: dict[str, Path], name: str, size: dict[str, int]
) -> None:
    with opened(browser, pages[name], size) as shown:
        shown.unfold()
        assert shown.page.evaluate(OVERPRINTED) == []


def test_paper_has_what_needs_attention_and_the_rest_only_on_demand(browser: Any, pages: dict[str, Path]) -> None:
    pypdf = pytest.importorskip("pypdf", reason="the extra browser is not installed")
    with opened(browser, pages["report"]) as shown:
        short, whole = shown.page.pdf(format="A4"), b""
        shown.page.locator(f"#{PRINT_ALL}").check()
        whole = shown.page.pdf(format="A4")
    summary, everything = (pypdf.PdfReader(io.BytesIO(paper)).pages for paper in (short, whole))
    assert len(summary) <= 4 < 20 < len(everything)
    text = "".join(sheet.extract_text() for sheet in summary)
    assert "Top ring end gap" in text and "Cautions" in text
    assert "Second ring end gap" not in text
    assert any("Second ring end gap" in sheet.extract_text() for sheet in everything)


def test_a_hand_over_is_a_front_page_to_sign_and_few_more(browser: Any, pages: dict[str, Path]) -> None:
    pypdf = pytest.importorskip("pypdf", reason="the extra browser is not installed")
    with opened(browser, pages["front"]) as shown:
        paper = shown.page.pdf(prefer_css_page_size=True, format="A4")
    sheets = [unicodedata.normalize("NFKC", sheet.extract_text()) for sheet in pypdf.PdfReader(io.BytesIO(paper)).pages]
    assert len(sheets) <= 6
    for words in ("TE-0007", "Not ready to hand over", "Key figures", "Ring gaps seen from above"):
        assert words in sheets[0]
    assert "Values and limits" in sheets[1]


def test_dark_is_dark_and_light_is_light(browser: Any, pages: dict[str, Path]) -> None:
    brightness = {}
    for scheme in ("light", "dark"):
        with opened(browser, pages["report"], scheme=scheme) as shown:
            colour = shown.page.evaluate("getComputedStyle(document.body).backgroundColor")
            brightness[scheme] = sum(map(int, re.findall(r"\d+", colour)[:3]))
    assert brightness["dark"] < 150 < 600 < brightness["light"]


def test_a_task_can_be_ticked_off(browser: Any, pages: dict[str, Path]) -> None:
    with opened(browser, pages["report"]) as shown:
        shown.unfold()
        box = shown.page.locator(".tasks input").first
        shown.page.locator(".tasks label").first.click()
        assert box.is_checked()


def words_of(text: str) -> set[str]:
    """Ligatures taken apart; a line may end at a hyphen."""
    return set(re.findall(r"[^\s-]+", unicodedata.normalize("NFKC", text)))


@pytest.mark.parametrize("name", ["report", "hand-over", "uses"])
def test_paper_has_every_table_whole(browser: Any, pages: dict[str, Path], name: str) -> None:
    """Each row stands on one sheet with all its words, and the head of its table above it."""
    pypdf = pytest.importorskip("pypdf", reason="the extra browser is not installed")
    with opened(browser, pages[name]) as shown:
        paper = shown.page.pdf(prefer_css_page_size=True)
        shown.page.emulate_media(media="print")
        tables = shown.page.evaluate(
            "Array.from(document.querySelectorAll('table')).filter(table => table.offsetHeight).map(table => ({"
            " head: table.tHead.innerText, rows: Array.from(table.tBodies[0].rows).filter(row => row.offsetHeight)"
            ".map(row => row.innerText)}))"
        )
    sheets = [words_of(sheet.extract_text()) for sheet in pypdf.PdfReader(io.BytesIO(paper)).pages]
    assert tables
    for table in tables:
        head = words_of(table["head"])
        for row in table["rows"]:
            wanted = words_of(row) | head
            assert any(wanted <= sheet for sheet in sheets), (row, min((wanted - sheet for sheet in sheets), key=len))


def test_what_is_open_before_a_milestone_stands_in_its_line_on_paper(browser: Any, pages: dict[str, Path]) -> None:
    with opened(browser, pages["report"], {"width": 660, "height": 1000}) as shown:
        shown.page.emulate_media(media="print")
        tops = shown.page.evaluate(
            """[...document.querySelectorAll('.work > summary, div.work')].map(
                line => [...line.children].map(part => Math.round(part.getBoundingClientRect().top / 12)))"""
        )
        assert len(tops) > 5
        assert [line for line in tops if max(line) - min(line) > 1] == []
