"""What checking a table gives back; it is told apart so that naming it needs nothing that reads tables."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from checker.frozen import FrozenMapping


class TableReport(NamedTuple):
    """What is said of the assemblies of a table, as tables of Arrow; all have `row`, from 0, and `assembly`.

    `counts` has a row for each assembly that was judged: its exit `status` (0 every must judged and held, 1 a must
    broken, 3 nothing broken but a must not judged), how many findings there are of each verdict, and how many readings
    were `refused`, which count for nothing: what was written is not possible. `findings` has a row for each finding
    with one of the verdicts asked for, its value and limits in `unit`, `station` from 1, nothing for the assembly.
    `set_aside` says why other assemblies could not be judged: every row is in it or in `counts`. `failed` says how
    functions of plugins failed, and in how many assemblies each: what rests on them is undecided there.
    """

    counts: Any
    findings: Any
    set_aside: Any
    failed: Mapping[str, int] = FrozenMapping()

    def __repr__(self) -> str:
        judged, found, aside = (each.num_rows for each in self[:3])
        failed = f", {len(self.failed)} functions failed" if self.failed else ""
        return f"<TableReport {judged} judged, {found} findings, {aside} set aside{failed}>"
