"""Where what was measured and what can be computed disagree: a rule is judged both ways.

What breaks its must on the same side either way is broken, whichever of the two is wrong. Nothing else is made of it.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from checker.judging.choices import Open, are_low, judged_with, merged, on_one_side
from checker.judging.conformity import Decision
from checker.judging.evidence import Evidence
from checker.judging.judge import Judged, Verdict

MOST_DISPUTED = 3
"""With more characteristics in dispute a rule stays not measured."""


def judged_either_way(still_open: Open, evidence: Evidence, decision: Decision) -> Judged:
    """The same verdicts, and what is outside both as measured and as computed, in the numbers that miss by less."""
    inputs = still_open.asked.inputs
    names = sorted(evidence.disputed & inputs.names)
    if not names or len(names) > MOST_DISPUTED or not (inputs.across | inputs.viewed).isdisjoint(names):
        return still_open.judged
    ways = product((True, False), repeat=len(names))
    taken = (
        evidence.taken({name for name, is_measured in zip(names, way, strict=True) if is_measured}) for way in ways
    )
    each = [judged_with(columns, block, still_open, decision) for columns, block in taken]
    codes = np.concatenate([judged.codes for judged in each])
    is_open = still_open.judged.codes[0] == Verdict.NOT_MEASURED
    agreed = is_open & (codes == Verdict.OUTSIDE).all(axis=0) & on_one_side(are_low(each)[:, 0], codes)
    if not agreed.any():
        return still_open.judged
    return merged(still_open.judged, each, agreed[np.newaxis], is_mildest=True)._replace(either_way=agreed)
