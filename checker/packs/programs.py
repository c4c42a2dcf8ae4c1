"""What the expressions of a released pack compile to, in lines beside it: read many times as fast as it is compiled.

`python -m checker.generated_files` writes it. Its first line is a digest of all that it follows from: the code that
compiles expressions, the files of the pack and of those it builds on, and its own other lines. Where anything of that
differs, it counts for nothing. Anybody can work out such a digest: it counts only where a plugin brought the pack,
which could run code of its own.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import TypeAlias

from checker.documents.document import digest_of, read_bytes
from checker.errors import CheckerError
from checker.expressions.expression import Expression
from checker.expressions.plain_form import Plain, plain_form
from checker.frozen import FrozenMapping
from checker.packs.pack import Pack, foundations

PROGRAMS = "programs.tsv"
_CODE = ("documents/*.py", "expressions/*.py", "graph.py", "notation/*.py", "packs/*.py", "units/*.py")
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
        for of, text, plain in _beside(pack, by_name):
            found.setdefault(of, {})[text] = plain
    return FrozenMapping({of: FrozenMapping(own) for of, own in found.items()})


def programs_text(pack: Pack, packs: Mapping[str, Pack], expressions: Mapping[tuple[str, str], Expression]) -> str:
    """The text of the file for a pack, one of some by name, with expressions by scope and text; one a line."""
    lines = [
        f"{of}\t{text}\t{plain_form(found)}\n"
        for (of, text), found in sorted(expressions.items(), key=lambda item: item[0])
        if found.text == text and not found.added and f"{of}{text}".isprintable()
    ]
    body = "".join(lines)
    return f"{_head(body.encode(), pack, packs)}\n{body}"


def _beside(pack: Pack, packs: Mapping[str, Pack]) -> Iterator[tuple[str, str, Plain]]:
    try:
        raw = read_bytes(pack.folder / PROGRAMS)
    except CheckerError:
        return
    head, _, body = raw.partition(b"\n")
    if head == _head(body, pack, packs).encode():
        for line in body.decode().splitlines():
            of, text, plain = line.split("\t")
            yield of, text, plain


def _head(body: bytes, pack: Pack, packs: Mapping[str, Pack]) -> str:
    below = sorted(foundations(pack, packs))
    digests = [_code_digest(), pack.digest, *(packs[name].digest for name in below), digest_of(body)]
    return digest_of(" ".join(digests).encode())


@cache
def _code_digest() -> str:
    return digest_of(b"".join(path.read_bytes() for path in _code()))


def _code() -> Iterator[Path]:
    """Its files; none where only what Python makes of them is installed, and then nothing is known."""
    for pattern in _CODE:
        yield from sorted(Path(__file__).parents[1].glob(pattern))
