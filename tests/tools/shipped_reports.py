"""The reports on the record that comes with the checker and on those of a competent shop, judged once in a run."""

from __future__ import annotations

from functools import cache

from places import HONEST

from checker import Report, read_record, rulebook_for
from checker.records.demo import demo_record

RECORDS = ("demo", *sorted(path.stem for path in HONEST.glob("*.yaml") if path.stem != "answers"))


@cache
def report_on(name: str) -> Report:
    record = demo_record() if name == "demo" else read_record(HONEST / f"{name}.yaml")
    return rulebook_for(record).check(record)
