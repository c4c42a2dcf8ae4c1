"""Forms of this trade that words cannot describe: two numbers with a slash, oil grades, threads per inch."""

from __future__ import annotations

import re
from collections.abc import Mapping

from checker import Meant, NotationError, WrittenForm

_UNDERSIZES = (10, 20, 30, 40)
"""In thousandths of an inch: the usual ones (common practice)."""
_COLD_GRADES, _HOT_GRADES = (0, 5, 10, 15, 20, 25), (20, 30, 40, 50, 60)
"""Grades for the cold and for the hot engine: SAE J300."""


def _oil_grade(found: re.Match[str], is_metric: bool) -> Meant:
    """Reads "10W-30" as its hot grade, 30; what is no oil grade cannot be counted so."""
    return Meant([f"{found[1]} SAE"], "an oil grade: the hot one, behind the W")


def _slash_pair(found: re.Match[str], is_metric: bool) -> Meant | None:
    """Reads "10/10": mains and rods, each ground 0.010 inch under; refuses "20/50", and "10/30", which may be both."""
    sizes = mains, rods = int(found[1]), int(found[2])
    are_undersizes = mains in _UNDERSIZES and rods in _UNDERSIZES
    if mains in _COLD_GRADES and rods in _HOT_GRADES:
        pair = (f"{mains} thou under and {rods} thou under",) if are_undersizes else ()
        raise NotationError(f"{found[0]!r}: an oil grade is no number", (f"oil {mains}W-{rods}", *pair))
    if not are_undersizes or is_metric:
        return None
    return Meant([f"{size} thou under" for size in sizes], "mains and rods, each under the standard size")


def _pitch(found: re.Match[str], is_metric: bool) -> Meant | None:
    """Reads "14 tpi": one over the threads per inch."""
    threads = float(found[1])
    return Meant([f"{1 / threads:.7f} in"], "one over the threads per inch") if threads else None


FORMS: Mapping[str, WrittenForm] = {
    "oil grades": WrittenForm(r"(?:SAE )?\d{1,2}W[- /]?(\d{2})", _oil_grade),
    "undersizes of mains and rods": WrittenForm(r"(\d{1,2})/(\d{1,2})", _slash_pair),
    "threads per inch": WrittenForm(r"(\d{1,2}(?:\.5)?) ?(?:tpi|TPI|threads (?:per|to the) inch)", _pitch),
}
"""By the name that a pack asks for them with."""
