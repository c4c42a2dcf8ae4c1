"""The text report with --all: nothing that the report knows and a builder could need is left out."""

from __future__ import annotations

from collections import Counter

import pytest
from shipped_reports import report_on

from checker import Report, Verdict, write_text
from checker.findings.finding import listed


@pytest.fixture(scope="module", params=["demo", "street_v8", "diesel_in_frame_six"])
def report(request: pytest.FixtureRequest) -> Report:
    return report_on(request.param)


def flat(text: str) -> str:
    return " ".join(text.split())


def test_all_of_it_is_there(report: Report) -> None:
    told = flat(write_text(report, whole=True))
    for finding in report.with_verdict(Verdict.OUTSIDE, Verdict.UNDECIDED, Verdict.ADVISORY):
        for words in (finding.title, finding.limits, finding.remedy, finding.basis, finding.stated_by, finding.due):
            assert flat(words) in told
        assert all(flat(remark) in told for remark in finding.remarks)
    for judged in report.judged:
        own = [finding for finding in report.not_measured if finding.name == judged.rule.name and finding.must_open]
        assert all(flat(words) in told for words in listed(gap for finding in own for gap in finding.missing))
    for flag in report.flags:
        assert flat(flag.message) in told
    for finding in report.disputed:
        assert finding.title in told
    for words in (*report.cautions, *report.grounds, str(report.context.decision), report.on.isoformat()):
        assert flat(words) in told


def test_each_system_says_how_much_is_within(report: Report) -> None:
    lines = write_text(report, whole=True).splitlines()
    for system, count in Counter(finding.system for finding in report.with_verdict(Verdict.WITHIN)).items():
        assert f"  {system}, {count} within" in lines
