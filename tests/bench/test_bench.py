"""The measuring session: what is asked for next, what a typed text means, what is saved and when."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from sheet_tools import HEAD, record, rulebook

from checker import rulebook_for
from checker.bench.session import Bench
from checker.records.filled import filled_in

TODAY = date(2026, 5, 3)
INSTRUMENTS = "instruments: {bore-gauge: {expanded_uncertainty: 5 um}}\n"
TEXT = HEAD + INSTRUMENTS + "readings:\n  # as ground\n  shaft_diameter: {1: 30 mm}\n"


class Session:
    """A bench whose saves are kept."""

    def __init__(self, text: str = TEXT, before: str | None = "shafts-in", application: str | None = None) -> None:
        self.saves: list[str] = []
        self.text = text
        self.bench = Bench(rulebook(), text, "record.yaml", self.change, TODAY, application, before)

    def change(self, edit: Callable[[str], str]) -> None:
        self.text = edit(self.text)
        self.saves.append(self.text)

    @property
    def asked(self) -> tuple[str, str]:
        assert self.bench.step is not None
        return self.bench.step.key

    def written(self, name: str, station: str = "") -> tuple[tuple[str, ...], dict[str, str]]:
        """What the last saved text says of a station."""
        per = {name: item.characteristic.per for name, item in rulebook().characteristics.items()}
        found = filled_in(record(self.saves[-1]).notes, per)[name][station]
        return found.texts, dict(found.circumstances)


def test_it_begins_with_the_first_reading_that_is_missing_and_takes_them_in_order() -> None:
    session = Session()
    asked = []
    for text in ("30.01", "30.05", "30.06", "plain"):
        asked.append(session.asked)
        assert not session.bench.enter(text).refused
    assert asked == [("shaft_diameter", "2"), ("bearing_bore", "1"), ("bearing_bore", "2"), ("bearing_kind", "")]
    assert session.bench.step is None
    assert len(session.saves) == 4


def test_every_reading_is_saved_with_its_unit_and_day_before_the_next_is_asked_for() -> None:
    session = Session()
    session.bench.enter("30.01")
    assert session.written("shaft_diameter", "2") == (("30.01 mm",), {"taken": "2026-05-03"})
    assert "  # as ground\n" in session.saves[-1]


def test_a_session_goes_on_where_another_stopped() -> None:
    first = Session()
    first.bench.enter("30.01")
    second = Session(first.saves[-1])
    assert second.asked == ("bearing_bore", "1")
    assert second.bench.taken == 2


def test_a_reading_is_judged_as_it_is_typed() -> None:
    """A plain bearing of a 30 mm shaft takes 0.0008 to 0.0020 of it: 0.024 to 0.060 mm, worked by hand."""
    session = Session(TEXT + "  bearing_kind: plain\n")
    session.bench.enter("30.00")
    assert [str(finding.verdict) for finding in session.bench.enter("30.05").findings] == ["within"]
    (finding,) = session.bench.enter("30.07").findings
    assert (str(finding.verdict), finding.station, finding.shown_value) == ("outside", 1, "0.07 mm")
    assert "0.01 mm too loose" in finding.remedy


def test_a_comma_is_the_point_where_that_alone_is_possible() -> None:
    session = Session(TEXT + "  bearing_kind: plain\n")
    session.bench.enter("30,00")
    (finding,) = session.bench.enter("30,05").findings
    assert (str(finding.verdict), finding.shown_value) == ("within", "0.05 mm")
    assert session.written("bearing_bore", "1")[0] == ("30,05 mm",)


REFUSED = {
    "no number": ("tight", "no unit or word 'tight'"),
    "a comma that is neither": ("1,234.5", "a comma for the point or for thousands"),
    "another kind of quantity": ("30 N", "30 N"),
    "what cannot be": ("3.0", "outside what is possible"),
    "a key of the terminal": ("\x1b[A30", "cannot be displayed"),
    "several values": ("30.0 30.1", "values"),
}


@pytest.mark.parametrize(("typed", "reason"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_is_refused_on_the_spot_and_not_saved(typed: str, reason: str) -> None:
    session = Session()
    reply = session.bench.enter(typed)
    assert reason in "; ".join(reply.refused)
    assert session.saves == []
    assert session.asked == ("shaft_diameter", "2")


def test_the_likely_slip_is_named() -> None:
    assert "a hundred times off, 30.01 mm?" in "; ".join(Session().bench.enter("3001").refused)


def test_a_suspicious_reading_is_saved_and_flagged() -> None:
    session = Session(HEAD.replace("shaft: 2, gear: {count: 4, of: [1, 1, 2, 2]}", "shaft: 4") + "readings: {}\n")
    for text in ("30", "30", "30"):
        assert session.bench.enter(text).flags == ()
    (flag,) = session.bench.enter("250").flags
    assert not flag.is_refused
    assert len(session.saves) == 4


def test_back_replaces_again_adds_skip_leaves_out() -> None:
    session = Session()
    session.bench.skip()
    assert session.asked == ("bearing_bore", "1")
    session.bench.enter("30.05")
    session.bench.back()
    session.bench.enter("30.06")
    assert session.written("bearing_bore", "1")[0] == ("30.06 mm",)
    assert session.bench.again()
    assert session.asked == ("bearing_bore", "1")
    session.bench.enter("30.07")
    assert session.written("bearing_bore", "1")[0] == ("30.06 mm", "30.07 mm")
    assert session.asked == ("bearing_bore", "2")
    session.bench.back()
    session.bench.back()
    assert session.asked == ("shaft_diameter", "2")


def test_again_needs_a_reading_and_joins_no_stated_end() -> None:
    session = Session()
    assert not session.bench.again()
    session.bench.enter("above 30.0")
    session.bench.again()
    session.bench.enter("30.1")
    assert session.written("shaft_diameter", "2")[0] == ("above 30.0 mm", "30.1 mm")
    open_ended = Session(HEAD + "readings: {shaft_diameter: {1: {above: 30 mm}}}\n")
    open_ended.bench.enter("30")
    open_ended.bench.back()
    open_ended.bench.back()
    assert open_ended.asked == ("shaft_diameter", "1")
    open_ended.bench.adds = True
    assert "open end" in open_ended.bench.enter("30.1").refused[0]


def test_a_note_is_saved_at_once_and_stays_with_the_reading() -> None:
    session = Session()
    session.bench.note("burr at the edge: filed")
    assert session.written("shaft_diameter", "2") == (("",), {"note": "burr at the edge: filed"})
    session.bench.note("#2")
    session.bench.enter("30.01")
    wanted = {"taken": "2026-05-03", "note": "burr at the edge: filed; #2"}
    assert session.written("shaft_diameter", "2") == (("30.01 mm",), wanted)
    assert session.bench.note("").refused
    assert session.bench.note("\x1b[2J").refused


def test_an_instrument_counts_for_its_characteristic_and_must_be_listed() -> None:
    session = Session()
    assert "no instrument 'ruler'" in session.bench.use("ruler").refused[0]
    session.bench.enter("30.01")
    session.bench.use("bore-gauge")
    session.bench.enter("30.05")
    assert session.written("bearing_bore", "1")[1]["with"] == "bore-gauge"
    later = Session(session.saves[-1])
    later.bench.enter("30.06")
    assert later.written("bearing_bore", "2")[1]["with"] == "bore-gauge"
    assert "with" not in later.written("shaft_diameter", "2")[1]


def test_one_value_for_all_stations() -> None:
    session = Session(HEAD + "readings: {}\n")
    assert not session.bench.enter("30", for_all=True).refused
    assert session.written("shaft_diameter", "all")[0] == ("30 mm",)
    assert session.asked == ("bearing_bore", "1")
    session.bench.enter("30.05")
    session.bench.back()
    assert "beside values for single ones" in "; ".join(session.bench.enter("30.06", for_all=True).refused)


def test_a_block_is_left_out_whole_and_the_first_open_step_found_again() -> None:
    session = Session(HEAD + "readings: {}\n", before=None)
    assert session.bench.step is not None
    block = session.bench.step.system
    assert session.bench.skip_block() == block
    while session.bench.step is not None:
        assert session.bench.step.system != block
        session.bench.skip()
    session.bench.first()
    assert session.asked == ("shaft_diameter", "1")


def test_a_measurement_is_found_by_any_words_of_its_title() -> None:
    session = Session(before=None)
    assert session.bench.go("BORES gear") == ("Gear bore",)
    assert session.asked == ("gear_bore", "1")
    assert session.bench.go("diamet") == ("Shaft diameter",)
    assert session.asked == ("shaft_diameter", "2")  # the first that is open
    assert len(session.bench.go("bore")) == 2
    before = session.asked
    assert session.bench.go("gudgeon") == ()
    assert session.bench.go("") == ()
    assert session.asked == before


def test_a_choice_that_may_differ_is_asked_once_and_by_station_on_demand() -> None:
    text = "record: 1\nassembly: Engine 5\napplication: street\nlayout: V8 with pushrods\nreadings: {}\n"
    rulebook = rulebook_for(record(text))
    saves: list[str] = []
    bench = Bench(rulebook, text, "engine.yaml", lambda edit: saves.append(edit(bench.text)), TODAY, before="crank-in")
    bench.go("piston alloy")
    assert bench.step is not None
    assert bench.step.key == ("piston_alloy", "all")
    assert not bench.enter("2618").refused
    assert "all: 2618" in saves[-1]
    other = Bench(rulebook, text, "engine.yaml", lambda edit: saves.append(edit(other.text)), TODAY, before="crank-in")
    other.go("piston alloy")
    assert other.ask_each()
    assert not other.ask_each()
    other.enter("cast")
    assert other.step is not None
    assert other.step.key == ("piston_alloy", "2")


def test_it_tells_how_many_checks_an_answer_judged_and_what_would_judge_most() -> None:
    session = Session(TEXT + "  bearing_kind: plain\n")
    assert session.bench.enter("30.00").judged == 0
    assert session.bench.enter("30.05").judged == 1
    best = session.bench.next_best
    assert best is not None
    assert best.titles == ("bearing bore",)


def test_a_choice_is_entered_by_name_or_number() -> None:
    for typed in ("rolling", "2"):
        session = Session(HEAD + "readings: {shaft_diameter: [30 mm, 30 mm], bearing_bore: [30 mm, 30 mm]}\n")
        assert session.asked == ("bearing_kind", "")
        assert "could be plain or rolling" in session.bench.enter("ball").refused[0]
        assert session.bench.enter("9").refused
        session.bench.enter(typed)
        assert session.written("bearing_kind") == (("rolling",), {})


def test_an_answer_that_settles_a_rule_takes_its_questions_away_and_others_are_still_asked() -> None:
    session = Session(HEAD + "readings: {}\n", before=None)
    names = {step.line.name for step in session.bench.steps}
    assert {"oil", "is_sealed"} <= names
    while session.bench.step is not None and session.asked[0] != "is_sealed":
        session.bench.skip()
    session.bench.enter("yes")
    assert "oil" not in {step.line.name for step in session.bench.steps}


def test_a_skipped_reading_is_not_asked_for_again_in_the_same_session() -> None:
    session = Session()
    for _ in range(4):
        session.bench.skip()
    assert session.bench.step is None
    assert session.bench.enter("30").refused
    assert session.saves == []


@pytest.mark.parametrize("typed", ["-", "not measured"])
def test_what_says_that_nothing_was_measured_does_not_count_as_measured(typed: str) -> None:
    session = Session()
    before = session.bench.taken
    assert not session.bench.enter(typed).refused
    assert session.bench.taken == before
    assert session.written("shaft_diameter", "2") == ((typed,), {})
    asked = []
    while session.bench.step is not None:
        asked.append(session.asked)
        session.bench.enter(typed)
    assert asked == [("bearing_bore", "1"), ("bearing_bore", "2"), ("bearing_kind", "")]
    assert session.bench.taken == before
    assert Session(session.text).asked == ("shaft_diameter", "2")  # another session asks again


def test_a_reading_is_taken_away_but_nothing_is_no_second_reading() -> None:
    session = Session()
    session.bench.enter("30.01")
    session.bench.again()
    assert "no reading is added" in session.bench.enter("-").refused[0]
    session.bench.back()
    session.bench.enter("-")
    assert session.written("shaft_diameter", "2") == (("-",), {})


def test_back_goes_to_what_was_entered_last_wherever_it_stands() -> None:
    session = Session()
    session.bench.enter("30.01")
    session.bench.go("bearing kind")
    session.bench.enter("plain")
    session.bench.go("bearing bore")
    assert session.asked == ("bearing_bore", "1")
    session.bench.back()
    assert session.asked == ("bearing_kind", "")
    session.bench.back()
    assert session.asked == ("shaft_diameter", "2")
    session.bench.back()
    assert session.asked == ("shaft_diameter", "1")
