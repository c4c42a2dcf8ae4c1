"""A reading older than a change of what it depends on is stale: it counts as not measured, and says so."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from fits_tools import finding, fits, record, report

from checker import InputError, Report, Verdict
from checker.reports.text import write_text

HEAD = "units: {length: mm}\nstations: {seat: 2, pad: 4}\n"
SHAFT = "parts: {new shaft: {fitted: 2026-05-10, bears_on: [shaft]}}\n"
BORES = "bore: {taken: 2026-05-01, values: [50.060, 50.060]}"


def shafts(*days: str) -> str:
    """Two shafts, each with the day it was measured; a day may be missing."""
    values = (f"{n}: {{value: 50.000{f', taken: {day}' if day else ''}}}" for n, day in enumerate(days, 1))
    return f"shaft: {{{', '.join(values)}}}"


def verdicts(found: Report, rule: str) -> list[str]:
    return [str(made.verdict) for made in found.findings if made.name == rule]


def set_aside(found: Report) -> dict[tuple[str, int], str]:
    return {(r.characteristic, r.station + 1): r.set_aside for r in found.readings if r.set_aside}


def test_a_reading_older_than_the_part_is_stale() -> None:
    found = report(f"{BORES}\n{shafts('2026-05-09', '2026-05-10')}", HEAD + SHAFT)
    assert set_aside(found) == {("shaft", 1): "taken on 2026-05-09, but new shaft fitted on 2026-05-10"}
    assert finding(found, "clearance", 1).verdict is Verdict.NOT_MEASURED
    assert finding(found, "clearance", 2).verdict is Verdict.WITHIN
    assert "taken on 2026-05-09, but new shaft" in str(finding(found, "clearance", 1).missing[0])
    (flag,) = found.flags
    assert flag.is_refused
    assert "fitted on 2026-05-10" in " ".join(write_text(found, whole=True).split())


def test_an_undated_reading_cannot_be_shown_to_be_newer() -> None:
    found = report(f"{BORES}\n{shafts('', '2026-05-11')}", HEAD + SHAFT)
    assert set_aside(found) == {("shaft", 1): "not dated, and new shaft fitted on 2026-05-10"}


def test_the_day_of_the_record_dates_what_states_none() -> None:
    readings = f"{BORES}\n{shafts('', '')}"
    assert set_aside(report(readings, HEAD + SHAFT + "taken: 2026-05-11")) == {}
    assert len(set_aside(report(readings, HEAD + SHAFT + "taken: 2026-05-09"))) == 2


def test_a_part_may_bear_on_some_stations_only() -> None:
    parts = "parts: {bush 2: {fitted: 2026-05-10, bears_on: [bore], stations: [2]}}\n"
    assert list(set_aside(report(f"{BORES}\n{shafts('', '')}", HEAD + parts))) == [("bore", 2)]


def test_the_latest_change_counts() -> None:
    parts = (
        "parts:\n  first shaft: {fitted: 2026-05-02, bears_on: [shaft]}\n"
        "  second shaft: {fitted: 2026-05-20, bears_on: [shaft]}\n  third: {fitted: 2026-05-10, bears_on: [shaft]}\n"
    )
    found = report(f"{BORES}\n{shafts('2026-05-15', '2026-05-25')}", HEAD + parts)
    assert set_aside(found) == {("shaft", 1): "taken on 2026-05-15, but second shaft fitted on 2026-05-20"}


def test_what_follows_a_changed_size_is_stale_too() -> None:
    """The ring gap says that it follows the bore; a clearance read directly is derived from bore and shaft."""
    parts = "parts: {bushes: {fitted: 2026-05-10, bears_on: [bore]}}\n"
    readings = (
        "bore: {taken: 2026-05-11, values: [50.060, 50.060]}\n"
        "gap: {1: {value: 0.24, taken: 2026-05-05}, 2: {value: 0.24, taken: 2026-05-12}}\n"
        "clearance: {1: {value: 0.060, taken: 2026-05-05}, 2: {value: 0.060, taken: 2026-05-12}}\n"
        "shaft: {taken: 2026-05-01, values: [50.000, 50.000]}"
    )
    found = report(readings, HEAD + parts)
    assert sorted(set_aside(found)) == [("clearance", 1), ("gap", 1)]
    assert finding(found, "gap", 1).verdict is Verdict.NOT_MEASURED
    # What is stale counts as not measured: the clearance is computed from newer readings instead.
    assert finding(found, "clearance", 1).verdict is Verdict.WITHIN


def test_a_change_reaches_the_stations_that_belong_to_it() -> None:
    """Four pads on two seats: the room above a pad is derived from its seat's bore."""
    parts = "parts: {bush 2: {fitted: 2026-05-10, bears_on: [bore], stations: [2]}}\n"
    readings = f"{BORES.replace('05-01', '05-11')}\npad_room: {{taken: 2026-05-05, values: [5, 5, 5, 5]}}"
    assert sorted(set_aside(report(readings, HEAD + parts))) == [("pad_room", 3), ("pad_room", 4)]


def test_what_a_part_bears_on_is_not_worked_out_from_readings_older_than_it() -> None:
    """Who fits new bushes and says that the clearance is to be measured anew has not done so by the old sizes."""
    parts = "parts: {bushes: {fitted: 2026-05-10, bears_on: [clearance]}}\n"
    found = report(f"{BORES}\n{shafts('2026-05-09', '')}", HEAD + parts)
    assert verdicts(found, "clearance") == ["not measured", "not measured"]
    (gap,) = finding(found, "clearance", 1).missing
    assert str(gap).startswith("clearance, seat 1 (bushes fitted on 2026-05-10, and it is worked out from what was")
    assert "before: bore, shaft; or let the part bear on what it changes" in str(gap)
    # Nobody says which of the two has changed: with one of them measured since it is not known either.
    since = BORES.replace("05-01", "05-10")
    found = report(f"{since}\n{shafts('2026-05-11', '2026-05-09')}", HEAD + parts)
    assert [finding(found, "clearance", seat).verdict for seat in (1, 2)] == [Verdict.WITHIN, Verdict.NOT_MEASURED]
    assert "measured before: shaft;" in str(finding(found, "clearance", 2).missing[0])
    found = report(f"{BORES}\n{shafts('2026-05-11', '2026-05-09')}", HEAD + parts)
    assert verdicts(found, "clearance") == ["not measured", "not measured"]
    assert verdicts(found, "bore") == verdicts(report(BORES, HEAD), "bore")


def test_what_was_read_since_or_set_aside_itself_is_worked_out_as_ever() -> None:
    parts = "parts: {bushes: {fitted: 2026-05-10, bears_on: [clearance]}}\n"
    since = BORES.replace("05-01", "05-10")
    found = report(f"{since}\n{shafts('2026-05-10', '2026-05-11')}", HEAD + parts)
    assert verdicts(found, "clearance") == ["within", "within"]
    found = report(f"{BORES}\n{shafts('', '')}", HEAD + parts.replace("[", "[bore, "))
    assert verdicts(found, "clearance") == ["not measured", "not measured"]
    anew = "clearance: {taken: 2026-05-11, values: [0.060, 0.060]}"
    found = report(f"{BORES}\n{shafts('', '')}\n{anew}", HEAD + parts)
    assert verdicts(found, "clearance") == ["within", "within"]
    at_one = "clearance: {1: {value: 0.060, taken: 2026-05-11}}\nbore: {1: {value: 50.060, taken: 2026-05-01}}"
    found = report(f"{at_one}\n{shafts('', '')}", HEAD + parts)  # nothing is worked out at the second seat
    assert finding(found, "clearance", 1).verdict is Verdict.WITHIN
    assert finding(found, "clearance", 2).verdict is Verdict.NOT_MEASURED
    found = report(f"{BORES}\n{shafts('', '')}\n{anew.replace('11', '09')}", HEAD + parts)
    assert verdicts(found, "clearance") == ["not measured", "not measured"]
    found = report("clearance: {taken: 2026-05-09, values: [0.06, 0.06]}", HEAD + parts)
    assert verdicts(found, "clearance") == ["not measured", "not measured"]


def test_sizes_written_under_facts_are_as_old_as_any() -> None:
    parts = "parts: {bushes: {fitted: 2026-05-10, bears_on: [clearance]}}\n"
    sizes = "facts: {bore: [50.060, 50.060], shaft: [50.000, 50.000]}\n"
    assert verdicts(report("gap: {1: 0.24}", HEAD + sizes), "clearance") == ["within", "within"]
    assert verdicts(report("gap: {1: 0.24}", HEAD + sizes + parts), "clearance") == ["not measured", "not measured"]


def test_facts_can_be_stale() -> None:
    parts = "parts: {bushes: {fitted: 2026-05-10, bears_on: [bush]}}\n"
    assert set_aside(report("bush: {value: bronze, taken: 2026-05-09}", HEAD + parts))
    assert not set_aside(report("bush: {value: bronze, taken: 2026-05-10}", HEAD + parts))


@pytest.mark.parametrize("day", ["2062-05-11", "2027-05-02", "2026-06-03"])
def test_a_day_still_to_come_is_a_slip_and_no_date(day: str) -> None:
    readings = f"{BORES}\n{shafts(day, '2026-05-11')}"
    found = report(readings, HEAD + SHAFT, on=date(2026, 6, 1))
    ahead = f"dated {day}, which lies in the future"
    assert set_aside(found) == {("shaft", 1): f"{ahead}, and new shaft fitted on 2026-05-10"}
    assert any(f"{ahead}: is the day or the year mistyped?" in flag.message for flag in found.flags)
    assert not report(readings, HEAD + SHAFT, on=date(2063, 1, 1)).flags


def test_clocks_may_differ_by_a_day() -> None:
    readings = f"{BORES}\n{shafts('2026-06-02', '2026-05-11')}"
    assert not report(readings, HEAD + SHAFT, on=date(2026, 6, 1)).flags


@pytest.mark.parametrize(
    ("part", "says"),
    [
        ("{fitted: 2026-05-10, bears_on: [shaff]}", "did you mean 'shaft'?"),
        ("{fitted: 2026-05-32, bears_on: [shaft]}", "is not a date"),
        ("{fitted: 2026-05-10, bears_on: [shaft], stations: [3]}", "no seat 3: there are 2"),
        ("{bears_on: [shaft]}", "'fitted' is missing"),
        ("{fitted: 2026-05-10}", "'bears_on' is missing"),
    ],
)
def test_a_part_that_cannot_be_is_refused(part: str, says: str) -> None:
    with pytest.raises(InputError) as error:
        report(BORES, f"{HEAD}parts: {{shaft: {part}}}\n")
    assert says in str(error.value)


def test_a_day_may_be_given_with_its_hour() -> None:
    """A program's clock gives both, perhaps with a time zone; the hour decides nothing."""
    dated = record(f"{BORES}\n{shafts('2026-05-09', '2026-05-10')}", HEAD + SHAFT)
    hours = datetime(2026, 6, 1, 23), datetime(2026, 6, 1, 1, tzinfo=UTC)
    one, *others = (fits().check(dated, on=day) for day in (date(2026, 6, 1), *hours))
    assert [[str(made) for made in one.findings]] * 2 == [[str(made) for made in other.findings] for other in others]
