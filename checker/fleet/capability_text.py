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


def write_capabilities(capabilities: Iterable[Capability]) -> str:
    """Some lines for each rule and station."""
    blocks = ["\n".join([title_of(study), *(f"  {line}" for line in lines_of(study))]) for study in capabilities]
    return "\n\n".join([*blocks, NOTE]) + "\n"


def title_of(capability: Capability) -> str:
    """The rule, where, and of how many values."""
    where = f", {capability.where}" if capability.where else ""
    return printable(f"{capability.title}{where}: {capability.n:,} value{'' if capability.n == 1 else 's'}")


def lines_of(capability: Capability) -> Iterator[str]:
    """What is told of it, a line each."""
    unit = "" if capability.unit == "1" else f" {capability.unit}"
    yield limits_of(capability)
    if capability.mean is not None and capability.deviation is not None:
        mean, deviation = written(capability.mean, capability), written(capability.deviation, capability)
        yield f"mean {mean}{unit}, standard deviation {deviation}{unit}"
    if capability.cpk is not None:
        on_band = ", from where each lies on its own band" if capability.vary else ""
        cp = "" if capability.cp is None else f"Cp {capability.cp:.2f}, "
        yield f"{cp}Cpk {_with_ends(capability.cpk, '.2f')}{on_band}"
    if capability.fraction is not None:
        percent = Ends(*(100 * share for share in capability.fraction))
        ends = f"({percent.low:.3g} to {percent.high:.3g})"
        yield f"outside {capability.outside:,} of {capability.n:,}: {percent.value:.3g} percent {ends}"
    if capability.drift is not None:
        low, high = (f"{written(end, capability, '+')}" for end in capability.drift[1:])
        share = abs(capability.drift.value) / capability.deviation if capability.deviation else 0.0
        words = f"drifts, by {share:.2g} standard deviations" if capability.is_drifting else "no drift is shown"
        change = written(capability.drift.value, capability, "+")
        yield f"change from first to last {change}{unit} ({low} to {high}): {words}"
    yield from capability.reasons


def limits_of(capability: Capability) -> str:
    """The limits that counted."""
    words = BAND_WORDS[capability.band]
    if capability.vary:
        return f"{words} of each value by its own sizes"
    if capability.low is None and capability.high is None:
        return "no limit is known that is the same for all values"
    ends = [
        f"at least {capability.low:.6g}" if capability.low is not None else "",
        f"at most {capability.high:.6g}" if capability.high is not None else "",
    ]
    return f"{words} {' and '.join(filter(None, ends))}{'' if capability.unit == '1' else f' {capability.unit}'}"


def written(value: float, capability: Capability, sign: str = "") -> str:
    """A value with the decimals that the spread makes worth telling."""
    spread = capability.deviation or abs(value) or 1.0
    return f"{value:{sign}.{min(max(0, 2 - math.floor(math.log10(spread))), 12)}f}"


def _with_ends(ends: Ends, form: str) -> str:
    return f"{ends.value:{form}} ({ends.low:{form}} to {ends.high:{form}})"


def capability_data(capability: Capability) -> dict[str, Any]:
    """The same for programs, without the values themselves."""
    data = {key: value._asdict() if isinstance(value, Ends) else value for key, value in capability._asdict().items()}
    del data["sample"]
    return {**data, "drifts": capability.is_drifting}
