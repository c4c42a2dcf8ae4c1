"""Why a rule was not asked for, and who looked where nothing was measured, in words."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from checker.expressions.truth import FALSE
from checker.findings.context import Context, place_name
from checker.findings.standpoint import Standpoint
from checker.judging.inspection import TOLD, about, lapsed, seen_against
from checker.judging.judge import Verdict
from checker.records.by_eye import EyeInspection


def why_not_asked(here: Standpoint) -> str:
    """Which part of the plan does not ask for the rule at this station."""
    stated, context = here.rule.rule, here.context
    if unplanned := context.plan.why_not(stated):
        return unplanned
    if stated.inspection.occasion == f"known({stated.judges})":
        return "judged where it is measured"
    if here.rule.occasion is not None and here.truth(here.rule.occasion) == FALSE:
        return f"asked only where {context.said(stated.inspection.occasion)}"
    judged_stations = np.flatnonzero(np.isin(here.judged.codes[0], TOLD)).tolist()
    place = place_name(here.rule.stations, judged_stations[0], context) if judged_stations else ""
    return f"{stated.inspection.sample} is enough{f': {place} was looked at' if len(judged_stations) == 1 else ''}"


def what_was_seen(here: Standpoint) -> str:
    """Who looked at this station, and what they saw, where that is the verdict."""
    counting = [inspection for inspection in _about(here) if not _lapsed(inspection, here)]
    return f"{counting[-1]}: {here.rule.rule.inspection.by_eye}" if counting else ""


def lapsed_at(here: Standpoint) -> Iterator[str]:
    """The inspections by eye of this station that do not count, and why."""
    for inspection in _about(here):
        if reason := _lapsed(inspection, here):
            yield f"{inspection}, which does not count: {reason}"


def by_eye_hint(here: Standpoint) -> str:
    """What looking may stand in for measuring, where nothing is measured."""
    by_eye = here.rule.rule.inspection.by_eye
    is_open = by_eye and here.verdict is Verdict.NOT_MEASURED
    return f"or look: {by_eye}, and write it into the record as seen" if is_open else ""


def contradicted(here: Standpoint) -> str:
    """Who saw at this station that it is not clear, where it was measured all the same; empty where nobody did."""
    context = here.context
    return str(seen_against(_about(here), here.station, here.inputs, context.block, context.past) or "")


def seen_words(inspection: EyeInspection, context: Context) -> str:
    """One inspection by eye, such as "Keyway, shaft 3: seen clear by A on 2026-05-03"."""
    where = (
        "" if inspection.station is None else f", {place_name(inspection.rule.stations, inspection.station, context)}"
    )
    return f"{inspection.rule.rule.title}{where}: {inspection}"


def _about(here: Standpoint) -> Iterator[EyeInspection]:
    seen = about(here.rule.name, here.context.seen) if here.context.seen else ()
    return (inspection for inspection in seen if inspection.station in (None, here.station))


def _lapsed(inspection: EyeInspection, here: Standpoint) -> str:
    return lapsed(inspection, here.station, here.inputs, here.context.block, here.context.past)
