"""The terms on which a record is judged, as every way of checking one takes them."""

from __future__ import annotations

from datetime import date
from typing import TypedDict

from checker.judging.conformity import Decision


class Terms(TypedDict, total=False):
    """How a record is judged; what is not said is the record's own."""

    before: str | None
    """The milestone that the build is about to pass; rules of later ones are not yet due."""
    decision: Decision | None
    """How a reading near its limit is decided."""
    on: date | None
    """The day on which it is judged; today where none is named."""
    inspection: str | None
    """The inspection level; else that of the application."""
