"""A released pack is read from what its YAML files say as JSON; that must change nothing but the time it takes."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

import checker.packs.files
from checker.documents.document import Document, parse_yaml
from checker.packs.contents import CONTENTS
from checker.packs.files import parsed_files, read_pack_files
from checker.packs.released import Standing
from checker.plugins import gather

FOUR_STROKE = gather().rule_packs["four-stroke"]
SHIPPED = sorted(folder for folder in gather().rule_packs.values() if (folder / CONTENTS).exists())


def everything(document: Document) -> Iterator[tuple[object, ...]]:
    """Each value of a document, as it is and as it was written, with its place."""

    def below(data: Any, *path: str | int) -> Iterator[tuple[object, ...]]:
        yield path, document.place(*path)
        if isinstance(data, Mapping):
            for key, value in data.items():
                yield from below(value, *path, key)
        elif isinstance(data, list):
            for number, value in enumerate(data):
                yield from below(value, *path, number)
        else:
            yield path, data, type(data), document.written(*path)

    return below(document.data)


def data_of(documents: Iterable[Document]) -> list[Any]:
    return [document.data for document in documents]


@pytest.fixture
def yaml_read(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The YAML files that are read while a test runs."""
    read: list[str] = []

    def noted(raw: bytes, source: str) -> Document:
        read.append(source)
        return parse_yaml(raw, source)

    monkeypatch.setattr(checker.packs.files, "parse_yaml", noted)
    return read


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A released pack in another folder."""
    return Path(shutil.copytree(FOUR_STROKE, tmp_path / "another"))


def test_the_packs_that_come_with_the_checker_have_their_contents_beside_them() -> None:
    assert {folder.name for folder in SHIPPED} == {"alcohol", "boosted", "four_stroke", "nitrous"}


@pytest.mark.parametrize("folder", SHIPPED, ids=lambda folder: str(folder.name))
def test_the_contents_say_what_the_yaml_says(folder: Path, yaml_read: list[str]) -> None:
    known = read_pack_files(folder).documents
    assert not yaml_read
    parsed = tuple(parsed_files(folder).values())
    assert len(known) == len(parsed)
    for ours, theirs in zip(known, parsed, strict=True):
        assert list(everything(ours)) == list(everything(theirs))


def test_a_copy_of_a_released_pack_is_released(copy: Path, yaml_read: list[str]) -> None:
    found = read_pack_files(copy)
    assert found.standing is Standing.RELEASED
    assert found.head.place("version").file == "another/pack.yaml"
    assert not yaml_read


def test_contents_that_were_altered_count_for_nothing(copy: Path, yaml_read: list[str]) -> None:
    contents = copy / CONTENTS
    text = contents.read_text().replace('"at_least": 0.0005', '"at_least": 0.0001')
    assert text != contents.read_text()
    contents.write_text(text)
    found = read_pack_files(copy)
    assert found.standing is Standing.RELEASED
    assert len(yaml_read) == len(found.documents)
    assert data_of(found.documents) == data_of(parsed_files(FOUR_STROKE).values())


def test_nor_do_they_where_the_yaml_was_altered(copy: Path) -> None:
    rings = copy / "rings.yaml"
    altered = rings.read_text().replace("at_least: 0.0", "at_least: 0.1")
    assert altered != rings.read_text()
    rings.write_text(altered)
    found = read_pack_files(copy)
    assert found.standing is Standing.ALTERED
    assert (
        data_of(found.documents) == data_of(parsed_files(copy).values()) != data_of(parsed_files(FOUR_STROKE).values())
    )


@pytest.mark.parametrize("instead", [None, Path.mkdir, lambda path: path.write_text("{}")])
def test_a_released_pack_without_them_is_read_from_its_yaml(
    copy: Path, instead: Callable[[Path], object] | None
) -> None:
    (copy / CONTENTS).unlink()
    if instead:
        instead(copy / CONTENTS)
    assert data_of(read_pack_files(copy).documents) == data_of(parsed_files(FOUR_STROKE).values())
