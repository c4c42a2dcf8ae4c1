"""The work that all are measured at: 610 sizes and a use of an assembly, and 115 checks of 28 kinds on them.

The numbers are invented, chosen so that a few per cent of what is checked fails and many values lie on a limit. All
that is measured is stated once, here: the pack of this project and the programs of the others are written from it.

An expression is written as Python writes it, with a unit beside a number that has one. `spread`, `mean`, `least` and
`greatest` go over all stations of a kind, or over those of each `pin` or `cyl`; `next` is the next station, and at the
last one nothing is judged; `first` and `second` are the two stations of a cylinder; `cc` are cubic centimetres as cubic
inches; `by_use` is one number for each use.
"""

from __future__ import annotations

import re
from typing import NamedTuple, TypeAlias

USES = ("street", "strip", "nitrous", "boost")
STATIONS = {"eng": 1, "main": 5, "pin": 4, "rod": 8, "cyl": 8, "ring": 16, "valve": 16}
"""How many there are of each kind of place; `eng` is the whole assembly."""
PARENTS = {"ring": "cyl", "valve": "cyl"}
Middle: TypeAlias = float | tuple[float, ...] | list[float]


class Size(NamedTuple):
    """Something measured at each station: about what middle, how scattered, to how many decimals.

    A tuple of middles is one for each use, a list one for each station of a cylinder.
    """

    place: str
    name: str
    unit: str
    middle: Middle
    scatter: float
    decimals: int

    @property
    def full(self) -> str:
        return f"{self.place}_{self.name}"


class Named(NamedTuple):
    """Something worked out at each station, and between what it can lie at all."""

    place: str
    name: str
    unit: str
    text: str
    least: int = -1
    greatest: int = 1

    @property
    def full(self) -> str:
        return f"{self.place}_{self.name}"


class Check(NamedTuple):
    """What must lie between two limits, or on one side of one; only for some uses, where they are named."""

    kind: str
    place: str
    unit: str
    value: str
    low: str = ""
    high: str = ""
    uses: tuple[str, ...] = ()

    @property
    def stations(self) -> int:
        """At how many stations it is judged."""
        return STATIONS[self.place] - ("next(" in self.value)


SIZES = tuple(
    Size(place, *row)
    for place, rows in {
        "eng": (
            ("stroke", "in", 3.48, 0.0005, 4),
            ("rod_nominal", "in", 5.7, 0.0003, 4),
            ("gasket_bore", "in", 4.1, 0.001, 3),
            ("gasket_thickness", "in", 0.039, 0.001, 4),
            ("crank_end_play", "in", 0.0055, 0.0014, 4),
            ("cam_end_play", "in", 0.004, 0.0012, 4),
            ("balancer_fit", "in", 0.0012, 0.0003, 4),
            ("pump_end_play", "in", 0.002, 0.0004, 4),
            ("pickup_gap", "in", 0.35, 0.03, 3),
            ("cam_advance", "deg", 4.0, 1.0, 1),
            ("lobe_separation", "deg", 110.0, 0.8, 1),
            ("oil_idle", "psi", 28.0, 4.0, 0),
            ("oil_hot", "psi", 62.0, 5.0, 0),
            ("chain_slack", "in", 0.25, 0.05, 2),
            ("gear_lash", "in", 0.02, 0.005, 3),
            ("bob_target", "g", 1578.0, 1.0, 0),
        ),
        "main": (
            ("housing_x", "in", 2.641, 0.0002, 4),
            ("housing_y", "in", 2.641, 0.0002, 4),
            ("journal_x", "in", 2.4485, 0.00015, 4),
            ("journal_y", "in", 2.4485, 0.00015, 4),
            ("journal_front", "in", 2.4485, 0.00015, 4),
            ("journal_rear", "in", 2.4485, 0.00015, 4),
            ("bore_upright", "in", 2.451, 0.0002, 4),
            ("bore_across", "in", 2.4511, 0.0002, 4),
            ("shell", "in", 0.095, 0.0001, 4),
            ("torque", "lb-ft", 71.0, 2.0, 0),
        ),
        "rod": (
            ("housing_x", "in", 2.225, 0.00015, 4),
            ("housing_y", "in", 2.225, 0.00015, 4),
            ("bore_upright", "in", 2.1022, 0.0002, 4),
            ("journal_x", "in", 2.1, 0.00015, 4),
            ("journal_y", "in", 2.1, 0.00015, 4),
            ("shell", "in", 0.0613, 0.0001, 4),
            ("side", "in", 0.015, 0.0025, 3),
            ("big_end_mass", "g", 420.0, 0.6, 1),
            ("small_end_mass", "g", 170.0, 0.5, 1),
            ("bolt_stretch", "in", 0.006, 0.0004, 4),
            ("length", "in", 5.7, 0.0004, 4),
            ("bush", "in", 0.9278, 0.0001, 4),
        ),
        "cyl": (
            ("top_x", "in", 4.03, 0.0002, 4),
            ("top_y", "in", 4.03, 0.0002, 4),
            ("middle_x", "in", 4.03, 0.0002, 4),
            ("middle_y", "in", 4.03, 0.0002, 4),
            ("bottom_x", "in", 4.0299, 0.0002, 4),
            ("bottom_y", "in", 4.0299, 0.0002, 4),
            ("piston", "in", 4.026, 0.0002, 4),
            ("compression_height", "in", 1.56, 0.0005, 4),
            ("pin_bore", "in", 0.9276, 0.0001, 4),
            ("pin", "in", 0.9271, 0.0001, 4),
            ("dish", "cc", 5.0, 0.2, 1),
            ("chamber", "cc", 64.0, 0.4, 1),
            ("deck_height", "in", 9.001, 0.001, 4),
            ("piston_mass", "g", 450.0, 0.7, 1),
            ("pin_mass", "g", 118.0, 0.3, 1),
            ("relief_intake", "in", 0.125, 0.012, 3),
            ("relief_exhaust", "in", 0.145, 0.012, 3),
            ("squish", "in", 0.04, 0.0018, 3),
            ("leak", "%", 7.0, 2.5, 0),
            ("roughness", "uin", 18.0, 3.0, 0),
        ),
        "ring": (
            ("gap", "in", (0.0212, 0.0232, 0.0313, 0.0273), 0.0014, 4),
            ("width", "in", 0.062, 0.0002, 4),
            ("groove", "in", 0.0638, 0.0002, 4),
            ("radial", "in", 0.19, 0.0018, 3),
            ("groove_depth", "in", 0.199, 0.0015, 3),
            ("angle", "deg", [45.0, 225.0], 28.0, 0),
        ),
        "valve": (
            ("stem", "in", 0.3415, 0.0002, 4),
            ("guide", "in", 0.3432, 0.0002, 4),
            ("spring_height", "in", 1.8, 0.006, 3),
            ("seat_load", "lbf", 130.0, 3.5, 0),
            ("open_load", "lbf", 330.0, 7.0, 0),
            ("coil_bind", "in", 1.1, 0.008, 3),
            ("lift", "in", 0.56, 0.004, 3),
            ("head", "in", [2.02, 1.6], 0.0015, 3),
            ("seat_width", "in", 0.06, 0.007, 3),
            ("head_edge", "in", 0.06, 0.007, 3),
            ("lash", "in", 0.016, 0.0016, 3),
            ("retainer_gap", "in", 0.1, 0.014, 3),
        ),
    }.items()
    for row in rows
)

NAMED = (
    Named("main", "clearance", "in", "main_bore_upright - main_journal_x"),
    Named("main", "clearance_across", "in", "main_bore_across - main_journal_y"),
    Named("rod", "clearance", "in", "rod_bore_upright - rod_journal_x"),
    Named("cyl", "skirt", "in", "cyl_middle_x - cyl_piston"),
    Named("cyl", "deck", "in", "cyl_deck_height - (eng_stroke/2 + rod_length + cyl_compression_height)"),
    Named("cyl", "swept", "in3", "pi/4*cyl_middle_x*cyl_middle_x*eng_stroke", 10, 100),
    Named(
        "cyl",
        "clear",
        "in3",
        "cc(cyl_chamber) + cc(cyl_dish) + pi/4*eng_gasket_bore*eng_gasket_bore*eng_gasket_thickness"
        " + pi/4*cyl_middle_x*cyl_middle_x*cyl_deck",
        1,
        20,
    ),
    Named("cyl", "ratio", "1", "(cyl_swept + cyl_clear)/cyl_clear", 2, 100),
    Named("cyl", "bob", "g", "2*rod_big_end_mass + (cyl_piston_mass + cyl_pin_mass + rod_small_end_mass)", 0, 9000),
)


def _round(*names: str) -> str:
    """How far out of round: the largest of some sizes less the smallest."""

    def nested(function: str, some: tuple[str, ...]) -> str:
        first, *others = some
        return f"{function}({first}, {nested(function, tuple(others))})" if others else first

    return f"{nested('larger_of', names)} - {nested('smaller_of', names)}"


CHECKS = (
    Check("clearance_scaled", "main", "in", "main_clearance", "0.00075*main_journal_x", "0.00125*main_journal_x"),
    Check(
        "clearance_scaled", "main", "in", "main_clearance_across", "0.00075*main_journal_y", "0.00135*main_journal_y"
    ),
    Check("range", "main", "in", "main_housing_x", "2.6405", "2.6415"),
    Check("range", "main", "in", "main_housing_y", "2.6405", "2.6415"),
    Check("range", "main", "in", "main_journal_x", "2.4481", "2.4489"),
    Check("taper", "main", "in", "abs(main_journal_front - main_journal_rear)", "", "0.0005"),
    Check(
        "out_of_round",
        "main",
        "in",
        _round("main_journal_x", "main_journal_y", "main_journal_front", "main_journal_rear"),
        "",
        "0.0007",
    ),
    Check("out_of_round", "main", "in", "abs(main_housing_x - main_housing_y)", "", "0.0006"),
    Check("stackup", "main", "in", "main_housing_x - 2*main_shell - main_journal_x", "0.0017", "0.0033"),
    Check(
        "range_by_use",
        "main",
        "in",
        "main_clearance",
        "by_use(0.0018, 0.0018, 0.002, 0.0021)",
        "by_use(0.003, 0.0032, 0.0034, 0.0036)",
    ),
    Check("off_the_mean", "main", "in", "abs(main_housing_x - mean(main_housing_x))", "", "0.0005"),
    Check("range_by_use", "main", "lb-ft", "main_torque", "by_use(65, 66, 67, 68)", "by_use(76, 77, 80, 80)"),
    Check("range", "main", "in", "main_shell", "0.0948", "0.0952"),
    Check("some_uses", "main", "in", "main_clearance", "0.0021", "", ("nitrous", "boost")),
    Check("ratio", "main", "1", "main_clearance/main_journal_x", "0.00072", "0.0014"),
    Check("adjacent", "main", "in", "abs(main_bore_upright - next(main_bore_upright))", "", "0.0006"),
    Check("adjacent", "main", "in", "abs(main_journal_x - next(main_journal_x))", "", "0.0005"),
    Check("spread", "eng", "in", "spread(main_clearance)", "", "0.001"),
    Check("spread", "eng", "in", "spread(main_journal_x)", "", "0.0005"),
    Check("spread", "eng", "in", "spread(main_housing_x)", "", "0.0007"),
    Check("mean", "eng", "in", "mean(main_clearance)", "0.0022", "0.0028"),
    Check("clearance_scaled", "rod", "in", "rod_clearance", "0.0008*rod_journal_x", "0.00135*rod_journal_x"),
    Check("range", "rod", "in", "rod_housing_x", "2.2246", "2.2254"),
    Check("out_of_round", "rod", "in", "abs(rod_housing_x - rod_housing_y)", "", "0.0005"),
    Check("range", "rod", "in", "rod_journal_x", "2.0996", "2.1004"),
    Check("out_of_round", "rod", "in", "abs(rod_journal_x - rod_journal_y)", "", "0.0005"),
    Check("stackup", "rod", "in", "rod_housing_x - 2*rod_shell - rod_journal_x", "0.0016", "0.0032"),
    Check(
        "range_by_use",
        "rod",
        "in",
        "rod_clearance",
        "by_use(0.0016, 0.0017, 0.0018, 0.0018)",
        "by_use(0.0028, 0.0029, 0.003, 0.003)",
    ),
    Check("range", "rod", "in", "rod_bolt_stretch", "0.005", "0.007"),
    Check("off_nominal", "rod", "in", "abs(rod_length - eng_rod_nominal)", "", "0.0012"),
    Check("difference", "cyl", "in", "rod_bush - cyl_pin", "0.0004", "0.001"),
    Check("off_the_mean", "rod", "in", "abs(rod_length - mean(rod_length))", "", "0.001"),
    Check("some_uses", "rod", "in", "rod_bolt_stretch", "0.0053", "", ("nitrous", "boost")),
    Check("pair", "pin", "g", "spread(rod_big_end_mass, 'pin')", "", "2"),
    Check("pair", "pin", "in", "spread(rod_length, 'pin')", "", "0.0014"),
    Check("pair", "pin", "in", "total(rod_side, 'pin')", "0.022", "0.038"),
    Check("spread", "eng", "in", "spread(rod_clearance)", "", "0.0011"),
    Check("spread", "eng", "g", "spread(rod_big_end_mass)", "", "2.6"),
    Check("spread", "eng", "g", "spread(rod_small_end_mass)", "", "2.2"),
    Check("spread", "eng", "g", "spread(rod_big_end_mass + rod_small_end_mass)", "", "3.4"),
    Check("mean", "eng", "in", "mean(rod_length)", "5.6996", "5.7004"),
    Check("clearance_scaled", "cyl", "in", "cyl_skirt", "0.0008*cyl_piston", "0.00115*cyl_piston"),
    Check(
        "piecewise", "cyl", "in", "cyl_middle_y - cyl_piston", "0.0035 in if cyl_middle_y > 4.0302 in else 0.0033 in"
    ),
    Check("taper", "cyl", "in", "abs(cyl_top_x - cyl_bottom_x)", "", "0.0007"),
    Check("taper", "cyl", "in", "abs(cyl_top_y - cyl_bottom_y)", "", "0.0007"),
    Check("out_of_round", "cyl", "in", _round("cyl_top_x", "cyl_top_y"), "", "0.0006"),
    Check("out_of_round", "cyl", "in", _round("cyl_middle_x", "cyl_middle_y"), "", "0.0006"),
    Check("out_of_round", "cyl", "in", _round("cyl_bottom_x", "cyl_bottom_y"), "", "0.0006"),
    Check(
        "out_of_round",
        "cyl",
        "in",
        _round("cyl_top_x", "cyl_top_y", "cyl_middle_x", "cyl_middle_y", "cyl_bottom_x", "cyl_bottom_y"),
        "",
        "0.001",
    ),
    Check("range", "cyl", "in", "cyl_middle_x", "4.0295", "4.0305"),
    Check("difference", "cyl", "in", "cyl_pin_bore - cyl_pin", "0.0002", "0.0008"),
    Check("stackup", "cyl", "in", "cyl_deck", "-0.002", "0.004"),
    Check("stackup", "cyl", "in", "cyl_deck + eng_gasket_thickness", "0.037", "0.043"),
    Check("compression", "cyl", "1", "cyl_ratio", "by_use(10.1, 10.2, 10.1, 10)", "by_use(10.5, 10.6, 10.55, 10.5)"),
    Check("least_by_use", "cyl", "in", "cyl_relief_intake", "by_use(0.095, 0.1, 0.105, 0.1)"),
    Check("least_by_use", "cyl", "in", "cyl_relief_exhaust", "by_use(0.115, 0.12, 0.125, 0.12)"),
    Check("most_by_use", "cyl", "%", "cyl_leak", "", "by_use(13, 12, 12, 12)"),
    Check("range_by_use", "cyl", "uin", "cyl_roughness", "by_use(11, 11, 10, 10)", "by_use(26, 25, 25, 25)"),
    Check(
        "off_the_mean",
        "cyl",
        "g",
        "abs(cyl_piston_mass + cyl_pin_mass - mean(cyl_piston_mass + cyl_pin_mass))",
        "",
        "1.8",
    ),
    Check("adjacent", "cyl", "in", "abs(cyl_deck_height - next(cyl_deck_height))", "", "0.003"),
    Check("stagger", "cyl", "deg", "smaller_of(spread(ring_angle, 'cyl'), 360 deg - spread(ring_angle, 'cyl'))", "90"),
    Check("order", "cyl", "in", "second(ring_gap) - first(ring_gap)", "-0.004"),
    Check("ratio", "cyl", "1", "first(valve_head)/cyl_middle_x", "0.5", "0.5024"),
    Check("ratio", "cyl", "1", "second(valve_head)/first(valve_head)", "0.789", "0.7945"),
    Check("off_nominal", "cyl", "g", "abs(cyl_bob - eng_bob_target)", "", "5"),
    Check("either", "cyl", "in", "larger_of(cyl_squish - 0.036 in, cyl_relief_intake - 0.13 in)", "0"),
    Check("some_uses", "cyl", "in", "cyl_squish", "0.036", "0.045", ("street",)),
    Check("some_uses", "cyl", "1", "cyl_ratio", "", "10.45", ("boost",)),
    Check("range", "cyl", "cc", "cyl_chamber", "63", "65"),
    Check("difference", "cyl", "in", "eng_gasket_bore - larger_of(cyl_top_x, cyl_top_y)", "0.067", "0.073"),
    Check("spread", "eng", "1", "spread(cyl_ratio)", "", "0.2"),
    Check("spread", "eng", "in3", "spread(cyl_swept)", "", "0.018"),
    Check("spread", "eng", "cc", "spread(cyl_chamber)", "", "1.8"),
    Check("spread", "eng", "g", "spread(cyl_piston_mass)", "", "3"),
    Check("spread", "eng", "in", "spread(cyl_piston)", "", "0.0009"),
    Check("mean", "eng", "in", "mean(cyl_skirt)", "0.0037", "0.0043"),
    Check("least_scaled_by_use", "ring", "in", "ring_gap", "by_use(0.0045, 0.005, 0.007, 0.006)*cyl_top_x"),
    Check("most_scaled_by_use", "ring", "in", "ring_gap", "", "by_use(0.0061, 0.0066, 0.0086, 0.0076)*cyl_top_x"),
    Check("difference", "ring", "in", "ring_groove - ring_width", "0.0011", "0.0025"),
    Check("difference", "ring", "in", "ring_groove_depth - ring_radial", "0.003", "0.015"),
    Check("ratio", "ring", "1", "ring_radial/cyl_top_x", "0.0461", "0.0481"),
    Check("spread", "eng", "in", "spread(ring_gap)", "", "0.006"),
    Check("spread", "eng", "in", "spread(ring_groove - ring_width)", "", "0.0013"),
    Check("mean", "eng", "in", "mean(ring_groove_depth - ring_radial)", "0.0075", "0.0105"),
    Check("difference", "valve", "in", "valve_guide - valve_stem", "0.001", "0.0024"),
    Check("travel_left", "valve", "in", "valve_spring_height - valve_lift - valve_coil_bind", "0.115", "0.165"),
    Check(
        "range_by_use", "valve", "lbf", "valve_seat_load", "by_use(122, 122, 123, 123)", "by_use(138, 139, 140, 140)"
    ),
    Check("ratio", "valve", "lb/in", "(valve_open_load - valve_seat_load)/valve_lift", "325", "390"),
    Check("some_uses", "valve", "in", "valve_lash", "0.013", "0.019", ("strip", "nitrous")),
    Check(
        "piecewise", "valve", "in", "valve_head_edge + 0*valve_head", "0.044 in if valve_head > 1.8 in else 0.046 in"
    ),
    Check("spread", "eng", "lbf", "spread(valve_seat_load)", "", "15"),
    Check("spread", "eng", "in", "spread(valve_spring_height)", "", "0.026"),
    Check("spread", "eng", "in", "spread(valve_lift)", "", "0.018"),
    Check("mean", "eng", "lbf", "mean(valve_open_load)", "326", "334"),
    Check("least", "eng", "in", "least(valve_retainer_gap)", "0.06"),
    Check(
        "range_by_use",
        "eng",
        "in",
        "eng_crank_end_play",
        "by_use(0.003, 0.003, 0.0035, 0.0035)",
        "by_use(0.008, 0.0085, 0.0085, 0.009)",
    ),
    Check("range", "eng", "in", "eng_cam_end_play", "0.0015", "0.0065"),
    Check("range", "eng", "in", "eng_balancer_fit", "0.0006", "0.0018"),
    Check("range", "eng", "in", "eng_pump_end_play", "0.0012", "0.0028"),
    Check("range", "eng", "in", "eng_pickup_gap", "0.29", "0.41"),
    Check("range", "eng", "deg", "eng_cam_advance", "2", "6"),
    Check("range", "eng", "deg", "eng_lobe_separation", "108.5", "111.5"),
    Check("least_by_use", "eng", "psi", "eng_oil_idle", "by_use(20, 21, 22, 22)"),
    Check("least_by_use", "eng", "psi", "eng_oil_hot", "by_use(52, 53, 54, 54)"),
    Check("ratio", "eng", "1", "eng_oil_hot/eng_oil_idle", "1.7", "2.9"),
    Check("most", "eng", "in", "eng_chain_slack", "", "0.35"),
    Check("range", "eng", "in", "eng_gear_lash", "0.01", "0.03"),
    Check("range", "eng", "in", "eng_gasket_thickness", "0.037", "0.041"),
    Check("ratio", "eng", "1", "eng_rod_nominal/eng_stroke", "1.6375", "1.6385"),
    Check("compression", "eng", "in3", "8*mean(cyl_swept)", "355", "355.2"),
    Check("across_places", "eng", "in", "mean(main_clearance) - mean(rod_clearance)", "0", "0.0006"),
    Check("across_places", "eng", "in", "least(cyl_relief_exhaust) - least(cyl_relief_intake)", "-0.005"),
    Check("across_places", "eng", "in", "spread(cyl_squish) + spread(cyl_deck)", "", "0.014"),
    Check("some_uses", "eng", "in", "least(ring_gap)", "0.0205", "", ("strip", "nitrous", "boost")),
    Check("either", "eng", "psi", "larger_of(eng_oil_hot - 58 psi, eng_oil_idle - 26 psi)", "0"),
)

_UNITS = re.compile(r"(?<=\d) (?:in|deg|psi)\b")
_BY_USE = re.compile(r"by_use\(([^)]*)\)")


def bare(text: str) -> str:
    """An expression without units beside its numbers."""
    return _UNITS.sub("", text)


def for_use(text: str, use: str) -> str:
    """An expression with the numbers of one use."""
    return _BY_USE.sub(lambda each: each[1].split(", ")[USES.index(use)], text)
