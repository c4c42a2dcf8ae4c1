"""Which tests are slow: they judge, vet or print whole packs, try many examples, or start processes and browsers."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from pathlib import Path

import examples  # noqa: F401 - its profile of hypothesis is loaded
import pytest
import shared_packs

HERE = Path(__file__).parent
SLOW = {
    "engines",
    "field_cases",
    "outside",
    "test_change",
    "test_check_table",
    "test_choices",
    "test_cluster",
    "test_comparison",
    "test_concessions",
    "test_conformity",
    "test_contents",
    "test_cost",
    "test_decision_rule",
    "test_demo",
    "test_document",
    "test_document_json",
    "test_document_yaml",
    "test_doubt",
    "test_doubt_cost",
    "test_drafts",
    "test_evaluate",
    "test_hand_over",
    "test_honest_records",
    "test_layers",
    "test_left_out",
    "test_limits",
    "test_makers_table",
    "test_measure",
    "test_modules",
    "test_name_schema",
    "test_never_within",
    "test_new_pack",
    "test_new_record",
    "test_no_identifiers",
    "test_output",
    "test_plugins",
    "test_policy",
    "test_proof",
    "test_provenance",
    "test_readings_that_disagree",
    "test_record_edit",
    "test_released_packs",
    "test_report_in_browser",
    "test_room",
    "test_rule_table",
    "test_server",
    "test_session",
    "test_sheet_csv",
    "test_sheet_page",
    "test_sheet_property",
    "test_sheet_round_trip",
    "test_sheet_xlsx",
    "test_side_by_side",
    "test_soundness",
    "test_source_distribution",
    "test_station_counts",
    "test_taken_directly",
    "test_terminal",
    "test_trade_facts",
    "test_uses",
    "test_vetting",
    "test_whole_text",
    "test_wrong_packs",
}
"""Modules and folders of tests."""


def pytest_configure() -> None:
    shared_packs.share()


@pytest.fixture
def nothing_shared() -> Iterator[None]:
    """For tests of what reading and compiling itself does, the first time."""
    with shared_packs.nothing_shared():
        yield


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in (item for item in items if item.path.is_relative_to(HERE)):
        if {item.path.parent.name, item.path.stem} & SLOW:
            item.add_marker(pytest.mark.slow)


def pytest_collection_finish() -> None:
    """What is imported and collected stays to the end: to look through it again and again cost a fifth of the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(200_000, 20, 20)
