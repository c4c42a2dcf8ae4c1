"""What stands between a build and its next milestone: what is measured, and what is looked up or looked at."""

from __future__ import annotations

from judging import report

from checker.reports.work import work_of


def test_what_no_instrument_reads_is_found_out_and_not_measured() -> None:
    """A cam card, a maker's sheet and a plan are read; a bore is measured."""
    work = work_of(report("street", {}, layout="V8 with pushrods"))
    asked = {str(one) for part in work for one in part.find_out}
    measured = {one for part in work for one in part.measure}
    assert {"lobe separation on the cam card", "cylinder bore, cylinder 1 to 8"} & asked == {
        "lobe separation on the cam card"
    }
    assert "cylinder bore, cylinder 1 to 8" in measured
    assert not any("cam card" in one for one in measured)
