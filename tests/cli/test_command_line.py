"""The command line: how it starts, what its help says, and how a mistyped word is answered."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest
from places import ROOT

from checker.cli import main
from checker.cli.arguments import parse
from checker.cli.fleet_commands import FLEET_COMMANDS
from checker.cli.pack_commands import PACK_COMMANDS
from checker.cli.record_commands import RECORD_COMMANDS
from checker.plugin_hooks import OWN_COMMANDS

COMMANDS = {**RECORD_COMMANDS, **FLEET_COMMANDS, **PACK_COMMANDS}
MISTYPED = {
    "chekc x.yaml": "`checker chekc`: no such command; nearest: check",
    "limts ring": "`checker limts`: no such command; nearest: limits",
    "Check x.yaml": "`checker Check`: no such command; nearest: check",
    "new": "`checker new`: no such command; nearest: new-record, new-pack, new-plugin",
    "zzz": "`checker zzz`: no such command; checker --help lists all",
    "--versoin": "`checker --versoin`: no such option; nearest: --version",
    "check x.yaml --formt html": "`checker check --formt`: no such option; nearest: --format",
    "check x.yaml --zzz": "`checker check --zzz`: no such option; checker check --help lists all",
    "check x.yaml -z": "`checker check -z`: no such option; see checker check --help",
    "check x.yaml -format html": "`checker check -format`: no such option; nearest: --format",
    "check x.yaml --for drag": "`checker check --for`: no such option; nearest: --application",
    "limits ring --use drag": "`checker limits --use`: no such option; nearest: --for",
    "check x.yaml y.yaml": "`checker check y.yaml`: one argument too many; see checker check --help",
    "check": "`checker check`: RECORD is missing; see checker check --help",
    "uses x.yaml --format htlm": "`checker uses`: --format: there is no 'htlm'; nearest: html",
    "uses x.yaml --format 5": "`checker uses`: --format: there is no '5'; choose from text, html, json, markdown",
    "check x.yaml --decision simpel": "`checker check`: --decision: there is no 'simpel'; nearest: simple",
    "check x.yaml --on 2026-02-30": "`checker check`: --on: '2026-02-30' is not a date such as 2026-05-02",
    "check x.yaml --probability most": "`checker check`: --probability: 'most' is not a number such as 0.95",
}


@pytest.mark.parametrize(("typed", "answer"), MISTYPED.items(), ids=MISTYPED)
def test_a_mistyped_word_is_answered_in_a_line_with_the_nearest(
    typed: str, answer: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(typed.split())
    assert ended.value.code == 2
    assert capsys.readouterr() == ("", f"{answer}\n")


def test_every_option_that_there_is_not_has_its_line(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["check", "x.yaml", "--befor", "heads-on", "--outptu=x.html"])
    # --befor is short for --before, as argparse has it.
    assert capsys.readouterr().err == "`checker check --outptu`: no such option; nearest: --output\n"
    with pytest.raises(SystemExit):
        main(["check", "x.yaml", "--befroe", "heads-on", "--outptu=x.html"])
    assert capsys.readouterr().err.count("no such option") == 2


def test_a_mistyped_file_is_answered_with_the_nearest_beside_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "engine-3.yaml").touch()
    for typed in ("engine-3.yml", "engin-3.yaml"):
        assert main(["check", str(tmp_path / typed)]) == 2
        assert "cannot be read: No such file or directory (did you mean 'engine-3.yaml'?)" in capsys.readouterr().err
    assert main(["check", str(tmp_path / "gone" / "engine-3.yaml")]) == 2
    assert "No such file or directory\n" in capsys.readouterr().err


MISTYPED_VALUES = {
    "--format HTML": "no form 'HTML' (did you mean 'html'?)",
    "--format htlm": "no form 'htlm' (did you mean 'html'?)",
    "--before piston-in": "no milestone 'piston-in' (did you mean 'pistons-in'?)",
    "--application strret": "(did you mean 'street'?)",
    "--inspection usal": "no inspection level 'usal' (did you mean 'usual'?)",
    "--system rigns": "no system is called 'rigns' (did you mean 'rings'?)",
    "--pack nitros": "no rule pack 'nitros' (did you mean 'nitrous'?)",
}


@pytest.mark.slow
@pytest.mark.parametrize(("typed", "answer"), MISTYPED_VALUES.items(), ids=MISTYPED_VALUES)
def test_so_is_a_mistyped_name_of_a_rule_pack(typed: str, answer: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(ROOT / "rules" / "demo_record.yaml"), *typed.split()]) == 2
    assert answer in capsys.readouterr().err


def test_nothing_at_all_is_answered_with_how_to_start_and_does_not_pass(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([])
    assert ended.value.code == 2
    told = capsys.readouterr().err
    assert len(told.splitlines()) == 5
    assert max(map(len, told.splitlines())) <= 60
    for command in re.findall(r"^  (checker .*?)  ", told, re.MULTILINE):
        if command != "checker --help":
            parse(shlex.split(command)[1:])


def helped(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 0
    return capsys.readouterr().out


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_help_fits_the_terminal(
    columns: int, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    for arguments in ([], *([name] for name in COMMANDS)):
        lines = helped([*arguments, "--help"], capsys).splitlines()
        assert [line for line in lines if len(line) > min(columns, 100)] == []


@pytest.mark.parametrize("name", COMMANDS)
def test_help_says_what_for_how_and_with_which_status(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    told = helped([name, "--help"], capsys)
    assert re.search(r"\n\n[A-Z][^\n]*\.\n", told)
    examples = re.findall(r"^  (checker .*)$", told.partition("\nexamples:\n")[2], re.MULTILINE)
    assert 1 <= len(examples) <= 3
    for example in examples:
        options = parse(shlex.split(example)[1:])
        assert options.command == name
    statuses = told.partition("\nexit status: ")[2]
    assert {"0", "2"} <= set(re.findall(r"\b([0-9]) [a-z]", statuses))


def test_every_command_stands_in_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    listed = re.findall(r"^    ([a-z-]+)", helped(["--help"], capsys), re.MULTILINE)
    assert set(OWN_COMMANDS) <= set(listed)
    assert set(OWN_COMMANDS) == set(COMMANDS)


def completion(shell: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    pytest.importorskip("shtab")
    script = folder / "completion"
    script.write_text(helped(["--completion", shell], capsys))
    return script


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("bash") is None, reason="bash is not installed")
def test_bash_completes_commands_options_and_names_of_packs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    script = completion("bash", tmp_path, capsys)
    (tmp_path / "engine.yaml").touch()
    wanted = {
        "checker che": {"check"},
        "checker limits --fo": {"--for", "--format"},
        "checker uses --format ma": {"markdown"},
        "checker check --before heads": {"heads-on"},
        "checker check --application mar": {"marine"},
        "checker test-pack ni": {"nitrous"},
        "checker check eng": {"engine.yaml"},
    }
    for typed, offered in wanted.items():
        words = typed.split()
        program = f"source {script}; COMP_WORDS=({typed}); COMP_CWORD={len(words) - 1}; _shtab_checker; "
        done = subprocess.run(
            ["bash", "-c", program + 'echo "${COMPREPLY[@]}"'], cwd=tmp_path, capture_output=True, text=True
        )
        assert set(done.stdout.split()) == offered, done.stderr


@pytest.mark.slow
@pytest.mark.parametrize(("shell", "check"), [("zsh", "-n"), ("fish", "--no-execute")])
def test_other_shells_can_read_theirs(
    shell: str, check: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    script = completion(shell, tmp_path, capsys)
    assert "heads-on" in script.read_text()
    if shutil.which(shell):
        assert subprocess.run([shell, check, str(script)]).returncode == 0


def test_completion_says_what_it_needs(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "shtab", None)
    with pytest.raises(SystemExit) as ended:
        main(["--completion", "bash"])
    assert ended.value.code == 2
    assert "assembly-checker[completion]" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("line", "last"),
    [
        ("check missing.yaml", "1 problem; nothing was judged."),
        ("new-record kept.yaml --for street", "1 problem; nothing was written."),
        ("new-pack mine --amends nosuch", "1 problem; nothing was written."),
        ("test-pack missing", "1 problem; nothing was tested."),
        ("compare-packs missing four-stroke", "1 problem; nothing was compared."),
        ("limits zzz", "1 problem; nothing was looked up."),
        ("packs missing", "1 problem; nothing was listed."),
    ],
)
def test_a_command_that_cannot_run_says_what_was_not_done(
    line: str, last: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("kept.yaml").write_text("record: 1\n", "utf-8")
    assert main(shlex.split(line)) == 2
    assert capsys.readouterr().err.splitlines()[-1] == last
