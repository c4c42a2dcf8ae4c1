"""Starting a record: what new-record writes can be judged at once, and a record may leave out what is not known yet."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterable
from itertools import cycle
from pathlib import Path

import pytest
from pack_tools import GEAR_TRAIN, gear_rulebook

import checker
from checker.cli import main
from checker.errors import CheckerError
from checker.new_record import SYSTEMS, new_record
from checker.plugins import gather
from checker.records.edit import with_value
from checker.records.filled import Filled
from checker.rulebook import rulebook_for

NOT_JUDGED = 3
ENTRY = re.compile(r"(?m)^  # ([a-z][a-z0-9_]*:(?: \[\])?) ")


USES = ["street", "street-performance", "circle-track", "diesel", "boosted-race", "alcohol-blown", "nitrous"]


def written(use: str, *more: str, to: Path) -> str:
    assert main(["new-record", str(to), "--for", use, *more]) == 0
    return to.read_text()


# What is written


ADDED = [("street",), ("diesel",), ("drag", "boosted"), ("drag", "boosted", "alcohol"), ("marine", "nitrous")]


def packs(added: Iterable[str]) -> list[str]:
    return [word for name in added for word in ("--pack", name)]


@pytest.mark.parametrize(("asked", "system"), [*zip(ADDED, cycle(SYSTEMS))])
def test_what_is_written_can_be_judged_at_once(asked: tuple[str, ...], system: str, tmp_path: Path) -> None:
    """Nothing is measured yet, so nothing is within and what must hold is open."""
    path = tmp_path / "engine.yaml"
    use, *added = asked
    written(use, "--units", system, "--stations", "cylinder=8", "main=5", *packs(added), to=path)
    record = checker.read_record(path)
    report = rulebook_for(record).check(record)
    assert record.application == use
    assert report.status == NOT_JUDGED
    assert report.counts[checker.Verdict.WITHIN] == 0
    assert report.flags == ()


def test_the_command_answers_with_a_report(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "engine.yaml"
    written("drag", "--name", "Engine 12", "--stations", "cylinder=8", "--pack", "nitrous", to=path)
    told = capsys.readouterr().out
    assert f"{path} written for Drag, by four-stroke 1.0.0, nitrous 1.0.0." in told
    assert main(["check", str(path)]) == NOT_JUDGED
    assert capsys.readouterr().out.startswith("Engine 12, judged for Drag")


@pytest.mark.parametrize("added", [(), ("nitrous",)])
def test_every_line_may_lose_its_mark_before_it_is_filled_in(added: tuple[str, ...], tmp_path: Path) -> None:
    path = tmp_path / "engine.yaml"
    text = written("street", "--stations", "cylinder=4", "main=5", "rod=4", *packs(added), to=path)
    head, facts, rest = text.partition("facts:")
    assert len(ENTRY.findall(rest)) > 30
    path.write_text(head + facts + ENTRY.sub(r"  \1 ", rest))
    record = checker.read_record(path)
    assert rulebook_for(record).check(record).counts[checker.Verdict.WITHIN] == 0


def test_facts_have_their_choices_and_readings_their_units(tmp_path: Path) -> None:
    text = written("street", "--units", "mm", "--stations", "cylinder=6", to=tmp_path / "engine.yaml")
    assert re.search(r"  # piston_alloy: +# Piston alloy: cast, hypereutectic, 4032, 2618\n", text)
    assert re.search(r"  # cylinder_bore: \[\] +# Cylinder bore, mm, 6 values\n", text)
    milestones = re.findall(r"(?m)^  # (before [a-z -]+)$", text)
    titles = checker.load_rulebook("four-stroke").layered.milestone_titles
    assert milestones == [title for title in titles.values() if title in milestones]
    assert len(milestones) > 5
    assert re.search(r"(?m)^  cylinder: 6 ", text)
    assert re.search(r"(?m)^  # main: ", text)


def test_a_reading_filled_in_is_judged(tmp_path: Path) -> None:
    path = tmp_path / "engine.yaml"
    text = written("street", "--stations", "cylinder=4", to=path)
    path.write_text(text.replace("# cranking_pressure: []", "cranking_pressure: [171, 172, 170, 171]"))
    record = checker.read_record(path)
    assert rulebook_for(record).check(record).counts[checker.Verdict.WITHIN] > 0


def test_nothing_in_it_knows_what_is_built() -> None:
    """The same of gear trains, by a pack of another trade."""
    text = new_record(gear_rulebook(), "heavy", "Mill drive: 2", "mm", {"gear": 4}, "mill.yaml")
    record = checker.record_from_text(text)
    assert record.assembly == "Mill drive: 2"
    assert gear_rulebook().check(record).status == NOT_JUDGED


# What is refused


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (["--for", "marin"], "no installed rule pack has a use 'marin' (did you mean 'marine'?)"),
        (["--for", "nitrous"], "'nitrous' (nitrous is a rule pack: name it with --pack, and with --for a use"),
        ([], "a record says what it is used for (name it with --for: "),
        (["--for", "drag", "--stations", "cylindr=8"], "no stations 'cylindr' (did you mean 'cylinder'?)"),
        (["--for", "drag", "--stations", "cylinder=0"], "--stations cylinder=0: not a number of stations"),
        (["--for", "drag", "--stations", "cylinder"], "--stations cylinder: no value (write NAME=VALUE, as in gear=4)"),
        (
            ["--for", "drag", "--layout", "V8 with pushrod"],
            "no layout 'V8 with pushrod' (did you mean 'V8 with pushrods'?)",
        ),
        (["--for", "drag", "--pack", str(GEAR_TRAIN)], "no application 'drag' in gear-train"),
    ],
)
def test_what_cannot_be_written_is_refused(
    asked: list[str], message: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "engine.yaml"
    assert main(["new-record", str(path), *asked]) == 2
    assert message in capsys.readouterr().err
    assert not path.exists()


def test_a_file_that_exists_is_left_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "engine.yaml"
    path.write_text("a day's work\n")
    assert main(["new-record", str(path), "--for", "drag"]) == 2
    assert "exists already" in capsys.readouterr().err
    assert path.read_text() == "a day's work\n"


# Questions at a terminal


def test_it_asks_for_what_no_option_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    rulebook = checker.load_rulebook("four-stroke")
    kinds = list(rulebook.layered.stations)
    counts = ["eight", "8"] if kinds[0] == "cylinder" else [""]
    for name in kinds[1:]:
        counts += ["eight", "8"] if name == "cylinder" else [""]
    answers = iter(["dragg", "drag", "nitrous", "", "", *counts, "mm", "Engine 9"])
    monkeypatch.setattr("builtins.input", lambda _: next(answers))
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    path = tmp_path / "engine.yaml"
    assert main(["new-record", str(path)]) == 0
    assert next(answers, None) is None
    assert "did you mean 'drag'?" in capsys.readouterr().out
    record = checker.read_record(path)
    assert (record.assembly, record.application) == ("Engine 9", "drag")
    assert list(record.rule_packs) == ["nitrous"]
    assert {stated.name: stated.number for stated in record.stations} == {"cylinder": 8}
    assert record.units["length"] == "mm"


# What a record may leave out


def test_the_only_pack_with_its_use_is_taken_and_the_report_says_so() -> None:
    record = checker.record_from_text("record: 1\nassembly: A\napplication: drag\n")
    report = rulebook_for(record).check(record)
    assert [pack.name for pack in report.packs] == ["four-stroke"]
    (choice,) = [ground for ground in report.grounds if "names no rule pack" in ground]
    assert "four-stroke 1.0.0 is the only installed one with the application 'drag'" in choice
    assert 'rule_packs: {four-stroke: ">=1.0.0,<2"}' in choice
    assert choice in checker.write_text(report, whole=True)


def test_nothing_is_said_of_a_choice_where_the_record_names_its_packs() -> None:
    record = checker.record_from_text('record: 1\nassembly: A\napplication: drag\nrule_packs: {four-stroke: ">=1"}\n')
    assert len(rulebook_for(record).check(record).grounds) == 2


@pytest.mark.parametrize(
    ("use", "message"),
    [
        ("marin", "no installed one has its application 'marin' (did you mean 'marine'?)"),
        (
            "nitrous",
            'that is a rule pack: add the line rule_packs: {nitrous: ">=1.0.0,<2"}, and name one of',
        ),
        ("hovercraft", 'add the line rule_packs: {alcohol: ">=1.0.0,<2"}, or name one with --pack'),
    ],
)
def test_a_record_that_no_pack_fits_is_told_what_to_write(use: str, message: str) -> None:
    record = checker.record_from_text(f"record: 1\nassembly: A\napplication: {use}\n", "bench.yaml")
    with pytest.raises(CheckerError) as caught:
        rulebook_for(record)
    assert str(caught.value).startswith("bench.yaml:3:1: application: the record names no rule pack")
    assert message in str(caught.value)


def test_where_several_packs_have_its_use_none_is_taken(tmp_path: Path) -> None:
    plugins, more = gather(), tmp_path / "more_gears"
    shutil.copytree(GEAR_TRAIN, more)
    head = more / "pack.yaml"
    head.write_text(head.read_text("utf-8").replace("pack: gear-train", "pack: more-gears"), "utf-8")
    twice = plugins._replace(rule_packs={**plugins.rule_packs, "gear-train": GEAR_TRAIN, "more-gears": more})
    record = checker.record_from_text("record: 1\nassembly: A\napplication: heavy\n")
    with pytest.raises(CheckerError, match=r"2 installed ones have its application 'heavy' .add the line rule_packs"):
        rulebook_for(record, plugins=twice)


@pytest.mark.parametrize("more", ["", "readings:\n", "readings: {}\n", "facts:\nstations:\ninstruments:\nreadings:\n"])
def test_sections_may_be_left_out_or_empty(more: str) -> None:
    record = checker.record_from_text(f"record: 1\nassembly: A\napplication: drag\n{more}")
    assert record.notes == ()
    assert rulebook_for(record).check(record).status == NOT_JUDGED


@pytest.mark.parametrize(
    "more", ["", "readings:\n", "readings:\n  # first: 1\n  # second: 2\n", "facts:\n  oil: mineral\n"]
)
def test_a_first_reading_is_written_into_a_record_without_any(more: str) -> None:
    """As `checker measure` does; all else stays as it is."""
    text = f"record: 1  # ours\nassembly: A\napplication: heavy\n{more}"
    new = with_value(text, "mill.yaml", "backlash", "2", Filled(("0.08",)), {"backlash": "mesh", "oil": None})
    record = checker.record_from_text(new)
    assert [(note.characteristic, note.station, note.written) for note in record.notes if not note.is_fact] == [
        ("backlash", "2", ("0.08",))
    ]
    assert [line for line in text.splitlines() if line not in new.splitlines()] == []


@pytest.mark.parametrize("layout", ["v8 pushrods", "V8 with pushrods", "14"])
def test_uses_and_layouts_are_chosen_by_number_or_words(
    layout: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = iter(["hovercraft", "street", "", "flat", layout, "inches", ""])
    monkeypatch.setattr("builtins.input", lambda _: next(answers))
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    path = tmp_path / "engine.yaml"
    assert main(["new-record", str(path)]) == 0
    record = checker.read_record(path)
    assert (record.application, record.layout) == ("street", "V8 with pushrods")
    assert "words that only one has" in capsys.readouterr().out
