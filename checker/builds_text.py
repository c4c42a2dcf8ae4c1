"""Two builds side by side as plain text: what has changed first, then what has not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import groupby

from checker.builds import Builds, Difference
from checker.findings.text import PLAIN, Look, with_count
from checker.judging.evidence import Evidence
from checker.notation.write import write_apart, write_quantity
from checker.units.units import difference


def write_builds(builds: Builds, in_full: bool, look: Look = PLAIN) -> str:
    """What has changed, station by station; in full also what has not, or cannot be told."""
    lines = [
        builds.after.record.assembly,
        f"before: {_build(builds.before)}",
        f"after:  {_build(builds.after)}",
        *_oddities(builds),
        "",
    ]
    still: list[str] = []
    for _, group in groupby(builds.differences, key=lambda item: item.characteristic):
        changes = list(group)
        shown = changes if in_full else [item for item in changes if item.is_told or item.renewed]
        if shown:
            lines += [changes[0].title, *(line for item in shown for line in _line(item, look)), ""]
        if len(shown) < len(changes):
            still.append(with_count(changes[0].title, len(changes) - len(shown)))
    if still:
        lines += list(look.labelled("no measurable change", ", ".join(still)))
    if not builds.differences:
        lines.append("Nothing was measured in both builds.")
    return "\n".join(lines).rstrip() + "\n"


def builds_data(builds: Builds) -> list[dict[str, object]]:
    """The same for programs: numbers in SI, and as the text shows them."""
    return [
        {
            "characteristic": item.characteristic,
            "station": item.station + 1 if item.where else None,
            "before": item.before,
            "after": item.after,
            "change": item.change,
            "doubt": item.doubt,
            "told": item.is_told,
            "shown": _sizes(item),
            "renewed": str(item.renewed) if item.renewed else None,
        }
        for item in builds.differences
    ]


def _oddities(builds: Builds) -> Iterator[str]:
    """Why these may not be an earlier and a later state of one assembly."""
    before, after = builds.before, builds.after
    if before.record.assembly != after.record.assembly:
        yield f"check this: the earlier build is called {before.record.assembly!r}"
    if max(before.past.taken.values(), default=date.min) > max(after.past.taken.values(), default=date.max):
        yield "check this: the build given as the earlier one was measured later"


def _build(evidence: Evidence) -> str:
    days: Sequence[str] = sorted({day.isoformat() for day in evidence.past.taken.values()})
    dated = f", readings of {days[0]}" + (f" to {days[-1]}" if len(days) > 1 else "") if days else ", not dated"
    return f"{evidence.record.source}{dated}"


def _line(item: Difference, look: Look) -> Iterator[str]:
    words = [f"{_sizes(item)}: {_change(item)}"]
    if item.renewed:
        words.append(f"{item.renewed}, so this is no wear")
    yield from look.labelled(item.where, "; ".join(words))


def _sizes(item: Difference) -> str:
    """Both sizes with as many decimals as it takes to tell them apart."""
    sizes = (item.before, item.after)
    decimals = max(len(text.split(" ")[0].partition(".")[2]) for text in write_apart(item.unit, *sizes))
    return " -> ".join(write_quantity(size, item.unit, decimals) for size in sizes)


def _change(item: Difference) -> str:
    unit = difference(item.unit)
    doubt = (
        f"uncertainty {write_quantity(item.doubt, unit, round_up=True)}"
        if item.doubt < float("inf")
        else "uncertainty unknown"
    )
    if item.is_told:
        sign = "+" if item.change > 0 else ""
        by = f"{sign}{write_quantity(item.change, unit)}"
        return f"{by}, {doubt}" if item.doubt else f"{by}, uncertainty not stated"
    return f"no measurable change, {doubt}" if item.doubt else "no change"
