"""The forms a quantity is written in: a table of shapes, and which reader reads each.

The shape of a text has one letter for each of its parts: "2-1/2 thou" is `fu`, ".0025-.0027" is `n-n`. In the table
Q stands for one amount (sign, number, unit), B for one that may stand in brackets, R for one that may have a comma in
its number. What is in brackets of the pattern is handed to the reader. The first form that a reader accepts counts.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import TypeAlias

from checker.notation import counted, plain, shop
from checker.notation.amounts import Asked, Written
from checker.notation.vocabulary import Part

Reader: TypeAlias = Callable[..., Written | None]

_Q = "([s+]?(?:[nf]|wh?)(?:-?u)?)"
_R = "([s+]?(?:[nfc]|wh?)(?:-?u)?)"
_B = rf"(?:\({_Q}\)|{_Q})"

_FORMS: tuple[tuple[str, Reader], ...] = (
    ("Q", plain.single),  # 2-1/2 thou
    ("(u)", plain.lone_unit),  # ten-thousandth
    ("k(u)", plain.couple),  # a couple of tenths
    ("(n(?:-n)+)", shop.order),  # 1-3-4-2
    ("(f)-(n)", shop.inch_thread),  # 7/16-20
    ("M(n)x(n)", shop.metric_thread),  # M8x1.25
    ("(n)([:t])(n)", shop.ratio),  # 9.5 to 1
    ("B([-t])B", plain.interval),  # .0025-.0027
    ("QoQ", plain.either),  # .022 or .023
    ("Q~Q", plain.tolerance),  # 0.25 +/- 0.03
    ("Q([gG]),?Q([gG])", plain.gauges),  # .279 goes, .305 no-go
    ("([<>])Q", plain.open_ended),  # above 0.003 in
    ("Q([<>])", counted.behind_unsigned),  # .060 over
    ("(n{2,})(u?)", plain.listed),  # .0025 .0027 .0026
    ("(n(?:-n){2,})(u?)", shop.torque_steps),  # 40-70-100
    (r"Q\+Q", shop.torque_then_angle),  # 65 Nm + 90
    ("#(n)Q", shop.at_station),  # #3 .0016
    (r"R(\()R\)", plain.in_two_units),  # 0.20 mm (.008)
    ("R(/)R", plain.in_two_units),  # 5.7L / 5,665 cc
    ("Qp(u)", shop.per_length),  # .004 per inch
    ("(n)(x)", counted.behind),  # 1X
    ("Q#", shop.hash_mark),  # 70#
    (r"Q\*", shop.star),  # 190*
    ("QH", shop.hundredths),  # 5 hundredths
    ("Qq", shop.clock),  # 7 o'clock
    ("Q(d)", counted.behind),  # 0.4 mm proud
    ("(d)Q", counted.in_front),  # proud 0.4 mm
)
_PATTERNS = tuple((form.replace("Q", _Q).replace("R", _R).replace("B", _B), reader) for form, reader in _FORMS)


def read_form(asked: Asked, parts: Sequence[Part]) -> Written | None:
    """What the first fitting form makes of the parts; nothing where no form fits."""
    shape = "".join(part.letter for part in parts)
    for pattern, reader in _PATTERNS:
        match = re.fullmatch(pattern, shape)
        if match is None:
            continue
        spans = [match.span(group) for group in range(1, match.re.groups + 1) if match.group(group) is not None]
        written = reader(asked, *(parts[start:end] for start, end in spans))
        if written is not None:
            return written
    return None
