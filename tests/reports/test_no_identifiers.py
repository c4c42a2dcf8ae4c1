"""No name of a pack and no expression reaches a person: every form that people read, of records of every kind.

Names stand only where one types them: behind the options of a command, and beside the line of a pack that states a
limit, where the file is named.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from shipped_reports import RECORDS, report_on

from checker import Report, gather, write_text
from checker.findings.text import PLAIN
from checker.html.hand_over_page import write_hand_over
from checker.html.uses_page import write_uses_html
from checker.records.demo import demo_record
from checker.uses import uses_of
from checker.uses_forms import uses_markdown, write_uses

FILES = re.compile(r"[\w/.-]+\.(?:yaml|yml|json|csv|xlsx)\b")
NOT_READ = re.compile(r"<style>.*?</style>|<(?!/?(?:b|i|small)\b)[^>]*>|--to USE says[^.]*\.", re.DOTALL)
EXPRESSION = re.compile(r"\w_\w|\b(?:known|spread|least|greatest|mean|abs|count)\(|\bdelta deg|[<>=]=|\*\*?\w")


def forms(report: Report) -> Iterator[tuple[str, str]]:
    writers = gather().report_writers
    yield "text", write_text(report)
    yield "the whole text", write_text(report, whole=True)
    yield "Markdown", writers["markdown"](report).replace("\\", "").replace("**", "")
    yield "page", str(writers["html"](report))
    yield "hand-over", write_hand_over(report)


def identifiers(text: str, report: Report) -> set[str]:
    read = FILES.sub("", NOT_READ.sub(" ", text).replace("&lt;", "<").replace("&gt;", ">"))
    names = {name for judged in report.judged if "-" in (name := judged.rule.name)}
    titles = " ".join(judged.rule.rule.title.lower() for judged in report.judged)
    words = set(re.findall(r"[a-z0-9]+(?:-[a-z0-9]+)+", read))
    return {name for name in names & words if name not in titles} | set(EXPRESSION.findall(read))


@pytest.mark.parametrize("name", RECORDS)
def test_reports_say_titles(name: str) -> None:
    report = report_on(name)
    for form, text in forms(report):
        assert identifiers(text, report) == set(), form


def test_uses_say_titles() -> None:
    record = demo_record()
    uses = list(uses_of(record, gather(), only=("street", "marine", "road-race")))
    for text in (
        write_uses("Demo", uses, PLAIN),
        uses_markdown("Demo", uses).replace("\\", "").replace("**", ""),
        write_uses_html("Demo", uses),
    ):
        assert identifiers(text, uses[0].report) == set()
        read = NOT_READ.sub(" ", text)
        assert [use.application for use in uses if "-" in use.application and use.application in read] == []


@pytest.mark.parametrize("words", [["ring"], ["clearance", "oil"], ["top", "ring", "side", "clearance"]])
def test_limits_say_titles(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    from checker.cli import main

    assert main(["limits", *words, "--for", "street-performance"]) == 0
    told = FILES.sub("", re.sub(r"in a record or a pack: \S+", "", capsys.readouterr().out))
    assert EXPRESSION.findall(told) == []


def test_what_is_looked_for_is_found() -> None:
    for text in ("applies only when known(a)", "top_ring_gap", "10.9 delta degF", "a <= b", "0.0045*bore"):
        assert EXPRESSION.search(text), text
