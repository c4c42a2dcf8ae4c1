"""Plugins: what may go wrong with one stops only what rests on it, and every report says which were used."""

from __future__ import annotations

import json
import pickle
import re
import subprocess
import sys
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pytest
from pack_tools import GEAR_TRAIN, write_pack
from plugin_tools import plug_in

from checker import PackError, PluginError, UsageError, Verdict, gather, load_rulebook, read_record, write_json
from checker.cli import main
from checker.cli.arguments import _COMMANDS
from checker.html.hand_over_page import write_hand_over
from checker.plugin_hooks import OWN_COMMANDS

LOOM = """
pack: loom
version: 1.0.0
rule_language: 1
title: Loom
builds_on: {gear-train: ">=1"}
system: Loom
characteristics:
  play: {title: Play of the loom, per: mesh, unit: mm, plausible: [0 mm, 5 mm]}
  slack: {title: Slack, per: mesh, unit: mm, plausible: [0 mm, 5 mm], derived: doubled(play)}
rules:
  loom-play:
    title: Play of the loom
    before: gears-on
    judges: doubled(play)
    unit: mm
    limits: {any: {must: {at_most: 1 mm}}}
    basis: {kind: shop policy, note: So.}
    remedy: {high: Take it up.}
  loose-when-slack:
    title: Loose loom
    before: gears-on
    judges: play
    unless: known(slack)
    limits: {any: {must: {at_most: 4 mm}}}
    basis: {kind: shop policy, note: So.}
    remedy: {high: Take it up.}
  plain-play:
    title: Plain play
    before: gears-on
    judges: play
    limits: {any: {must: {at_most: 1 mm}}}
    basis: {kind: shop policy, note: So.}
    remedy: {high: Take it up.}
"""
RECORD = """
record: 1
assembly: Hand loom
application: general
rule_packs: {gear-train: '>=1'}
stations: {mesh: 2}
readings:
  play: {1: 0.2 mm, 2: 0.3 mm}
"""
DOUBLED = """
LENGTH = dimension_of("mm")

@hook
def functions():
    return {"doubled": Function("doubled", (LENGTH,), LENGTH, call=lambda values: BODY)}
"""
IN_UNITS = """
class InUnits:
    units = "inch"

    def __init__(self, values):
        self.values = values

    def __array__(self, *how, **more):
        return self.values
"""
Install = Callable[..., None]


@pytest.fixture
def install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Install:
    def installed(code: str, **more: str) -> None:
        plug_in(tmp_path, monkeypatch, code, **more)

    return installed


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str, str]:
    """A record, and the packs to judge it by."""
    record = tmp_path / "loom.yaml"
    record.write_text(RECORD)
    return str(record), str(GEAR_TRAIN), str(write_pack(tmp_path / "loom", pack=LOOM))


def judged(files: tuple[str, str, str], *more: str, capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    record, *packs = files
    status = main(["check", record, *(word for pack in packs for word in ("--pack", pack)), *more])
    said = capsys.readouterr()
    return status, said.out, said.err


@pytest.mark.parametrize(
    ("code", "named"),
    [
        (
            'functions():\n    return {"spread": Function("spread", (), L, call=lambda: 0)}',
            "function of every expression",
        ),
        ('functions():\n    return {"value": Function("value", (), L, call=lambda: 0)}', "word of the expression lang"),
        ('functions():\n    return {"if": Function("if", (), L, call=lambda: 0)}', "word of the expression language"),
        (
            'functions():\n    return {"where": Function("where", (), L, call=lambda: 0)}',
            "word of the expression language",
        ),
        (
            'report_writers():\n    return {"json": str}',
            r"'json' \(report_writers\) is taken: it comes with the checker",
        ),
        ('record_readers():\n    return {".yaml": str}', "'.yaml' .* it comes with the checker"),
        ('rule_packs():\n    return {"nitrous": Path(__file__).parent}', "'nitrous' .* it comes with the checker"),
        ('functions():\n    return {"twist": Function("turn", (), L, call=lambda: 0)}', "calls itself 'turn'"),
        ('functions():\n    return {"Twist": Function("Twist", (), L, call=lambda: 0)}', "no name for a function"),
        ('functions():\n    return {"twist": abs}', "is no Function but builtin_function_or_method"),
        ("functions():\n    return 1/0", "functions fails: ZeroDivisionError: division by zero"),
        ("functions():\n    raise SystemExit", "functions fails: SystemExit"),
        ("functions():\n    return 1", "functions must return a mapping of name to thing"),
        (
            'rule_packs():\n    return {"looms": Path("/no/where")}',
            "is no rule pack: there is no pack.yaml in /no/where",
        ),
        ("new_things():\n    return {}", "no hook 'new_things'; it may be made for a newer one"),
        ('functions():\n    return {"twist": Function("twist", ("mm",), L, call=abs)}', "'mm' is no dimension, as in"),
        (
            'functions():\n    return {"twist": Function("twist", L, L, call=abs)}',
            "'length', 1.* is no dimension, as in",
        ),
        ('functions():\n    return {"twist": Function("twist", (L,), "mm", call=abs)}', "'mm' is no dimension, as in"),
        ('functions():\n    return {"twist": Function("twist", (L,), L, call=3)}', "'twist': 3 cannot be called"),
        ('functions():\n    return {"twist": Function("twist", (L,), L, abs, L)}', "'length', 1.* cannot be called"),
        ("rule_packs():\n    return {3: Path()}", r"3 \(rule_packs\) is no name but int"),
        ("rule_packs():\n    return {}\n\ndef commands():\n    return {}", "commands stands there without @hook above"),
        ("functions(more):\n    return {}", "its interface is not that of this checker"),
    ],
)
def test_what_cannot_be_added_is_one_line_that_names_the_plugin(
    code: str, named: str, install: Install, capsys: pytest.CaptureFixture[str]
) -> None:
    install(f'L = dimension_of("mm")\n\n@hook\ndef {code}\n')
    with pytest.raises(PluginError, match=f"plugin weaver 1.0: .*{named}") as caught:
        gather()
    assert len(caught.value.problems) == 1
    assert main(["packs"]) == 2
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 2
    assert told[0].endswith("(leave it out with --without weaver)")


def test_what_fails_in_a_plugin_is_told_with_its_file_and_line(install: Install) -> None:
    """With the line that calls what fails, where that is a library or Python itself; and never at any length."""
    install("@hook\ndef functions():\n    return made()\n\ndef made():\n    return np.ones(int('9' * 999 + 'x'))\n")
    with pytest.raises(PluginError, match=r"ValueError: invalid literal for int.{,180} \(__init__.py:10\)") as caught:
        gather()
    assert len(str(caught.value)) < 400


def test_a_module_that_is_not_there_is_one_line_too(install: Install) -> None:
    install("import no_such_module_anywhere")
    with pytest.raises(PluginError, match="it cannot be loaded: ModuleNotFoundError"):
        gather()


def test_two_plugins_that_claim_one_name_are_told_apart(install: Install) -> None:
    install(DOUBLED.replace("BODY", "2 * values"))
    install(DOUBLED.replace("BODY", "values"), name="spinner", version="0.3")
    with pytest.raises(PluginError, match=r"plugin weaver 1\.0: the name 'doubled' .* plugin spinner 0\.3 adds it"):
        gather()
    assert "doubled" in gather(without=["spinner"]).functions


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("1/0", "failed: ZeroDivisionError: division by zero"),
        ("exit()", "failed: SystemExit"),
        ("values[:, :1]", r"returned float64 of shape \(1, 1\), not numbers of \(1, 2\)"),
        ("None", r"returned object of shape \(\)"),
        ("values.astype(str)", "returned <U"),
        ("values > 0", "returned bool of shape"),
        ("values.astype('float16')", "returned float16 of shape"),
        ("InUnits(values)", "returned a quantity with a unit, not numbers in SI"),
        (
            "values - 1, bounds=lambda values: values",
            "returned -0.9998 in SI, beyond its own bounds",
        ),
    ],
)
def test_a_function_that_fails_stops_the_rules_that_rest_on_it_and_no_other(
    body: str, said: str, install: Install, files: tuple[str, str, str]
) -> None:
    install(IN_UNITS + DOUBLED.replace("BODY", body))
    record, *packs = files
    report = load_rulebook(*packs).check(read_record(record))
    by_rule = {judged.rule.name: judged for judged in report.judged}
    # What is known of a derived value may turn a condition: that rule is stopped too.
    for name in ("loom-play", "loose-when-slack"):
        assert set(by_rule[name].codes[0]) == {Verdict.UNDECIDED}
        assert by_rule[name].must_open.all()
    assert set(by_rule["plain-play"].codes[0]) == {Verdict.WITHIN}
    assert report.status == 3
    [remark] = {remark for finding in report.undecided for remark in finding.remarks}
    assert re.match(f"cannot be judged: function doubled of plugin weaver 1.0 {said}", remark)


def test_what_a_function_masks_is_missing(install: Install, files: tuple[str, str, str]) -> None:
    """Below the mask of a masked array stands what is not meant: here that nothing plays at all."""
    install(DOUBLED.replace("BODY", "np.ma.masked_array(0 * values, values > 0.00025)"))
    record, *packs = files
    report = load_rulebook(*packs).check(read_record(record))
    [play] = [judged for judged in report.judged if judged.rule.name == "loom-play"]
    assert play.codes.tolist() == [[Verdict.WITHIN, Verdict.NOT_MEASURED]]
    assert play.must_open.tolist() == [[False, True]]


def test_what_a_function_says_of_missing_values_is_not_held_against_it(
    install: Install, files: tuple[str, str, str]
) -> None:
    """It need not care for what is missing, so what it makes of that may lie anywhere."""
    install(DOUBLED.replace("BODY", "np.nan_to_num(values, nan=9.0), bounds=lambda values: values"))
    record, *packs = files
    Path(record).write_text(RECORD.replace("{1: 0.2 mm, 2: 0.3 mm}", "{1: 0.2 mm}"))
    report = load_rulebook(*packs).check(read_record(record))
    [play] = [judged for judged in report.judged if judged.rule.name == "loom-play"]
    assert play.codes.tolist() == [[Verdict.WITHIN, Verdict.NOT_MEASURED]]


@pytest.mark.parametrize(
    ("readings", "rule", "function"),
    [
        ("{1: 0.2 mm}", "doubled(play)", "np.nan_to_num(values), carries=True"),
        ("{1: 0.2 mm}", "doubled(play)", "np.nanmax(values, axis=-1), across=True, carries=True"),
        # None of the one that is near, and none of all three; but 2 mm of two.
        (
            "{all: 0.2 mm}",
            "doubled(play where side is near)",
            "np.full(len(values), 0.002 * (values.shape[-1] % 2 == 0)), across=True, is_monotone=True",
        ),
    ],
)
def test_nothing_unknown_passes_by_what_a_function_claims_of_itself(
    readings: str, rule: str, function: str, install: Install, files: tuple[str, str, str]
) -> None:
    install(DOUBLED.replace("BODY", function))
    record, gears, loom = files
    pack = LOOM.replace(", derived: doubled(play)", "").replace("known(slack)", "play > 4 mm")
    pack = pack.replace("judges: doubled(play)", f"judges: {rule}")
    write_pack(
        Path(loom), pack=pack.replace("rules:", "  side: {title: Side, per: mesh, choices: [near, far]}\nrules:")
    )
    text = RECORD.replace("mesh: 2", "mesh: 3").replace("readings:", "facts: {side: {1: near}}\nreadings:")
    Path(record).write_text(text.replace("{1: 0.2 mm, 2: 0.3 mm}", readings))
    report = load_rulebook(gears, loom).check(read_record(record))
    [play] = [judged for judged in report.judged if judged.rule.name == "loom-play"]
    assert play.codes[0, -1] == Verdict.NOT_MEASURED
    assert play.must_open[0, -1]


@pytest.mark.parametrize(
    "body", ["np.full_like(values, np.nan_to_num(values, nan=9.0).min())", "values + np.arange(len(values))[:, None]"]
)
def test_what_others_measured_decides_on_nothing(body: str, install: Install, files: tuple[str, str, str]) -> None:
    """A function that reduces all it is given would let one assembly of a table pass by another."""
    install(DOUBLED.replace("BODY", body))
    rulebook = load_rulebook(*files[1:]).only("loom-play")
    head = {"assembly": "Looms", "application": "general", "stations": {"mesh": 1}}
    plays = {"play@1": [0.1, 4.0, np.nan]}  # neither what is first nor what is missing tells
    table = rulebook.check_table(plays, head, units={"length": "mm"}, verdicts=list(Verdict))
    assert [row["verdict"] for row in table.findings.to_pylist()] == ["within", "outside", "not measured"]


@pytest.mark.parametrize(
    ("bounds", "verdict"),
    [("", Verdict.UNDECIDED), (", bounds=lambda own, other: Interval(0.0, own.high + other.high)", Verdict.WITHIN)],
)
@pytest.mark.parametrize("judges", ["doubled(play, play)", "doubled(play, play where play > 0.1 mm)"])
def test_what_is_made_of_all_stations_is_decided_by_its_bounds(
    judges: str, bounds: str, verdict: Verdict, install: Install, files: tuple[str, str, str]
) -> None:
    """Where readings are in doubt, as what is made at one station is; without bounds it stays open."""
    across = "np.maximum(own, other).mean(axis=-1), across=True" + bounds
    code = DOUBLED.replace("lambda values: BODY", f"lambda own, other: {across}").replace(
        "(LENGTH,)", "(LENGTH, LENGTH)"
    )
    install("from checker import Interval\n" + code)
    record, gears, loom = files
    pack = LOOM.replace("judges: doubled(play)", f"judges: {judges}").replace(", derived: doubled(play)", "")
    write_pack(Path(loom), pack=pack.replace("known(slack)", "play > 4 mm"))
    measured = "play: {1: {value: 0.2 mm, with: feeler}, 2: {value: 0.3 mm, with: feeler}}"
    text = RECORD.replace("play: {1: 0.2 mm, 2: 0.3 mm}", measured)
    feeler = "instruments: {feeler: {expanded_uncertainty: 0.01 mm}}\nreadings:"
    Path(record).write_text(text.replace("readings:", feeler))
    report = load_rulebook(gears, loom).check(read_record(record))
    [play] = [judged for judged in report.judged if judged.rule.name == "loom-play"]
    assert play.codes.tolist() == [[verdict]]


def test_cases_say_how_a_function_failed(
    install: Install, files: tuple[str, str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Also where they state that nothing is measured, as a failure would leave it."""
    install(DOUBLED.replace("BODY", "1/0"))
    _, gears, loom = files
    cases = """
cases:
  loom-play:
    - {application: general, given: {}, vary: play, within: [0.2 mm], outside: [0.6 mm]}
    - {application: general, given: {}, verdict: not measured}
"""
    write_pack(Path(loom), pack=LOOM + cases.lstrip())
    assert main(["test-pack", gears, loom]) == 1
    told = capsys.readouterr().out
    failed = "general: cannot be judged: function doubled of plugin weaver 1.0 failed: ZeroDivisionError"
    assert told.count(failed) == 3


def test_a_function_across_stations_is_held_to_its_own_bounds(install: Install, files: tuple[str, str, str]) -> None:
    across = "values.min(axis=-1) / 2, bounds=lambda values: values, across=True"
    install(DOUBLED.replace("BODY", across))
    record, gears, loom = files
    write_pack(Path(loom), pack=LOOM.replace(", derived: doubled(play)", "").replace("known(slack)", "play > 4 mm"))
    report = load_rulebook(gears, loom).check(read_record(record))
    [remark] = {remark for finding in report.undecided for remark in finding.remarks}
    assert "returned 0.0001 in SI, beyond its own bounds of 0.0002 to 0.0003" in remark


@pytest.mark.parametrize(
    ("bounds", "said"),
    [
        ("Interval(values.high, values.low)", "ValueError: from 0.005 down to 0"),
        ("None", "TypeError: cannot unpack"),
        ("1/0", "ZeroDivisionError: division by zero"),
    ],
)
def test_bounds_that_fail_are_told_of_their_function_not_of_the_readings(
    bounds: str, said: str, install: Install, files: tuple[str, str, str]
) -> None:
    install("from checker import Interval\n" + DOUBLED.replace("BODY", f"2 * values, bounds=lambda values: {bounds}"))
    with pytest.raises(PackError, match=f"the bounds of function doubled of plugin weaver 1.0 fail: {said}") as caught:
        load_rulebook(*files[1:])
    assert "plausible" not in str(caught.value)


def test_a_fault_while_judging_is_no_traceback(
    install: Install, files: tuple[str, str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    install(DOUBLED.replace("BODY", "1/0"))
    status, out, err = judged(files, capsys=capsys)
    assert (status, err) == (3, "")
    assert "cannot be judged: function doubled of plugin weaver 1.0 failed" in " ".join(out.split())
    assert "measure more precisely" not in out, "no reading mends it"


@pytest.mark.parametrize("form", ["text", "json", "html", "markdown", "csv", "junit"])
def test_every_form_names_the_plugins_it_used(
    form: str, install: Install, files: tuple[str, str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    install(DOUBLED.replace("BODY", "2 * values"))
    install("", name="idle")
    _, out, _ = judged(files, "--format", form, capsys=capsys)
    if form == "json":
        assert json.loads(out)["plugins"] == [
            {"plugin": "weaver", "version": "1.0", "distribution": "weaver-tools", "used": {"functions": ["doubled"]}}
        ]
    else:
        assert "weaver 1.0 (function doubled)" in out
        assert "idle" not in out


def test_the_hand_over_names_them(install: Install, files: tuple[str, str, str]) -> None:
    install(DOUBLED.replace("BODY", "2 * values"))
    record, *packs = files
    assert "plugin weaver 1.0 (function doubled)" in write_hand_over(load_rulebook(*packs).check(read_record(record)))


def test_a_pack_and_a_reader_of_a_plugin_are_named(
    install: Install, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    install(
        f"""
        @hook
        def rule_packs():
            return {{"gear-train": Path({str(GEAR_TRAIN)!r})}}

        @hook
        def record_readers():
            from checker import record_from_text
            return {{".loom": lambda path: record_from_text(path.read_text())}}
        """
    )
    record = tmp_path / "mine.loom"
    record.write_text(RECORD.replace("play: {1: 0.2 mm, 2: 0.3 mm}", "backlash: {1: 0.1 mm}"))
    main(["check", str(record)])
    assert "plugin weaver 1.0 (rule pack gear-train; reader of .loom)" in capsys.readouterr().out


def test_a_pack_that_is_added_under_another_name_is_refused(
    install: Install, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Else the versions that a record asks for would be held against no pack."""
    install(f'@hook\ndef rule_packs():\n    return {{"looms": Path({str(GEAR_TRAIN)!r})}}\n')
    record = tmp_path / "loom.yaml"
    record.write_text(RECORD.replace("gear-train: '>=1'", "looms: '>=99'").replace("play:", "backlash:"))
    for arguments in (["check", str(record)], ["test-pack", "looms"], ["packs"]):
        assert main(arguments) == 2
        assert "a plugin adds this pack as 'looms', and it calls itself 'gear-train'" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("hook", "value", "said"),
    [
        ("report_writers", "{'odd': lambda report: 1/0}", "its report form 'odd' failed: ZeroDivisionError"),
        ("report_writers", "{'odd': lambda report: None}", "its report form 'odd' returned NoneType, not str"),
        ("record_readers", "{'.odd': lambda path: 1/0}", "its reader of .odd failed: ZeroDivisionError"),
        ("record_readers", "{'.odd': lambda path: {}}", "its reader of .odd returned dict, not Record"),
    ],
)
def test_a_form_or_reader_that_fails_is_one_line(
    hook: str,
    value: str,
    said: str,
    install: Install,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    install(f"@hook\ndef {hook}():\n    return {value}\n")
    record = tmp_path / ("loom.odd" if hook == "record_readers" else "loom.yaml")
    record.write_text(RECORD.replace("play: {1: 0.2 mm, 2: 0.3 mm}", "backlash: {1: 0.1 mm}"))
    form = "odd" if hook == "report_writers" else "text"
    assert main(["check", str(record), "--pack", str(GEAR_TRAIN), "--format", form]) == 2
    first, *rest = capsys.readouterr().err.splitlines()
    assert first.startswith(f"plugin weaver 1.0: {said}")
    assert len(rest) == 1


def test_an_earlier_report_holds_the_plugins_too(
    install: Install, files: tuple[str, str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    install(DOUBLED.replace("BODY", "2 * values"))
    earlier = tmp_path / "earlier.json"
    judged(files, "--format", "json", "--output", str(earlier), capsys=capsys)
    assert judged(files, "--packs-from", str(earlier), capsys=capsys)[2] == ""
    data = json.loads(earlier.read_text())
    data["plugins"][0]["version"] = "0.9"
    earlier.write_text(json.dumps(data))
    status, _, err = judged(files, "--packs-from", str(earlier), capsys=capsys)
    assert status == 2
    assert "made with plugin weaver 0.9, here is 1.0" in err
    earlier.write_text(json.dumps({**data, "plugins": []}))
    assert (
        "made without plugin weaver 1.0, which is used here"
        in judged(files, "--packs-from", str(earlier), capsys=capsys)[2]
    )


@pytest.mark.usefixtures("nothing_shared")
def test_a_plugin_removed_leaves_no_trace(
    tmp_path: Path, files: tuple[str, str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    """What does not rest on it is judged as it was, what does says what is missing, and no file was written."""
    record, gears, loom = files
    code = DOUBLED.replace("BODY", "2 * values") + COMMAND
    plain = ["check", record, "--pack", gears, "--format", "json"]

    def all_that_is_said() -> tuple[str, ...]:
        said = []
        for arguments in (plain, ["plugins"], ["packs"], ["demo"]):
            main(arguments)
            said.append(capsys.readouterr().out)
        return tuple(said)

    before, there = all_that_is_said(), set(tmp_path.rglob("*"))
    with pytest.MonkeyPatch.context() as patch:
        plug_in(tmp_path / "site", patch, code)
        assert main(["weave", "4"]) == 3
        main([*plain[:4], "--pack", loom])
        assert "plugin weaver 1.0" in capsys.readouterr().out
        with_it = all_that_is_said()
        assert with_it[0] == before[0]
        assert "weaver" in with_it[1]
    assert all_that_is_said() == before
    assert {path for path in tmp_path.rglob("*") if path.relative_to(tmp_path).parts[0] != "site"} == there
    assert main([*plain[:4], "--pack", loom]) == 2
    assert "doubled" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        main(["weave", "4"])


def test_a_plugin_is_left_out_by_name(install: Install, capsys: pytest.CaptureFixture[str]) -> None:
    install("1/0")
    assert main(["packs", "--without", "weaver"]) == 0
    with pytest.raises(UsageError, match=r"no plugin 'weavr' to leave out \(did you mean 'weaver'\?\)"):
        gather(without=["weavr"])
    with pytest.raises(UsageError, match="no plugin 'shipped-packs'"):
        gather(without=["shipped-packs"])
    capsys.readouterr()


def test_the_list_of_plugins_says_what_each_adds_and_what_failed(
    install: Install, capsys: pytest.CaptureFixture[str]
) -> None:
    install(DOUBLED.replace("BODY", "2 * values"))
    assert main(["plugins"]) == 0
    install("1/0", name="broken", version="0.2")
    capsys.readouterr()
    assert main(["plugins"]) == 1
    out = capsys.readouterr().out
    assert "weaver 1.0 (weaver-tools)\n  adds function doubled\n" in out
    assert "broken 0.2 (weaver-tools)\n  adds nothing\n  wrong: plugin broken 0.2: it cannot be loaded: Zero" in out
    assert main(["plugins", "--format", "json"]) == 1
    rows = {row["plugin"]: row for row in json.loads(capsys.readouterr().out)}
    assert rows["weaver"]["adds"] == {"functions": ["doubled"]}
    assert "ZeroDivisionError" in rows["broken"]["problems"][0]


WOVEN = """
from checker import Meant, NotationError, WrittenForm

def refuse(*why):
    raise NotationError(*why)

@hook
def written_forms():
    return {"pairs of threads": WrittenForm(r"(\\d+)&(\\d+)", lambda found, is_metric: BODY)}
"""
ASKS_FOR_IT = "written_forms: [pairs of threads]\n"


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("1/0", "plugin weaver 1.0: its written form 'pairs of threads' failed: ZeroDivisionError"),
        ("7", "plugin weaver 1.0: its written form 'pairs of threads' returned int, not Meant"),
        ("Meant(['3 lb-ft'])", r"'2&3' (pairs of threads): '3 lb-ft' gives torque"),
        (
            "Meant('3 mm')",
            "returned Meant(texts='3 mm', note='', each='part'), not Meant of a list of texts and a note",
        ),
        ("Meant([0.3])", "returned Meant(texts=[0.3], note='', each='part'), not Meant of a list of texts and a note"),
        ("refuse('two things', '2 or 3')", "raised NotationError('two things', '2 or 3'), not NotationError of a text"),
        ("refuse('two things', ['2 mm', '3 mm'])", "two things (it could be 2 mm or 3 mm)"),
    ],
)
def test_a_written_form_that_fails_is_told_with_its_plugin(
    body: str, said: str, install: Install, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    install(WOVEN.replace("BODY", body))
    status, _, err = woven(ASKS_FOR_IT, tmp_path, capsys)
    assert status == 2
    assert said in err


def test_a_written_form_is_read_where_a_pack_asks_for_it_and_named(
    install: Install, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    install(WOVEN.replace("BODY", "Meant([found[1] + '.' + found[2] + ' mm'], 'a pair of threads')"))
    _, out, err = woven(ASKS_FOR_IT, tmp_path, capsys)
    assert "plugin weaver 1.0 (written form pairs of threads)" in out
    assert err == ""
    status, _, err = woven("", tmp_path, capsys)
    assert status == 2
    assert "no unit or word '&'" in err


def test_what_a_written_form_reads_is_sent_to_another_process(
    install: Install, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the name of its plugin, whatever the form is made of: here a function without a name."""
    install(WOVEN.replace("BODY", "Meant([found[1] + '.' + found[2] + ' mm'])"))
    pack, record = weaving(ASKS_FOR_IT, tmp_path)
    report = load_rulebook(GEAR_TRAIN, pack).check(read_record(record))
    one = pickle.dumps(load_rulebook(GEAR_TRAIN, pack).characteristics["backlash"])
    assert pickle.loads(one).notation.forms.keys() == {"pairs of threads"}  # noqa: S301 - our own
    assert write_json(pickle.loads(pickle.dumps(report))) == write_json(report)  # noqa: S301 - our own
    monkeypatch.setattr("checker.plugins.installed", list)
    with pytest.raises(PluginError, match=r"plugin weaver 1\.0 was used, and is not installed here"):
        pickle.loads(one)  # noqa: S301 - our own


def woven(head: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    """What is said of a record of which one value is written in the form."""
    pack, record = weaving(head, folder)
    capsys.readouterr()
    status = main(["check", str(record), "--pack", str(GEAR_TRAIN), "--pack", str(pack)])
    return status, *capsys.readouterr()


def weaving(head: str, folder: Path) -> tuple[Path, Path]:
    """A pack that may ask for the form, and a record of which one value is written in it."""
    pack = folder / f"shop{len(head)}"
    pack.mkdir()
    (pack / "pack.yaml").write_text(
        "pack: shop\nversion: 1.0.0\nrule_language: 1\ntitle: Shop\nbuilds_on: {gear-train: '>=1'}\n" + head
    )
    record = folder / "loom.yaml"
    record.write_text(RECORD.replace("play: {1: 0.2 mm, 2: 0.3 mm}", "backlash: {1: 2&3}"))
    return pack, record


COMMAND = """
from checker import Command, Problem, UsageError

def arguments(parser):
    parser.add_argument("count", type=int, help="how many")

def run(options):
    if options.count < 0:
        raise UsageError(Problem("fewer than none", hint="count from 0"))
    print("woven", 12 // options.count)
    return 3 if options.count < 9 else 256

@hook
def commands():
    return {"weave": Command("weave so many", arguments, run)}
"""


def test_a_command_of_a_plugin_is_one_of_the_checkers(install: Install, capsys: pytest.CaptureFixture[str]) -> None:
    install(COMMAND)
    assert main(["weave", "4"]) == 3
    assert capsys.readouterr().out == "woven 3\n"
    assert main(["weave", "-1"]) == 2
    assert "fewer than none (count from 0)" in capsys.readouterr().err
    assert main(["weave", "0"]) == 2
    assert "plugin weaver 1.0: its command 'weave' failed: ZeroDivisionError" in capsys.readouterr().err
    assert main(["weave", "9"]) == 2, "its last eight bits are nought"
    assert "returned 256, which is no exit status from 0 to 255" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        main(["--help"])
    assert re.search(r"weave +weave so many \(plugin weaver\)", capsys.readouterr().out)
    main(["plugins"])
    assert "adds command weave" in capsys.readouterr().out


def test_help_needs_no_arrays_of_a_plugin_and_no_arguments_of_its_command(tmp_path: Path) -> None:
    """In another process, where nothing was imported before; neither other hooks nor what a command takes are asked."""
    with pytest.MonkeyPatch.context() as patch:
        code = """
            @hook
            def functions():
                import numpy
                return {}

            def arguments(parser):
                import numpy

            @hook
            def commands():
                from checker import Command
                return {"weave": Command("weave so many", arguments, print)}
        """
        plug_in(tmp_path, patch, code, imports="from checker import hook\n")
        (home,) = tmp_path.iterdir()
    program = f"""
import sys
sys.path.insert(0, {str(home)!r})
from checker.cli.arguments import parse
try:
    parse(["--help"])
except SystemExit:
    print([heavy for heavy in ("numpy", "pint", "jsonschema", "yaml") if heavy in sys.modules])
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert "weave so many (plugin weaver)" in done.stdout
    assert done.stdout.endswith("[]\n")


@pytest.mark.parametrize(
    ("argument", "said"),
    [
        ("'--count', kind=int", "its command 'weave' failed: TypeError: .*'kind'.*:"),
        ("'--help'", "its command 'weave' failed: ArgumentError: .*--help.*:"),
        ("'--count', help='half is 50%'", "its command 'weave' failed: ValueError: incomplete format"),
    ],
)
def test_a_command_that_cannot_say_what_it_takes_is_one_line(
    argument: str, said: str, install: Install, capsys: pytest.CaptureFixture[str]
) -> None:
    install(COMMAND.replace('"count", type=int, help="how many"', argument))
    for more in ([], ["--help"]):
        assert main(["weave", *more]) == 2
        err = capsys.readouterr().err
        assert re.match(f"plugin weaver 1.0: {said}", err)
        assert err.endswith("1 problem; nothing was done.\n")


def test_what_is_wrong_may_be_told_in_a_plain_text(install: Install, capsys: pytest.CaptureFixture[str]) -> None:
    install(COMMAND.replace('Problem("fewer than none", hint="count from 0")', '"fewer than none"'))
    assert main(["weave", "-1"]) == 2
    assert capsys.readouterr().err == "fewer than none\n1 problem; nothing was done.\n"


@pytest.mark.parametrize(
    ("returned", "said"),
    [
        ('{"check": Command("x", str, str)}', "the name 'check' \\(commands\\) is taken: it comes with the checker"),
        ('{"Weave": Command("x", str, str)}', "is no name for a command: small letters"),
        ('{"weave": print}', "is no Command but builtin_function_or_method"),
    ],
)
def test_a_command_that_cannot_be_is_refused(returned: str, said: str, install: Install) -> None:
    install(f"from checker import Command\n\n@hook\ndef commands():\n    return {returned}\n")
    with pytest.raises(PluginError, match=said):
        gather()


def test_the_names_of_the_checkers_own_commands_are_known_to_plugins() -> None:
    assert set(OWN_COMMANDS) == set(_COMMANDS)


def test_a_module_called_like_a_hook_does_not_take_its_place(install: Install) -> None:
    """Importing functions.py sets the name `functions` of its package, at whatever time that happens."""
    late = """
        @hook
        def functions():
            from importlib import import_module
            return import_module(f"{__name__}.functions").FUNCTIONS
    """
    made = 'L = dimension_of("mm")\nFUNCTIONS = {"twist": Function("twist", (L,), L, call=lambda values: values)}\n'
    install(late, functions=made)
    for _ in range(3):
        assert "twist" in gather().functions


@pytest.mark.parametrize(
    ("needs", "is_fit"),
    [
        ("assembly-checker", True),
        ("assembly-checker>=0.1", True),
        ("Assembly_Checker<9", True),
        ("assembly-checker>=99; extra == 'test'", True),
        ("another-checker>=99", True),
        ("assembly-checker>=99", False),
        ("assembly-checker<0.1", False),
    ],
)
def test_a_plugin_made_for_other_versions_of_the_checker_is_refused_by_name(
    needs: str, is_fit: bool, install: Install, capsys: pytest.CaptureFixture[str]
) -> None:
    install("raise SystemExit  # loading it would end everything" if not is_fit else "", needs=needs)
    if is_fit:
        assert "weaver" in {plugin.name for plugin in gather().each}
        return
    stated = needs.removeprefix("assembly-checker")
    words = f"plugin weaver 1.0: it is made for assembly-checker {stated}, and this is {version('assembly-checker')}"
    with pytest.raises(PluginError, match=re.escape(words)):
        gather()
    assert main(["plugins"]) == 1
    assert f"made for assembly-checker {stated}" in capsys.readouterr().out


PRINTING = """
print("noise at import")
LENGTH = dimension_of("mm")

def doubled(values):
    print("noise of a function")
    return 2 * values

@hook
def functions():
    print("noise of a hook")
    return {"doubled": Function("doubled", (LENGTH,), LENGTH, call=doubled)}

def told(report):
    print("noise of a form")
    return f"status {report.status}"

@hook
def report_writers():
    return {"short": told}
"""


def test_what_a_plugin_prints_stands_in_no_result(
    install: Install, files: tuple[str, str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    """A page or a table would be broken by it, and a report would begin with what nobody asked for."""
    install(PRINTING)
    record, gears, loom = files
    asked = ["check", record, "--pack", gears, "--pack", loom, "--format"]
    assert main([*asked, "json"]) == 3
    printed = capsys.readouterr()
    assert json.loads(printed.out)["status"] == 3
    assert {"noise at import", "noise of a hook", "noise of a function"} <= set(printed.err.splitlines())
    assert main([*asked, "short"]) == 3
    printed = capsys.readouterr()
    assert printed.out.strip() == "status 3"
    assert "noise of a form\n" in printed.err


def test_a_fleet_is_told_which_function_failed(
    install: Install, files: tuple[str, str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It was undecided for a thousand engines, and nothing said why."""
    pytest.importorskip("pyarrow", reason="the extra `fleet` is not installed")
    install(DOUBLED.replace("BODY", "1/0"))
    _, gears, loom = files
    table = tmp_path / "looms.csv"
    table.write_text("serial,play@1,play@2\nA,0.2,0.3\nB,0.2,0.4\n")
    record = tmp_path / "alike.yaml"
    record.write_text(
        RECORD.replace("stations: {mesh: 2}", "stations: {mesh: 2}\nunits: {length: mm}").split("readings")[0]
    )
    asked = ["batch", str(table), "--record", str(record), "--assembly", "serial", "--pack", gears, "--pack", loom]
    assert main([*asked, "--output", str(tmp_path / "out")]) == 3
    said = "function doubled of plugin weaver 1.0 failed: ZeroDivisionError: division by zero"
    told = " ".join(capsys.readouterr().out.split())
    assert f"A function failed: what rests on it is undecided, assemblies 2 {said}" in told
    (failed,) = json.loads((tmp_path / "out" / "summary.json").read_text())["failed"].items()
    assert failed[0].startswith(said) and failed[1] == 2
