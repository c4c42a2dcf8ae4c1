"""The record that comes with the checker."""

from __future__ import annotations

from importlib.resources import files

from checker.documents.document import parse_yaml
from checker.records.record import Record, record_in

NAME = "demo_record.yaml"


def demo_record() -> Record:
    """An invented build with a handful of faults a bench might produce."""
    raw = files("checker_rules").joinpath(NAME).read_bytes()
    return record_in(parse_yaml(raw, NAME))
