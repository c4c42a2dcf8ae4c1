"""How the trade writes each unit, and which names are refused as units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

# kind -> lines of "name in units.txt: name shown, other ways it is written". A kind says more than a dimension:
# a torque is not an energy, a temperature not a difference of temperatures. The commonest unit of a kind stands first.
NAMES: Mapping[str, str] = {
    "bare number": """
        ratio: 1, in/in, mm/mm
        ratio: ratio
        percent: %, percent, per cent
    """,
    "angle": """
        deg: deg, deg., degs, degree, degrees, °
        rad: rad, radian, radians
        turn: turn, turns, rev, revs
    """,
    "time": """
        s: s, sec, second, seconds
        minute: min, minute, minutes
        hour: h, hr, hrs, hour, hours
    """,
    "rotational speed": """
        rpm: rpm, r/min, rev/min, 1/min
    """,
    "length": """
        inch: in, in., inch, inches, ", ''
        mm: mm, millimetre, millimetres, millimeter, millimeters
        thou: thou, thous, thousandth, thousandths
        tenth: tenths, tenth, ten-thousandth, ten-thousandths
        um: um, micron, microns, micrometre, micrometres
        uin: uin, microinch, micro-inch, microinches
        cm: cm, centimetre, centimetres
        m: m, metre, metres, meter, meters
        ft: ft, ft., foot, feet
    """,
    "area": """
        square_inch: in2, in^2, in², sq in, sq. in., square inch, square inches
        square_mm: mm2, mm^2, mm²
        square_cm: cm2, cm^2, cm²
    """,
    "volume": """
        cc: cc, ccs, cm3, cm^3, cm³, ml, mL
        cubic_inch: in3, in^3, in³, cu in, cu. in., cubic inch, cubic inches
        l: L, l, litre, litres, liter, liters
        qt: qt, quart, quarts
        gal: gal, gallon, gallons
        cubic_ft: ft3, ft^3, ft³, cu ft
        cubic_m: m3, m^3, m³
    """,
    "mass": """
        g: g, gram, grams
        oz: oz, ounce, ounces
        lbm: lbm
        kg: kg
    """,
    "force": """
        lbf: lbf
        N: N, newton, newtons
        kgf: kgf, kp
        kN: kN
    """,
    "torque": """
        lbf_ft: lb-ft, ft-lb, ft-lbs, ft-lbs., lbs-ft, lb ft, lbs ft, ft lb, ft lbs, ft. lb., ft. lbs.,
                ft.-lb., ft.-lbs., lb·ft, ft·lb, lb/ft, ft/lb, lbf-ft, lbf ft, lbf·ft, lbf*ft, ft-lbf, ft lbf, ft·lbf,
                ft*lbf, foot pound, foot pounds, foot-pound, foot-pounds, pound-feet, pound feet
        N_m: N m, Nm, N-m, N·m, N*m, N.m, newton metre, newton metres, newton meter, newton meters
        lbf_in: lb-in, in-lb, in-lbs, in-lbs., lbs-in, lb in, lbs in, in lb, in lbs, in. lb., in. lbs.,
                in.-lb., in.-lbs., lb·in, in·lb, in/lb, lbf-in, lbf in, lbf·in, lbf*in, in-lbf, in lbf, in·lbf, in*lbf,
                inch pound, inch pounds, inch-pound, inch-pounds, pound-inches
        kgf_m: kgf m, kgf-m, kgf·m, kgf*m, kg-m, kg·m, kgm, m-kg, mkg, mkp, kpm, kp m
        kgf_cm: kgf cm, kgf-cm, kgf·cm, kgf*cm, kg-cm, kg·cm, kgcm
    """,
    "energy": """
        J: J
        kJ: kJ
    """,
    "power": """
        hp: hp, bhp, horsepower
        kW: kW
        W: W
        metric_hp: PS
    """,
    "pressure": """
        psi: psi, psig, lb/in2, lbf/in2, lb/in², lbf/in²
        kPa: kPa
        bar: bar
        inHg: inHg, in Hg, in. Hg, in-Hg
        MPa: MPa, N/mm2, N/mm²
        ksi: ksi
        Mpsi: Mpsi
        GPa: GPa
        mbar: mbar, hPa
        Pa: Pa
        kgf_per_cm2: kgf/cm2, kgf/cm², kg/cm2, kg/cm²
        mmHg: mmHg, mm Hg
        inH2O: inH2O, in H2O
    """,
    "temperature": """
        degF: degF, deg F, degrees F, °F, ° F
        degC: degC, deg C, degrees C, °C, ° C
        K: K
    """,
    "temperature difference": """
        delta_degF: delta degF
        delta_degC: delta degC, delta K
    """,
    "speed": """
        ft_per_min: ft/min, fpm, feet per minute
        m_per_s: m/s
        ft_per_s: ft/s
        mph: mph
        km_per_h: km/h
    """,
    "acceleration": """
        ft_per_s2: ft/s2, ft/s^2, ft/s²
        m_per_s2: m/s2, m/s^2, m/s²
    """,
    "mass flow": """
        lb_per_hour: lb/h, lb/hr, lbs/h, lbs/hr
        kg_per_hour: kg/h
        g_per_s: g/s
    """,
    "volume flow": """
        cc_per_min: cc/min, cm3/min, mL/min, ml/min
        cubic_ft_per_min: ft3/min, ft³/min, cfm
        cubic_ft_per_hour: ft3/h, ft³/h, ft3/hr
        gal_per_hour: gal/h, gph, gal/hr
        l_per_min: L/min, l/min
    """,
    "viscosity": """
        mPa_s: mPa s, mPa-s, mPa·s, mPa*s, cP
        Pa_s: Pa s, Pa-s, Pa·s, Pa*s
        reyn: reyn, reyns
    """,
    "kinematic viscosity": """
        cst: mm2/s, mm²/s, cSt
    """,
    "pressure per speed": """
        psi_per_1000_rpm: psi/1000 rpm, psi per 1000 rpm
    """,
    "spring rate": """
        lbf_per_inch: lb/in, lb/in., lbf/in, lbs/in, lbs/in.
        N_per_mm: N/mm
    """,
    "unbalance": """
        g_in: g in, g-in, g·in, g*in, gram-inch, gram-inches
        oz_in: oz in, oz-in, oz·in, oz*in, in-oz, ounce-inch, ounce-inches
        g_mm: g mm, g-mm, g·mm, g*mm
    """,
    "lift per angle": """
        thou_per_deg: thou/deg
        mm_per_deg: mm/deg
    """,
    "density": """
        kg_per_m3: kg/m3, kg/m³
        g_per_cc: g/cm3, g/cm³, g/cc
        lb_per_gal: lb/gal
    """,
    "specific time-area": """
        s_per_m: s/m
    """,
    "thermal expansion": """
        per_K: per K, 1/K, /K
    """,
    "specific consumption": """
        lb_per_hp_hour: lb/hp-h, lb/hp-hr, lb/hp·h
        g_per_kWh: g/kWh
    """,
}

# kind -> families of units that the trade uses for one and the same thing: those of inch benches, those of metric ones.
# The first of a bench stands for its family. A kind that is not listed is one family.
FAMILIES: Mapping[str, tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]] = {
    "length": (
        (("uin",), ("um",)),  # roughness, films
        (("ft",), ("m",)),  # altitudes
        (("in", "thou", "tenths"), ("mm", "cm", "um", "m")),
    ),
    "angle": ((("deg", "rad"), ("deg", "rad")), (("turn",), ("turn",))),
    "volume": ((("in3",), ("cc", "L")), (("cc", "in3"), ("cc", "L")), (("qt", "gal"), ("L",))),
    "mass": ((("g", "oz"), ("g",)), (("lbm",), ("kg",))),
    "torque": ((("lb-ft",), ("N m", "kgf m")), (("lb-in",), ("N m", "kgf cm"))),
    "pressure": (
        (("psi",), ("kPa", "bar", "MPa", "mbar", "Pa", "kgf/cm2")),
        (("inHg", "inH2O"), ("kPa", "mbar", "mmHg", "bar", "Pa")),
        (("ksi", "Mpsi"), ("MPa", "GPa")),
    ),
    "volume flow": ((("ft3/min", "ft3/h"), ("L/min",)), (("gal/h",), ("L/min",)), (("cc/min",), ("cc/min",))),
}

OF_FEW_THINGS = frozenset({"uin", "ft", "turn", "lb-in", "kgf cm", "inHg", "inH2O"})
"""Units of families that only a few things are read in: no bare number of another thing may be taken to be in them."""


class Refusal(NamedTuple):
    """Why a name is not accepted as a unit, and what to write instead."""

    reason: str
    instead: tuple[str, ...]

    @property
    def hint(self) -> str:
        """What to write instead, in words."""
        return f"write {' or '.join(self.instead)}" if self.instead else ""


REFUSED: Mapping[str, Refusal] = {
    **dict.fromkeys(("lb", "lbs", "lb.", "lbs.", "pound", "pounds"), Refusal("a mass or a force?", ("lbm", "lbf"))),
    **dict.fromkeys(("mil", "mils"), Refusal("a thousandth of an inch, a millimetre or an angle?", ("thou", "mm"))),
    **dict.fromkeys(("lb*ft", "ft*lb", "ftlb", "ftlbs", "lbft"), Refusal("not a way torque is written", ("lb-ft",))),
    **dict.fromkeys(("in. tbs.", "in. tbs", "in-tbs"), Refusal("a misprint", ("lb-in",))),
    **dict.fromkeys(("ton", "tons"), Refusal("which ton? write kgf or lbf", ())),
    **dict.fromkeys(("pint", "pints", "pt"), Refusal("a US or an imperial pint? write cc or qt", ())),
    "F": Refusal("no unit of its own", ("degF",)),
    "C": Refusal("no unit of its own", ("degC",)),
    "'": Refusal("feet, or half an inch mark?", ("ft", "in")),
    "cid": Refusal("not a unit here", ("in3",)),
    "CID": Refusal("not a unit here", ("in3",)),
    "G": Refusal("gauss, or the acceleration of gravity? write m/s2", ()),
    "Ra": Refusal("says what was measured, not the unit", ("uin", "um")),
}


def spelt() -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Each unit's kind, its name in the unit file, and the ways it is written, the one it is shown with first."""
    for kind, lines in NAMES.items():
        for line in lines.replace(",\n", ",").strip().splitlines():
            name, _, rest = line.strip().partition(": ")
            yield kind, name, tuple(spelling.strip() for spelling in rest.split(","))
