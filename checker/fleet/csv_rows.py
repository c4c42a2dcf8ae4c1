"""The rows of a CSV file in bytes: a line end within quotes ends none (RFC 4180).

Quotes hold a cell together only where they stand about the whole of it: one behind a number is an inch mark.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import IO, NamedTuple

SEPARATORS = ",;\t"
_MARK = b"\xef\xbb\xbf"  # of UTF-8, as some programs begin a file
_TO_ITS_END = re.compile(rb'(?:[^"]|"")*+"')


class _Quotes(NamedTuple):
    """Where a cell in quotes begins and ends, and where one begins."""

    whole: re.Pattern[bytes]
    opening: re.Pattern[bytes]


def separator_of(heading: bytes) -> str:
    """What separates the cells of a file with this heading."""
    return max(SEPARATORS, key=heading.decode(errors="replace").count)


def rows_in(file: IO[bytes], separator: str) -> Iterator[bytes]:
    """The rows of a file from where it stands, as they are written."""
    row: list[bytes] = []
    is_open = False
    for line in file:
        if is_open or b'"' in line:
            is_open = _ends_in_quotes(line.removeprefix(_MARK), _quotes(separator), is_open)
        row.append(line)
        if not is_open:
            yield b"".join(row)
            row = []
    if row:
        yield b"".join(row)


@cache
def _quotes(separator: str) -> _Quotes:
    begins = rb'(?:\A|(?<=%b))"' % re.escape(separator.encode())
    return _Quotes(re.compile(begins + _TO_ITS_END.pattern), re.compile(begins))


def _ends_in_quotes(line: bytes, quotes: _Quotes, begins_in_quotes: bool) -> bool:
    if begins_in_quotes:
        closed = _TO_ITS_END.match(line)
        if closed is None:
            return True
        line = b"." + line[closed.end() :]  # on in a cell that has begun
    return quotes.opening.search(quotes.whole.sub(b".", line)) is not None
