"""The proposal as JSON, for programs."""

from __future__ import annotations

import json
import math
from typing import Any

from checker import Finding

from checker_select_fit.fit import Proposal
from checker_select_fit.rows import as_text, cautions, not_mended, rows, to_measure, unmeasured

FORM = 1
"""Version of this form."""


def write_json(proposal: Proposal) -> str:
    """The proposal as JSON text; values in SI, stations counted from 1."""
    return json.dumps(_data(proposal), indent=1, ensure_ascii=False) + "\n"


def _data(proposal: Proposal) -> dict[str, Any]:
    report = proposal.before
    return {
        "select_fit": FORM,
        "assembly": report.record.assembly,
        "record": {"source": report.record.source, "sha256": report.record.digest},
        "packs": [{"pack": pack.name, "version": pack.version, "sha256": pack.digest} for pack in report.packs],
        "application": report.application,
        "kinds": [kind.name for kind in proposal.kinds],
        "proposed": proposal.expected is not None,
        "reasons": list(proposal.reasons),
        "moves": [
            {
                "kind": move.kind.name,
                "stations": move.kind.per,
                "station": move.station + 1 if move.kind.per else None,
                "slot": move.slot,
                "old": move.old or None,
                "new": move.new,
                "in_doubt": move.doubtful or None,
            }
            for move in proposal.moves
        ],
        "fits": [
            {
                "rule": row.rule,
                "title": row.title,
                "station": row.station + 1,
                "where": row.where or None,
                "before": _finding(row.before),
                "after": _finding(row.after),
            }
            for row in rows(proposal)
        ],
        "to_write": [
            {"characteristic": name, "station": station + 1, "written": list(as_text(notes)) or None}
            for (name, station), notes in proposal.changed.items()
        ],
        "not_mended": list(not_mended(proposal)),
        "not_judged": list(unmeasured(proposal)),
        "to_measure": list(to_measure(proposal)),
        "passed_over": list(proposal.passed_over),
        "cautions": list(cautions(proposal)),
    }


def _finding(finding: Finding | None) -> dict[str, Any] | None:
    if finding is None:
        return None
    return {
        "verdict": str(finding.verdict),
        "value": finding.value if math.isfinite(finding.value) else None,
        "shown": finding.shown_value or None,
        "margin": finding.margin if math.isfinite(finding.margin) else None,
    }
