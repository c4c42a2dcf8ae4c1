"""Stations that a record gives names: reports use them, and what is no name for each is refused."""

from __future__ import annotations

import pytest
from judging import rulebook

from checker import InputError, record_from_text, write_text

RECORD = """
record: 1
assembly: Test engine
application: street
rule_packs: {{four-stroke: ">=1"}}
units: {{torque: lb-ft, length: in}}
stations: {{fastener: {{count: 2, names: {names}}}}}
facts: {{fastener_lubricant: oil, torque_lubricant: {{1: dry}}}}
readings: {{fastener_torque: {{1: 70, 2: 65}}}}
"""


def report(names: str) -> str:
    return write_text(rulebook("four-stroke").check(record_from_text(RECORD.format(names=names))), whole=True)


def test_reports_call_stations_as_the_record_does() -> None:
    told = " ".join(report("[main cap bolts, head bolts]").split())
    assert "Torque meant for the lubricant in use, main cap bolts" in told
    assert "head bolts" in told
    assert "fastener 1" not in told


@pytest.mark.parametrize("names", ["[main cap bolts]", "[head bolts, head bolts]", "[a, b, c]"])
def test_each_station_has_a_name_of_its_own(names: str) -> None:
    with pytest.raises(InputError, match="'names' must give each of the 2 a name of its own"):
        report(names)
