"""Capability in lines of text, and as data."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any

from checker.documents.printable import printable
from checker.findings.finding import BAND_WORDS
from checker.fleet.capability import CONFIDENCE, CONFIDENCE_OF_DRIFT, Capability, Ends

NOTE = (
    f"Intervals in brackets: {CONFIDENCE:.0%} confidence, of a change {CONFIDENCE_OF_DRIFT:.1%}, as if each assembly "
    "were made apart from the others; values in doubt count as outside at the upper end. Cp and Cpk rest on the "
    "standard deviation of all values (ISO 22514-2: Pp and Ppk)."
)


def write_capabilities(found: Iterable[Capability]) -> str:
    """Some lines for each rule and station."""
    blocks = ["\n".join([title_of(one), *(f"  {line}" for line in lines_of(one))]) for one in found]
    return "\n\n".join([*blocks, NOTE]) + "\n"


def title_of(one: Capability) -> str:
    """The rule, where, and of how many values."""
    where = f", {one.where}" if one.where else ""
    return printable(f"{one.title}{where}: {one.n:,} value{'' if one.n == 1 else 's'}")


def lines_of(one: Capability) -> Iterator[str]:
    """What is told of it, a line each."""
    unit = "" if one.unit == "1" else f" {one.unit}"
    yield limits_of(one)
    if one.mean is not None and one.deviation is not None:
        mean, deviation = written(one.mean, one), written(one.deviation, one)
        yield f"mean {mean}{unit}, standard deviation {deviation}{unit}"
    if one.cpk is not None:
        on_band = ", from where each lies on its own band" if one.vary else ""
        cp = "" if one.cp is None else f"Cp {one.cp:.2f}, "
        yield f"{cp}Cpk {_with_ends(one.cpk, '.2f')}{on_band}"
    if one.fraction is not None:
        percent = Ends(*(100 * share for share in one.fraction))
        ends = f"({percent.low:.3g} to {percent.high:.3g})"
        yield f"outside {one.outside:,} of {one.n:,}: {percent.value:.3g} percent {ends}"
    if one.drift is not None:
        low, high = (f"{written(end, one, '+')}" for end in one.drift[1:])
        share = abs(one.drift.value) / one.deviation if one.deviation else 0.0
        words = f"drifts, by {share:.2g} standard deviations" if one.is_drifting else "no drift is shown"
        yield f"change from first to last {written(one.drift.value, one, '+')}{unit} ({low} to {high}): {words}"
    yield from one.reasons


def limits_of(one: Capability) -> str:
    """The limits that counted."""
    words = BAND_WORDS[one.band]
    if one.vary:
        return f"{words} of each value by its own sizes"
    if one.low is None and one.high is None:
        return "no limit is known that is the same for all values"
    ends = [
        f"at least {one.low:.6g}" if one.low is not None else "",
        f"at most {one.high:.6g}" if one.high is not None else "",
    ]
    return f"{words} {' and '.join(filter(None, ends))}{'' if one.unit == '1' else f' {one.unit}'}"


def written(value: float, one: Capability, sign: str = "") -> str:
    """A value with the decimals that the spread makes worth telling."""
    spread = one.deviation or abs(value) or 1.0
    return f"{value:{sign}.{min(max(0, 2 - math.floor(math.log10(spread))), 12)}f}"


def _with_ends(told: Ends, form: str) -> str:
    return f"{told.value:{form}} ({told.low:{form}} to {told.high:{form}})"


def capability_data(one: Capability) -> dict[str, Any]:
    """The same for programs, without the values themselves."""
    data = {key: value._asdict() if isinstance(value, Ends) else value for key, value in one._asdict().items()}
    del data["sample"]
    return {**data, "drifts": one.is_drifting}
