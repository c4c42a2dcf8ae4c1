"""Every block of the documents is run, in order, as a reader would do it.

The first line of a block says what kind it is: a file to write (a second block of one name goes on where the first
ended), commands, a program, what must come out of what was run before it, the same commands for another shell, or a
picture of the modules. What needs a package index or a terminal is not run but read: see `_is_for_a_machine`.
"""

from __future__ import annotations

import re
import shlex
import tomllib
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout
from functools import cache
from io import StringIO
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from places import ROOT

from checker.cli import main
from checker.expressions.functions import FUNCTIONS
from checker.packs.limits import BASIS_KINDS

DOCUMENTS = (
    *(ROOT / name for name in ("README.md", "DEVELOPERS.md", "rules/README.md", "rules/RECORDS.md")),
    *sorted(ROOT.glob("plugins/*/README.md")),
)
BLOCK = re.compile(r"^```(\w*)(?: (\S+))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)
FILES = ("yaml", "csv")
KINDS = (*FILES, "sh", "powershell", "python", "text", "picture")
AT_A_TERMINAL = ("measure",)
"""Commands that ask questions, and say so where nobody can answer."""
OF_A_MACHINE = (
    r"python3? -m venv \.venv",
    r"\. \.venv/bin/activate",
    r"python tests/costs/\w+\.py",
    r"(\.venv/bin/)?python -m pip install (-q )?(-e )?(\S+)",
    r"(\.venv/bin/)?python -m pytest( --hypothesis-profile=\w+)?( -n 0)?( -[mk] (\"[^\"]+\"|\S+))?( tests\S*)?",
    r"\.ci/run",
)
"""What sets a machine up or runs the tests; the README's two commands are run by .ci/run."""
REFUSED = "; nothing was "
UNNOTICED = "changes go unnoticed"


class Block(NamedTuple):
    """One fenced block; `name` is the file it is to be written to."""

    kind: str
    name: str
    content: str


def blocks(document: Path) -> list[Block]:
    return [Block(found[1], found[2] or "", found[3]) for found in BLOCK.finditer(document.read_text("utf-8"))]


def title(document: Path) -> str:
    return str(document.relative_to(ROOT))


@pytest.fixture
def plugged_in(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The plugin that a document is about, installed as far as Python is concerned."""
    project = request.getfixturevalue("document").parent / "pyproject.toml"
    if "plugins" not in project.parts:
        return
    stated = tomllib.loads(project.read_text())["project"]
    for needed in stated["dependencies"]:
        if needed.startswith("scipy"):
            pytest.importorskip("scipy")
    proof = tmp_path / "installed" / f"{stated['name'].replace('-', '_')}-{stated['version']}.dist-info"
    proof.mkdir(parents=True)
    (proof / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {stated['name']}\nVersion: {stated['version']}\n")
    points = "".join(f"{name} = {module}\n" for name, module in stated["entry-points"]["checker"].items())
    (proof / "entry_points.txt").write_text(f"[checker]\n{points}")
    monkeypatch.syspath_prepend(str(proof.parent))
    monkeypatch.syspath_prepend(str(project.parent / "src"))


@pytest.mark.slow
@pytest.mark.parametrize("document", DOCUMENTS, ids=title)
@pytest.mark.usefixtures("plugged_in")
def test_a_document_works_as_written(document: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "bench"
    folder.mkdir()
    monkeypatch.chdir(folder)
    written: set[str] = set()
    names: dict[str, Any] = {}
    output, found = "", blocks(document)
    for number, block in enumerate(found):
        following = found[number + 1].content if number + 1 < len(found) else ""
        if block.kind in FILES:
            write(block, written)
        elif block.kind == "sh":
            output = "".join(run_line(line, following) for line in commands(block.content)) or output
        elif block.kind == "python":
            output = printed(lambda code=block.content: exec(compile(code, title(document), "exec"), names))  # noqa: S102
        elif block.kind == "text":
            assert_says(block.content, output)


def write(block: Block, written: set[str]) -> None:
    path = Path(block.name)
    path.parent.mkdir(parents=True, exist_ok=True)
    before = path.read_text("utf-8") if block.name in written else ""
    path.write_text(f"{before}\n{block.content}" if before else block.content, "utf-8")
    written.add(block.name)


def commands(content: str) -> Iterator[str]:
    """The commands of a block one by one, without their remarks."""
    for line in content.splitlines():
        yield from (command.split("  #")[0].strip() for command in line.split(" && "))


def run_line(line: str, following: str) -> str:
    """What a command writes; what is for a machine to set up says nothing.

    It may refuse only where the document goes on to say so, and a pack holds unless what follows tells what is lacking.
    """
    if _is_for_a_machine(line):
        return ""
    program, *arguments = shlex.split(line)
    assert program.removeprefix(".venv/bin/") == "checker", line
    statuses: list[int] = []
    output = printed(lambda: statuses.append(main(arguments)))
    assert "Traceback" not in output
    if arguments[0] in AT_A_TERMINAL:
        assert "terminal" in output
    elif arguments[0] == "test-pack" and REFUSED not in following:
        is_lacking = UNNOTICED in following or "--draft-cases" in arguments
        assert statuses == [1 if is_lacking else 0], f"{line}\n{output}"
    else:
        assert REFUSED in following or statuses[0] in (0, 1, 3), f"{line}\n{output}"
    return output


def printed(run: Callable[[], object]) -> str:
    streams = StringIO()
    with redirect_stdout(streams), redirect_stderr(streams):
        run()
    return streams.getvalue()


def _is_for_a_machine(line: str) -> bool:
    """Whether it sets a machine up; then the folder, the extras and the tests that it names must be there."""
    if not any(re.fullmatch(pattern, line) for pattern in OF_A_MACHINE):
        return False
    for word in shlex.split(line)[1:]:
        folder, _, extras = word.removesuffix("]").partition("[")
        if extras:
            assert set(extras.split(",")) <= set(project_of(ROOT)["optional-dependencies"]), line
        elif folder.startswith((".ci", "./plugins", "tests")):
            assert (ROOT / folder).exists(), line
    return True


@cache
def project_of(folder: Path) -> dict[str, Any]:
    stated: dict[str, Any] = tomllib.loads((folder / "pyproject.toml").read_text())["project"]
    return stated


def assert_says(expected: str, output: str) -> None:
    """The lines stand in the output in this order; three dots at the end of one stand for the rest of it."""
    lines = iter(output.splitlines())
    for wanted in expected.splitlines():
        words = wanted.strip().removesuffix("...").rstrip()
        if not any(words in line for line in lines):
            pytest.fail(f"{wanted!r} does not follow in:\n{output}")


@pytest.mark.parametrize("document", DOCUMENTS, ids=title)
def test_every_block_is_of_a_known_kind(document: Path) -> None:
    for kind, name, content in blocks(document):
        assert kind in KINDS, f"a block of kind {kind!r}: {content[:60]!r}"
        assert bool(name) == (kind in FILES), content[:60]


def test_every_line_of_code_stands_in_a_block() -> None:
    """One that is only indented would not be run."""
    for document in DOCUMENTS:
        outside = BLOCK.sub("", document.read_text("utf-8"))
        assert not re.search(r"^\n(?: {4}|\t)\S", outside, re.MULTILINE), document


@pytest.mark.parametrize("document", DOCUMENTS, ids=title)
def test_windows_gets_the_same_commands(document: Path) -> None:
    found = blocks(document)
    for before, block in pairwise(found):
        if block.kind == "powershell":
            assert before.kind == "sh"
            assert block.content.splitlines() == [_for_windows(line) for line in commands(before.content)]
    assert not found or found[0].kind != "powershell"


def _for_windows(line: str) -> str:
    line = line.replace(". .venv/bin/activate", r".venv\Scripts\Activate.ps1")
    return line.replace("python3 ", "py ").replace(".venv/bin/", ".venv\\Scripts\\")


@pytest.mark.parametrize("document", DOCUMENTS, ids=title)
def test_a_picture_shows_modules_that_are_there(document: Path) -> None:
    for kind, _, content in blocks(document):
        for path in re.findall(r"[a-z_]+/[a-z_/]*", content) if kind == "picture" else ():
            homes = [ROOT / path, ROOT / "checker" / path.rstrip("/"), (ROOT / "checker" / path).with_suffix(".py")]
            assert any(home.exists() for home in homes) or (ROOT / f"{path}.yaml").exists(), path


def test_the_readme_is_short_and_shows_how_the_example_begins() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    assert len(readme.splitlines()) < 200
    (shown,) = (block.content for block in blocks(ROOT / "README.md") if block.content.startswith("Training engine 7"))
    golden = (ROOT / "tests" / "golden" / "demo.txt").read_text("utf-8")
    assert golden.startswith(shown.rsplit("...", 1)[0])


def test_the_two_commands_stand_where_ci_looks_for_them() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    for end in ("checker demo", "python -m pytest"):
        (line,) = re.findall(rf"^python3 -m venv .*{end}$", readme, re.MULTILINE)
        assert line == re.findall(rf"^.*{end}$", readme, re.MULTILINE)[0]


def test_the_guide_names_every_function_and_no_other() -> None:
    table = GUIDE.split("| what for | functions |")[1].split("\n\n")[0]
    assert set(re.findall(r"`([a-z_0-9]+)`", table)) == set(FUNCTIONS)


def test_the_guide_names_every_kind_of_basis() -> None:
    assert all(f"`{kind}`" in GUIDE for kind in BASIS_KINDS)


GUIDE = (ROOT / "rules" / "README.md").read_text("utf-8")
