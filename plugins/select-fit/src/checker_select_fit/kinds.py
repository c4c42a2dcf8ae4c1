"""The kinds of parts that can be chosen: where they go, what they bring, and which readings move with their size."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple


class Slot(NamedTuple):
    """One place for a part at a station; `label` is the characteristic that names its size in the record.

    `trial` is the label of the part with which a trial clearance was measured; both are empty where there is none.
    """

    title: str
    label: str = ""
    trial: str = ""


class Shift(NamedTuple):
    """How a reading moves with the size of a part: by `factor` times the change, times what `by` names."""

    factor: float
    by: str = ""


class Kind(NamedTuple):
    """A kind of part.

    `per` is the kind of station each belongs to, none for the assembly. `sizes` are the characteristics that come
    with a part, the one that is meant by "size" first. Where `fits` is judged it must read within; `aimed` only counts
    for nearness. `shifts` are readings that can be foretold, `voids` those that must be measured again. Where there
    is no characteristic for its size, `possible` are its ends in metres and `fresh` is the size of no part at all.
    `trial` gives the trial clearance and the clearance it foretells. What is done `for_good` comes last of all.
    """

    name: str
    per: str | None
    slots: tuple[Slot, ...]
    fits: tuple[str, ...]
    sizes: tuple[str, ...] = ()
    aimed: tuple[str, ...] = ()
    shifts: Mapping[str, Shift] = MappingProxyType({})
    voids: tuple[str, ...] = ()
    possible: tuple[float, float] | None = None
    fresh: float | None = None
    trial: tuple[str, str] | None = None
    for_good: bool = False
    caution: str = ""

    @property
    def read_as(self) -> str:
        """The characteristic whose words and bounds its size has; empty for a plain length."""
        return self.sizes[0] if self.sizes else self.slots[0].label


def _shell(where: str, thick: str) -> Kind:
    """A bearing shell half: a label is the change for a pair, so one half changes the clearance by half of it.

    Source: factory manual, 4.0 and 2.5 L, 1997, bearing fitting, as the four-stroke pack has it.
    """
    halves = tuple(
        Slot(f"{half} shell", f"{where}_{half}_shell_undersize", f"{where}_trial_{half}_shell_undersize")
        for half in ("upper", "lower")
    )
    clearance = f"{where}_oil_clearance"
    return Kind(
        name=f"{where} shell",
        per=where,
        slots=halves,
        fits=(clearance,),
        aimed=(f"{where}_clearance_to_come",),
        shifts=MappingProxyType({f"{where}_bearing_bore": Shift(-0.5), clearance: Shift(-0.5)}),
        voids=tuple(
            f"{where}_{name}"
            for name in ("bearing_bore_left", "bearing_bore_right", "crush_gap", "shell_free_width", "shell_hole")
        ),
        trial=(f"{where}_trial_clearance", clearance),
        caution=f"Shell halves of one maker and one series only; {thick}. Those that have run go back where they ran.",
    )


_OVER_THE_PISTON = ("piston_to_valve_intake", "piston_to_valve_exhaust", "quench_at_speed", "cranking_pressure")

KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            _shell("main", "the thicker half goes into the cap"),
            _shell("rod", "the thicker half goes into the rod"),
            Kind(
                "piston",
                "cylinder",
                (Slot("piston"),),
                fits=("piston_to_wall_clearance",),
                sizes=(
                    *("piston_diameter", "piston_pin_bore", "new_piston_pin_bore", "piston_compression_height"),
                    *("piston_crown_volume", "piston_mass", "top_groove_width", "second_groove_width"),
                    *("top_groove_root_diameter", "second_groove_root_diameter", "pin_lock_groove_distance"),
                ),
                voids=("deck_clearance", "piston_protrusion", "top_ring_side_clearance", "second_ring_side_clearance"),
                caution="Bore and piston must be at one temperature when measured.",
            ),
            Kind(
                "pin",
                "cylinder",
                (Slot("pin"),),
                fits=("pin_to_piston_clearance", "pin_to_rod_clearance"),
                sizes=("piston_pin_diameter", "piston_pin_length", "new_piston_pin_diameter"),
                caution="A pressed pin scuffs the small end each time it is pushed out: choose before pressing.",
            ),
            Kind(
                "rod",
                "cylinder",
                (Slot("rod"),),
                fits=("pin_to_rod_clearance",),
                sizes=(
                    *("rod_small_end_bore", "rod_length", "new_small_end_bushing", "rod_bend_reading"),
                    *("rod_twist_reading", "rod_small_end_mass", "rod_big_end_mass"),
                ),
                voids=(
                    *("rod_width", "rod_side_clearance", "rod_bearing_bore", "rod_oil_clearance", "deck_clearance"),
                    *("rod_housing_bore_vertical", "rod_housing_bore_plus_45", "rod_housing_bore_minus_45"),
                ),
                caution="A rod keeps its own cap, its own way round and its own bolts.",
            ),
            Kind(
                "pushrod",
                "valve",
                (Slot("pushrod"),),
                fits=("lifter_preload", "collapsed_lifter_gap"),
                # The plunger sees the length as it is, the valve's tip times the rocker ratio.
                shifts=MappingProxyType(
                    {"lifter_preload": Shift(1.0), "collapsed_lifter_gap": Shift(-1.0, "rocker_ratio")}
                ),
                voids=("rocker_sweep_offset", "rocker_sweep_width", "rocker_mark_to_edge", "pushrod_to_head_clearance"),
                possible=(0.05, 0.6),
                caution="Look at the rocker's mark on the valve again with the new length.",
            ),
            Kind(
                "spring shim",
                "valve",
                (Slot("shims"),),
                fits=("spring_installed_height",),
                sizes=("spring_shims",),
                shifts=MappingProxyType({"spring_installed_height": Shift(-1.0)}),
                voids=("spring_seat_load", "spring_open_load", "coil_bind_margin"),
                caution="A spring that goes solid breaks the valve gear: measure what is left before full lift.",
            ),
            Kind(
                "head gasket",
                None,
                (Slot("head gasket"),),
                fits=("quench",),
                sizes=("head_gasket_thickness", "head_gasket_bore", "head_gasket_kind", "head_gasket_grade"),
                voids=_OVER_THE_PISTON,
                caution="State the thickness as clamped. Measure piston to valve again.",
            ),
            Kind(
                "deck cut",
                None,
                (Slot("deck cut"),),
                fits=("quench",),
                shifts=MappingProxyType(
                    {"block_deck_height": Shift(-1.0), "deck_clearance": Shift(-1.0), "piston_protrusion": Shift(1.0)}
                ),
                voids=(*_OVER_THE_PISTON, "deck_flatness", "deck_corner_spread", "deck_roughness"),
                possible=(0.0, 0.0016),
                fresh=0.0,
                for_good=True,
                caution="What is cut off a deck does not come back: the gaskets are tried first.",
            ),
        )
    }
)
"""Every kind by its name."""
