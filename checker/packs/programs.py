"""What the expressions of a released pack compile to, as JSON beside it: read many times as fast as it is compiled.

`python -m checker.generated_files` writes it. Its first line is a digest of all that it follows from: the code that
compiles expressions, the files of the pack and of those it builds on, and its own other lines. Where anything of that
differs, it counts for nothing. Anybody can work out such a digest: it counts only where a plugin brought the pack,
which could run code of its own.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import TypeAlias

from checker.documents.document import digest_of, read_bytes
from checker.errors import CheckerError
from checker.expressions.expression import Expression
from checker.expressions.plain_form import Plain, plain_form
from checker.packs.pack import Pack, foundations

PROGRAMS = "programs.json"
_CODE = ("documents", "expressions", "graph.py", "notation", "packs", "units")
"""What makes expressions of the text of a pack."""


Programs: TypeAlias = Mapping[str, Mapping[str, Plain]]
"""What is known of expressions: by the scope that their texts are read in, then by text."""


def known_programs(packs: Sequence[Pack], installed: Collection[Path]) -> Programs:
    """What is known of the expressions of packs, of those in the folders that plugins bring.

    A pack adds names to those it builds on and changes none, so an expression of the one is the same beside the other.
    """
    by_name = {pack.name: pack for pack in packs}
    found: dict[str, dict[str, Plain]] = {}
    for pack in (pack for pack in packs if pack.folder in installed):
        for of, programs in _beside(pack, by_name).items():
            found.setdefault(of, {}).update(programs)
    return found


def programs_text(pack: Pack, packs: Mapping[str, Pack], expressions: Mapping[tuple[str, str], Expression]) -> str:
    """The text of the file for a pack, one of some by name, with expressions by scope and text; one a line."""
    by_scope: dict[str, list[str]] = {}
    for (of, text), found in sorted(expressions.items(), key=lambda item: item[0]):
        if found.text == text and not found.added:
            plain = json.dumps(plain_form(found), separators=(",", ":"))
            by_scope.setdefault(of, []).append(f"{json.dumps(text)}: {plain}")
    scopes = (f"{json.dumps(of)}: {{\n" + ",\n".join(lines) + "\n}" for of, lines in by_scope.items())
    body = '"programs": {\n' + ",\n".join(scopes) + "\n}}\n"
    return f"{_head(body.encode(), pack, packs)}\n{body}"


def _beside(pack: Pack, packs: Mapping[str, Pack]) -> Programs:
    try:
        raw = read_bytes(pack.folder / PROGRAMS)
    except CheckerError:
        return {}
    head, _, body = raw.partition(b"\n")
    if head != _head(body, pack, packs).encode():
        return {}
    programs: Programs = json.loads(raw)["programs"]
    return programs


def _head(body: bytes, pack: Pack, packs: Mapping[str, Pack]) -> str:
    below = sorted(foundations(pack, packs))
    digests = [_code_digest(), pack.digest, *(packs[name].digest for name in below), digest_of(body)]
    return f'{{"digest": "{digest_of(" ".join(digests).encode())}",'


@cache
def _code_digest() -> str:
    return digest_of(b"".join(path.read_bytes() for path in _code()))


def _code() -> Iterator[Path]:
    root = Path(__file__).parents[1]
    for name in _CODE:
        yield from (root / name,) if name.endswith(".py") else sorted((root / name).glob("*.py"))
