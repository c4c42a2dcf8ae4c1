"""Every document that a rule or a check rests on is one entry of rules/bibliography.yaml, and every entry is cited.

Which kinds of basis name a document, and what a citation looks like, is said in rules/README.md.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from places import ROOT

from checker.documents.document import read_document

BIBLIOGRAPHY: dict[str, dict[str, Any]] = read_document(ROOT / "rules" / "bibliography.yaml").data
PACKS = sorted(path.parent for root in ("rules", "plugins") for path in (ROOT / root).rglob("pack.yaml"))
FIGURES = [*sorted((ROOT / "tests" / "outside" / "data").glob("*.csv")), ROOT / "tests/engines/engines.csv"]

DOCUMENTED = {"standard", "manual", "handbook", "trade press"}
"""Kinds of basis that are nothing without the document they name; what is computed may name one."""
UNDOCUMENTED = {"common practice", "shop policy", "from memory", "physics"}
WITHOUT_DOCUMENT = ("by definition", "common practice")
"""How the source of a figure begins that rests on no document."""
NONE = "none"
AFTER_A_NAME = (", ", " (", ": ", " for ", " of ")
MAY_BE_SAID = {"title", "author", "number", "year", "edition", "pages", "known"}
SITE_OR_SHOP = re.compile(
    r"www|https?:|\.(?:com|org|net|info)\b|\b(?:forum|blog|web|wiki)|page of|trade (?:text|page)|\b(?:Inc|Ltd)\b|[®™]",
    re.IGNORECASE,
)


class Basis(NamedTuple):
    """One basis as a pack writes it: its file, its kind, and all that it says."""

    file: str
    kind: str
    read: str
    from_memory: str
    note: str

    @property
    def citations(self) -> list[str]:
        return citations(self.read) + citations(self.from_memory)


def citations(text: str) -> list[str]:
    """What a text cites, one by one."""
    return text.split("; ") if text else []


def entry_of(citation: str) -> str:
    """The entry whose name a citation begins with, the longest where several fit; nothing where none does."""
    return max((name for name in BIBLIOGRAPHY if begins_with(citation, name)), key=len, default="")


def begins_with(citation: str, name: str) -> bool:
    return citation == name or citation.startswith(tuple(name + after for after in AFTER_A_NAME))


@cache
def bases() -> tuple[Basis, ...]:
    """Every basis of every pack of the project, once for each kind of station that it is written for."""
    files = [path for pack in PACKS for path in sorted(pack.glob("*.yaml"))]
    return tuple(basis for path in files for basis in _bases(path, read_document(path).data))


def _bases(path: Path, node: Any) -> Iterator[Basis]:
    for key, value in node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ():
        if key == "basis":
            for said in _written_out({"kind": value} if isinstance(value, str) else value):
                yield Basis(str(path.relative_to(ROOT)), **said)
        else:
            yield from _bases(path, value)


def _written_out(basis: dict[str, Any]) -> Iterator[dict[str, str]]:
    """A basis for each of the kinds for which it says something of its own; `none` leaves a key out."""
    each_of = {kind: None for value in basis.values() if isinstance(value, dict) for kind in value}
    for kind in each_of or {"": None}:
        said = {key: str(value[kind] if isinstance(value, dict) else value) for key, value in basis.items()}
        yield {key: said[key] if said.get(key, NONE) != NONE else "" for key in ("kind", "read", "from_memory", "note")}


@cache
def sources() -> tuple[tuple[str, str], ...]:
    """The file and the source of every figure that the tests hold the packs to."""
    return tuple(
        (path.name, row["source"]) for path in FIGURES for row in csv.DictReader(path.read_text().splitlines())
    )


def test_every_pack_and_table_is_looked_at() -> None:
    packs = {pack.name for pack in PACKS}
    assert {"alcohol", "boosted", "four_stroke", "nitrous", "army_diesel", "petrol_four", "two_stroke"} <= packs
    assert len(bases()) > 500
    assert len({file for file, _ in sources()}) == len(FIGURES) > 10


def test_a_basis_that_needs_a_document_names_one() -> None:
    assert [basis for basis in bases() if basis.kind in DOCUMENTED and not basis.citations] == []
    assert [basis for basis in bases() if basis.kind in UNDOCUMENTED and basis.citations] == []
    assert {basis.kind for basis in bases()} <= {*DOCUMENTED, *UNDOCUMENTED, "computed"}


def test_every_citation_of_a_basis_is_an_entry() -> None:
    unknown = [(basis.file, cited) for basis in bases() for cited in basis.citations if not entry_of(cited)]
    assert unknown == []


def test_what_is_cited_as_read_was_read() -> None:
    remembered = {name for name, entry in BIBLIOGRAPHY.items() if entry["known"] == "from memory"}
    read = [(basis.file, cited) for basis in bases() for cited in citations(basis.read)]
    assert [found for found in read if entry_of(found[1]) in remembered] == []


def test_every_source_of_a_figure_is_an_entry() -> None:
    documented = [(file, source) for file, source in sources() if not source.startswith(WITHOUT_DOCUMENT)]
    unknown = [(file, cited) for file, source in documented for cited in citations(source) if not entry_of(cited)]
    assert unknown == []


def test_every_entry_is_cited() -> None:
    cited = [citation for basis in bases() for citation in basis.citations]
    cited += [citation for _, source in sources() for citation in citations(source)]
    assert set(BIBLIOGRAPHY) - {entry_of(citation) for citation in cited} == set()


@pytest.mark.parametrize("name", BIBLIOGRAPHY)
def test_an_entry_says_what_it_is_and_how_it_is_known(name: str) -> None:
    entry = BIBLIOGRAPHY[name]
    assert entry["title"]
    assert entry["known"] in ("read", "from memory")
    assert set(entry) <= MAY_BE_SAID


def test_no_site_shop_or_vendor_is_named() -> None:
    told = [text for basis in bases() for text in (basis.read, basis.from_memory, basis.note)]
    told += [source for _, source in sources()]
    told += [f"{name} {entry}" for name, entry in BIBLIOGRAPHY.items()]
    assert [text for text in told if SITE_OR_SHOP.search(text)] == []


@pytest.mark.parametrize(
    ("citation", "name"),
    [
        ("Shigley", "Shigley"),
        ("Shigley, example 12-1", "Shigley"),
        ("TM 9-2815-237-34, Table 2-2 (0.010 to 0.020 in)", "TM 9-2815-237-34"),
        ("ISO 6789: 4 % for the wrench", "ISO 6789"),
        ("ISO 1585, clause 6", "ISO 1585"),
        ("Shigleys", ""),
        ("US Army TM 9-2815-237-34", ""),
        ("TM 9-2815-237-34 Table 2-2", ""),
        ("trade text", ""),
    ],
)
def test_a_citation_begins_with_the_name_of_its_entry(citation: str, name: str) -> None:
    assert entry_of(citation) == name
