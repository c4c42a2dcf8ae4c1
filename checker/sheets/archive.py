"""Looking into a workbook's archive before anything is unpacked or parsed: how big, how deep, what is in it.

The library that reads workbooks checks none of this. The limits are generous for a sheet of a few thousand rows.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import PurePosixPath
from xml.etree.ElementTree import ParseError

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import fromstring, iterparse

from checker.errors import InputError, Place, Problem
from checker.sheets.grid import MOST_COLUMNS, MOST_ROWS, column_letters

MOST_BYTES = 5_000_000
_MOST_UNPACKED = 16_000_000
_MOST_PER_MEMBER = 8_000_000
_MOST_MEMBERS = 200
_MOST_RATIO = 100
_SMALL = 1_000_000  # below this a high ratio harms nobody

_PACKED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_XML = (".xml", ".rels")
_FORBIDDEN = (b"<!DOCTYPE", b"<!ENTITY")
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_LINK = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_ADDRESS = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})")
_COLUMNS = frozenset(map(column_letters, range(1, MOST_COLUMNS + 1)))
_NUMBER = re.compile(r"-?(?:[0-9]{1,20}(?:\.[0-9]{0,20})?|\.[0-9]{1,20})(?:[eE][+-]?[0-9]{1,2})?")


def check_archive(raw: bytes, source: str) -> None:
    """Raise InputError unless the bytes are a workbook of a bearable size with plain XML and sound cells."""
    if len(raw) > MOST_BYTES:
        raise _refusal(f"more than {MOST_BYTES} bytes", source)
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            _check_sizes(archive, source)
            parts = {name: _part(archive, name, source) for name in archive.namelist() if name.endswith(_XML)}
            problems = [problem for name, title in _tabs(parts) for problem in _cells(parts[name], title, source)]
    except (zipfile.BadZipFile, zlib.error, RuntimeError, EOFError, OSError, ValueError, KeyError) as error:
        raise _refusal("not a workbook, or damaged", source, str(error)) from None
    except (ParseError, DefusedXmlException) as error:
        raise _refusal("the XML inside cannot be read", source, str(error)) from None
    if problems:
        raise InputError(problems)


def _check_sizes(archive: zipfile.ZipFile, source: str) -> None:
    """By the archive's own directory; nothing is unpacked beyond the sizes stated there."""
    members = archive.infolist()
    if len(members) > _MOST_MEMBERS or len({member.filename for member in members}) < len(members):
        raise _refusal("too many files inside, or one of them twice", source)
    if any(member.compress_type not in _PACKED for member in members):
        raise _refusal("not a workbook, or damaged", source, "packed as no workbook is")
    unpacked = sum(member.file_size for member in members)
    swollen = any(
        member.file_size > _MOST_PER_MEMBER
        or (member.file_size > _SMALL and member.file_size > _MOST_RATIO * max(1, member.compress_size))
        for member in members
    )
    if unpacked > _MOST_UNPACKED or swollen:
        raise _refusal("unpacks to far more than a sheet needs", source)


def _part(archive: zipfile.ZipFile, name: str, source: str) -> bytes:
    data = archive.read(name)
    if b"\0" in data[:100] or data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _refusal(f"{name} inside is not UTF-8", source)
    if any(word in data for word in _FORBIDDEN):
        raise _refusal(f"{name} inside defines entities", source)
    return data


def _tabs(parts: dict[str, bytes]) -> Iterator[tuple[str, str]]:
    """Each tab's file inside, with its title."""
    targets = {link.get("Id"): link.get("Target", "") for link in fromstring(parts["xl/_rels/workbook.xml.rels"])}
    for sheet in fromstring(parts["xl/workbook.xml"]).iter(f"{_MAIN}sheet"):
        target = targets.get(sheet.get(_LINK), "")
        name = str(PurePosixPath("xl") / target).removeprefix("/")
        if name not in parts:
            raise KeyError(f"no such tab inside: {target}")
        yield name, str(sheet.get("name"))


def _cells(data: bytes, title: str, source: str) -> Iterator[Problem]:
    """What is wrong with the cells as they are stored: the library would choose one of two, or repair a number."""
    seen: set[str] = set()
    for _, element in iterparse(io.BytesIO(data), events=("end",)):
        if element.tag != f"{_MAIN}c":
            continue
        address = element.get("r", "")
        place = Place(source, cell=f"{title}!{address}")
        match = _ADDRESS.fullmatch(address)
        if match is None:
            yield Problem("a cell without an address", place, "save the workbook anew")
            return
        if int(match[2]) > MOST_ROWS or match[1] not in _COLUMNS:
            yield Problem(f"beyond {MOST_ROWS} rows and {MOST_COLUMNS} columns", place)
            return
        if address in seen:
            yield Problem("the cell is stored twice", place, "save the workbook anew")
        seen.add(address)
        value = element.findtext(f"{_MAIN}v")
        if element.get("t", "n") == "n" and value and not _NUMBER.fullmatch(value):
            yield Problem(f"{value[:40]!r} is stored as a number and is none", place)
        element.clear()


def _refusal(message: str, source: str, detail: str = "") -> InputError:
    return InputError(Problem(message, Place(source), detail[:200]))
