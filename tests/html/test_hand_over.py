"""The hand-over: all that was measured, who accepted what, something to sign only where every must holds."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path

import pytest
from report_tools import FULL, HOSTILE, SOUND, Structure, hostile, mill_report
from shipped_reports import report_on

from checker.errors import UsageError
from checker.html.hand_over_page import write_hand_over
from checker.reports.pdf import pdf_of


def text_of(page: str) -> str:
    return " ".join(" ".join(Structure(page).texts).split())


def test_it_says_what_was_measured_and_with_what(tmp_path: Path) -> None:
    text = text_of(write_hand_over(mill_report(tmp_path)))
    assert re.search(r"Gap of the stone stone 1: 0\.30 mm; stone 2: 0\.45 mm", text)
    assert "Feeler gauge 2026-05-02" in text
    assert "stone 1: 45.0 deg" in text
    assert "wood" in text


def test_a_reading_that_cannot_be_is_named_and_not_passed_on_as_measured(tmp_path: Path) -> None:
    text = text_of(write_hand_over(mill_report(tmp_path)))
    assert "spindle 3: 900 degC (left out: outside what is possible" in text
    assert re.search(r"not measured Stones alike; Gap of the stones \(stone 5\)|not measured .*Gap of the stones", text)


def test_who_built_it_and_its_number_are_left_blank_where_nobody_states_them(tmp_path: Path) -> None:
    page = write_hand_over(mill_report(tmp_path))
    assert "<dt>Serial number</dt><dd></dd>" in page
    assert "xa0" not in page


def test_it_says_who_accepted_what_and_why(tmp_path: Path) -> None:
    text = text_of(write_hand_over(mill_report(tmp_path)))
    accepted = "Gap of the stones stone 6 0.70 mm accepted by The miller on 2026-05-03: It is the spare."
    assert accepted in text
    assert "Stand clear of the stones." in text
    assert "Stones are heavy." in text  # the caution of a rule that was accepted outside its limits


@pytest.mark.parametrize(
    ("readings", "is_signed"), [(SOUND, True), (FULL, False), (SOUND.replace("  gate_opens: 20 deg\n", ""), False)]
)
def test_there_is_something_to_sign_only_where_every_must_holds(tmp_path: Path, readings: str, is_signed: bool) -> None:
    text = text_of(write_hand_over(mill_report(tmp_path, readings)))
    assert ("Received by" in text) == is_signed
    assert ("Not ready to hand over" in text) == (not is_signed)


def test_the_internals_of_the_shop_stay_in_the_shop(tmp_path: Path) -> None:
    report = mill_report(tmp_path)
    page = write_hand_over(report)
    for finding in report.findings:
        assert finding.name not in page or finding.name in finding.title.lower()
        assert str(finding.rule.rule.origin) not in page
        assert str(finding.rule.rule.basis) not in page
        assert finding.remedy not in page or not finding.remedy
    assert "common practice" not in page
    assert str(report.packs[0]) not in page


def test_a_hostile_name_is_inert_in_the_hand_over(tmp_path: Path) -> None:
    plain = Structure(write_hand_over(mill_report(tmp_path / "plain")))
    struck = Structure(write_hand_over(mill_report(tmp_path / "struck", say=hostile)))
    assert struck.elements == plain.elements
    assert any(HOSTILE in text for text in struck.texts)


def test_paper_carries_the_same_words(tmp_path: Path) -> None:
    pytest.importorskip("weasyprint", reason="the extra pdf is not installed", exc_type=(ImportError, OSError))
    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")
    page = write_hand_over(mill_report(tmp_path, SOUND))
    paper = pypdf.PdfReader(io.BytesIO(pdf_of(page)))
    written = re.sub(r"\s", "", "".join(sheet.extract_text() for sheet in paper.pages))
    for words in (
        "Everything that must hold and was asked for was measured or looked at and holds.",
        "Gap of the stone",
        "Received by",
        "45.0 deg",
    ):
        assert re.sub(r"\s", "", words) in written


def test_paper_fetches_nothing(tmp_path: Path) -> None:
    pytest.importorskip("weasyprint", reason="the extra pdf is not installed")
    secret = tmp_path / "secret.css"
    secret.write_text("p { display: none }")
    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")
    paper = pdf_of(f'<link rel="stylesheet" href="{secret.as_uri()}"><p>shown</p>')
    assert "shown" in pypdf.PdfReader(io.BytesIO(paper)).pages[0].extract_text()


def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(UsageError, match=r"assembly-checker\[pdf\]"):
        pdf_of("<p>")


@pytest.mark.parametrize("name", ["demo", "street_v8"])
def test_the_key_figures_are_what_was_measured_near_a_limit(name: str) -> None:
    """What lies in a band that only tells what is possible is never near its limit."""
    page = write_hand_over(report_on(name))
    table = page.partition("<h2>Key figures</h2>")[2].partition("</table>")[0]
    assert "Cam degreed against its card" in table
    assert "Top ring end gap" in table
    assert "Expected power possible" not in table
    assert "Pin end play between its locks" not in table
