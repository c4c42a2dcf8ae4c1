"""What doubt costs: judging with the uncertainty of every reading, as a ratio to judging without, in one run."""

from __future__ import annotations

import json
from collections.abc import Callable
from time import perf_counter
from typing import Any

from judging import rulebook

from checker import Record
from checker.documents.document import parse_json
from checker.records.demo import demo_record
from checker.records.record import record_in

MOST = 12.0
ROUNDS = 4


def without_instruments(record: Record) -> Record:
    """The same record, as if nobody knew how far its instruments can be trusted."""
    data = {key: value for key, value in record.document.data.items() if key != "instruments"}
    return record_in(parse_json(json.dumps(_bare(data)).encode(), "record.json"))


def _bare(given: Any) -> Any:
    if isinstance(given, dict):
        return {key: _bare(value) for key, value in given.items() if key != "with"}
    return [_bare(value) for value in given] if isinstance(given, list) else given


def least_time(work: Callable[[], object]) -> float:
    """The least of several: what else the machine does only ever adds to it."""
    times = []
    for _ in range(ROUNDS):
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    return min(times)


def test_judging_with_uncertainty_costs_at_most_twelve_times_as_much() -> None:
    book, record = rulebook("four-stroke"), demo_record()
    bare = without_instruments(record)
    assert any(one.doubt is not None for one in book.check(record).judged)
    assert all(one.doubt is None for one in book.check(bare).judged)
    ratio = least_time(lambda: book.check(record)) / least_time(lambda: book.check(bare))
    assert ratio < MOST, f"{ratio:.1f} times"
