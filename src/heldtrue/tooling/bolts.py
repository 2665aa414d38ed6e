"""Jaw bolts: what torque to set and what preload it gives.

Two sources side by side: a table of torques for jaw bolts that chuck books print, low enough for the thread in a T-nut,
and the torque that uses up 90 % of the bolt's own yield (VDI 2230).  The lower of both is what to set.
Units: mm, N, MPa, N mm.
"""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.errors import InputError
from heldtrue.mechanics.closed_form import BoltAssembly, bolt_assembly

PRACTICE = "common practice, no source"
ISO_BOLT = "ISO 4762 and ISO 273 (from memory)"
INCH_BOLT = "ASME B18.3 (from memory)"
FRICTION = (0.10, 0.14)
"""Thread and head of a clean, lightly oiled bolt, low and high: VDI 2230 class B (from memory)."""
LEAST_THREAD_DIAMETERS = 1.0
"""Thread engaged in the T-nut, in bolt diameters: common practice, no source."""


@dataclass(frozen=True)
class BoltSize:
    """A bolt size: ``bearing`` the diameter the head bears on, ``head`` its diameter, ``hole`` the clearance hole. [mm]

    ``jaw_torque``: the torque printed for jaw bolts of class 12.9 [N mm], None where none was read.
    """

    name: str
    diameter: float
    pitch: float
    bearing: float
    head: float
    hole: float
    jaw_torque: float | None
    source: str

    @property
    def head_height(self) -> float:
        """Height of a socket head, as much as the thread's diameter. [mm]"""
        return self.diameter

    @property
    def counterbore(self) -> float:
        """Usual diameter of the pocket for the head: common practice, no source. [mm]"""
        return self.head + 2.0


SIZES = {
    size.name: size
    for size in (
        BoltSize("M6", 6.0, 1.0, 9.4, 10.0, 6.6, None, ISO_BOLT),
        BoltSize("M8", 8.0, 1.25, 12.33, 13.0, 9.0, 39e3, ISO_BOLT),
        BoltSize("M10", 10.0, 1.5, 15.33, 16.0, 11.0, 77e3, ISO_BOLT),
        BoltSize("M12", 12.0, 1.75, 17.23, 18.0, 13.5, 110e3, ISO_BOLT),
        BoltSize("M16", 16.0, 2.0, 23.17, 24.0, 17.5, 220e3, ISO_BOLT),
        BoltSize("M20", 20.0, 2.5, 28.87, 30.0, 22.0, 400e3, ISO_BOLT),
        BoltSize("3/8-16", 9.525, 25.4 / 16, 14.0, 14.29, 10.5, None, INCH_BOLT),
        BoltSize("1/2-13", 12.7, 25.4 / 13, 18.7, 19.05, 13.9, None, INCH_BOLT),
        BoltSize("5/8-11", 15.875, 25.4 / 11, 23.4, 23.81, 17.0, None, INCH_BOLT),
        BoltSize("3/4-10", 19.05, 25.4 / 10, 28.2, 28.58, 20.2, None, INCH_BOLT),
    )
}
"""The torques of ``jaw_torque`` were read in one published table for class 12.9; it does not say its friction."""


def yield_strength(bolt_class: str, diameter: float) -> float:
    """Least yield strength of a bolt class. [MPa]  ISO 898-1; ASTM A574 for inch socket screws (both from memory)."""
    if bolt_class == "8.8":
        return 640.0 if diameter <= 16.0 else 660.0
    if bolt_class == "A574":
        return 1116.0 if diameter <= 12.7 else 1054.0
    try:
        return {"10.9": 940.0, "12.9": 1100.0}[bolt_class]
    except KeyError:
        raise InputError(f'bolt class "{bolt_class}" is not known; known are 8.8, 10.9, 12.9, A574') from None


def size(name: str) -> BoltSize:
    """The bolt size of that name. Raises: ``InputError`` that lists the known ones."""
    try:
        return SIZES[name]
    except KeyError:
        raise InputError(f'bolt size "{name}" is not known; known are {", ".join(SIZES)}') from None


def assembly(name: str, bolt_class: str, friction: float) -> BoltAssembly:
    """Preload [N] and torque [N mm] that use up 90 % of the yield of a bolt at that friction (VDI 2230)."""
    bolt = size(name)
    return bolt_assembly(
        bolt.diameter, bolt.pitch, yield_strength(bolt_class, bolt.diameter), bolt.bearing, bolt.hole,
        thread_friction=friction, head_friction=friction,
    )  # fmt: skip


@dataclass(frozen=True)
class Tightening:
    """What to set on the wrench.

    ``torque`` [N mm]; ``preload`` [N]: least and most, at the high and the low friction; ``yields_at``: torque that
    uses 90 % of the yield at the low friction [N mm]; ``least_thread``: in the T-nut [mm]; ``source`` of the torque.
    """

    bolt: str
    bolt_class: str
    torque: float
    preload: tuple[float, float]
    yields_at: float
    least_thread: float
    source: str


def tightening(name: str, bolt_class: str = "12.9") -> Tightening:
    """Torque for jaw bolts of that size and class.

    The printed jaw bolt torque, or what uses up 90 % of the yield at the low friction if that is less.
    """
    bolt = size(name)
    slippery, sticky = (assembly(name, bolt_class, mu) for mu in FRICTION)
    torque, source = slippery.torque, f"90 % of yield at friction {FRICTION[0]:g}, VDI 2230 (from memory)"
    if bolt.jaw_torque is not None and bolt.jaw_torque < torque:
        torque, source = bolt.jaw_torque, "read: a published table of jaw bolt torques"
    # Torque and preload are in proportion, the head and thread friction being the same.
    preload = tuple(one.preload * torque / one.torque for one in (sticky, slippery))
    return Tightening(name, bolt_class, torque, (preload[0], preload[1]), slippery.torque,
                      LEAST_THREAD_DIAMETERS * bolt.diameter, source)  # fmt: skip


def table() -> tuple[Tightening, ...]:
    """Every metric size and class, and the inch sizes in A574."""
    metric = [tightening(name, grade) for name in SIZES if name.startswith("M") for grade in ("8.8", "10.9", "12.9")]
    return (*metric, *(tightening(name, "A574") for name in SIZES if not name.startswith("M")))
