"""What speed does: centrifugal load of the jaws, grip at speed, speed limits, unbalance, spin-up torque.

Core units: mass in kg at a radius in mm turning at omega rad/s pulls m r omega**2 / 1000 newton. Grip forces
are totals over all jaws. Speeds carry ``_rpm`` in the name.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import overload

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import InputError
from heldtrue.mechanics.materials import Datum, require_finite, require_not_negative, require_positive

Array = NDArray[np.float64]

GRIP_SHARE_LEFT = Datum(
    1.0 / 3.0,
    "read: DIN 6386 reference speed in a lathe operating manual: one third of the grip at rest is left",
)
_MANUALS = "chuck makers' manuals, read; VDI 3106 as quoted second hand, from memory"
GRIP_FACTOR = Datum(1.5, f"{_MANUALS}: S_sp >= 1.5", high=2.5)
CUT_FACTOR = Datum(1.5, f"{_MANUALS}: S_z >= 1.5", high=2.5)
_MANUAL = "manual of a chuck maker, read, p. 46"
NEW, IN_SERVICE = "new", "in service"
SAFETY: Mapping[str, Datum] = MappingProxyType(
    {NEW: Datum(2.0, _MANUAL + ": new chuck"), IN_SERVICE: Datum(2.4, _MANUAL + ": chuck not freshly serviced")}
)
"""Least safety factor of the published rule by the state of the chuck, for a part with a seat or a centre."""
SAFETY_OVERHUNG: Mapping[str, Datum] = MappingProxyType(
    {
        NEW: Datum(4.0, _MANUAL + ": new chuck, part overhung without seat or centre"),
        IN_SERVICE: Datum(4.8, _MANUAL + ": chuck not freshly serviced, part overhung without seat or centre"),
    }
)
"""The same for a part that stands out of the jaws with neither seat nor centre."""


@dataclass(frozen=True, slots=True)
class SpinningMass:
    """`count` equal bodies of `mass` [kg], each with its centre of mass at `radius` [mm] from the axis."""

    mass: float
    radius: float
    count: int = 1

    def __post_init__(self) -> None:
        require_not_negative(mass=self.mass, radius=self.radius, count=self.count)


@dataclass(frozen=True, slots=True)
class GripAtSpeed:
    """Total grip while turning, bracketed on the safe side [N].

    `holding` is what may be counted on to hold the part, `distorting` what must be reckoned with when it
    bends and marks it. `holding` is negative when the jaws would have lifted off.
    """

    static: float
    centrifugal: float
    holding: float
    distorting: float

    @property
    def share_left(self) -> float:
        """Holding grip as a share of the grip at rest."""
        return self.holding / self.static


def angular_speed(speed_rpm: float) -> float:
    """Angular speed [rad/s] of a spindle speed [1/min]."""
    require_not_negative(speed_rpm=speed_rpm)
    return speed_rpm * math.pi / 30.0


def _outside(side: str) -> bool:
    if side not in ("outside", "inside"):
        raise InputError(f"grip side {side!r} is not known; it must be outside or inside")
    return side == "outside"


def static_moment(masses: Iterable[SpinningMass]) -> float:
    """Sum of count * mass * radius [kg mm]; list top jaws and master jaws as separate entries."""
    return sum(m.count * m.mass * m.radius for m in masses)


def centrifugal_force(moment: float, speed_rpm: float) -> float:
    """Centrifugal force [N] of a static moment [kg mm], summed over all jaws.

    F = sum(m r) omega**2 / 1000. Rigid jaws, steady speed; friction in the jaw guides, which hides part of
    the change, is left out. VDI 3106:2004 (from memory; the symbols read in a lathe operating manual).

    >>> round(centrifugal_force(217.5, 3000.0), 1)
    21466.4
    """
    require_not_negative(moment=moment)
    return moment * angular_speed(speed_rpm) ** 2 / 1000.0


def grip_at_speed(static: float, centrifugal: float, side: str) -> GripAtSpeed:
    """Total grip at speed from the total at rest and the jaws' centrifugal force [N], on the safe side.

    Outside grip: holds with the full loss, distorts with none of it. Inside grip: holds with no gain,
    distorts with the full gain. Effective sum F0 -/+ Fc by VDI 3106 (from memory); the bracket is our own,
    because a stiff part and a springy chuck lose less than Fc (see `elastic_grip_change`).
    """
    require_positive(static=static)
    require_not_negative(centrifugal=centrifugal)
    if _outside(side):
        return GripAtSpeed(static, centrifugal, static - centrifugal, static)
    return GripAtSpeed(static, centrifugal, static, static + centrifugal)


def elastic_grip_change(centrifugal: float, clamp_stiffness: float, part_stiffness: float) -> float:
    """Change of grip [N] when the actuator is locked and both the clamp and the part give [N/mm per jaw].

    change = Fc S_w / (S_c + S_w); own derivation from two springs in parallel. A constant-force hydraulic
    cylinder has S_c = 0 and changes by the full Fc.
    """
    require_not_negative(centrifugal=centrifugal, clamp_stiffness=clamp_stiffness)
    require_positive(part_stiffness=part_stiffness)
    return centrifugal * part_stiffness / (clamp_stiffness + part_stiffness)


def speed_at_share_left(static: float, moment: float, share_left: float = GRIP_SHARE_LEFT.value) -> float:
    """Speed [1/min] at which an outside grip has `share_left` of its grip at rest; the default is one third.

    `static` [N] total grip at rest, `moment` [kg mm] of all jaws. One-third rule: DIN 6386 reference speed,
    read in a lathe operating manual; for normal stepped jaws that do not stand out past the chuck.
    """
    require_positive(static=static, moment=moment)
    if not 0.0 <= share_left <= 1.0:
        raise InputError(f"share of grip left is {share_left}; it must lie between 0 and 1")
    return math.sqrt(1000.0 * static * (1.0 - share_left) / moment) * 30.0 / math.pi


@overload
def required_grip_at_rest(cut_grip: float, centrifugal: float, safety: float) -> float: ...


@overload
def required_grip_at_rest(cut_grip: Array, centrifugal: Array, safety: float) -> Array: ...


def required_grip_at_rest(cut_grip: float | Array, centrifugal: float | Array, safety: float) -> float | Array:
    """Total grip at rest [N] that the published rule asks for: the larger of S (F + Fc) and 1.5 (1.5 F + Fc).

    Parameters: ``cut_grip`` F, total grip that the cut needs with no safety in it [N]; ``centrifugal`` Fc, what speed
        takes off the grip [N], both as numbers or arrays: that of the jaws for an outside grip, 0 for an inside grip,
        whose gain is not counted so that it also holds at low speed; ``safety`` S, of `SAFETY` or `SAFETY_OVERHUNG`.
    Raises: `InputError` for a negative force or a safety factor under 1.
    Source: both forms stand in chuck makers' manuals (read); the second is VDI 3106's (from memory). The worked
        example of one of them takes 1.5 (2.0 F + Fc) instead, 3 % more there.

    >>> required_grip_at_rest(10_000.0, 4_000.0, SAFETY["new"].value)
    28500.0
    >>> required_grip_at_rest(10_000.0, 6_000.0, SAFETY["new"].value)
    32000.0
    """
    alone = np.ndim(cut_grip) == np.ndim(centrifugal) == 0
    if alone or not (np.all(np.greater_equal(cut_grip, 0.0)) and np.all(np.greater_equal(centrifugal, 0.0))):
        require_not_negative(cut_grip=float(np.min(cut_grip)), centrifugal=float(np.min(centrifugal)))
    if not (math.isfinite(safety) and safety >= 1.0):
        raise InputError(f"safety factor is {safety}; it must be 1 or more")
    guideline = GRIP_FACTOR.value * (CUT_FACTOR.value * cut_grip + centrifugal)
    simple = safety * (cut_grip + centrifugal)
    return max(float(simple), float(guideline)) if alone else np.asarray(np.maximum(simple, guideline))


def centrifugal_allowed(grip: float, cut_grip: float, safety: float) -> float:
    """What speed may take [N] of a total grip at rest with `required_grip_at_rest` still kept; negative: nothing.

    >>> centrifugal_allowed(28_500.0, 10_000.0, SAFETY["new"].value)
    4000.0
    """
    return min(grip / safety - cut_grip, grip / GRIP_FACTOR.value - CUT_FACTOR.value * cut_grip)


def permissible_speed(
    static: float,
    moment: float,
    cut_grip: float,
    side: str,
    *,
    grip_factor: float = GRIP_FACTOR.value,
    cut_factor: float = CUT_FACTOR.value,
) -> float:
    """Highest speed [1/min] at which a grip of `static` [N] at rest still gives the cut its `cut_grip` [N].

    Outside: n = 30/pi sqrt(1000 (F0/S_sp - S_z F) / sum(m r)), sum(m r) in kg mm. VDI 3106 (from memory).
    0.0 when the grip is too small even at rest; infinite when speed takes nothing away (inside grip, or
    weightless jaws). It is one limit of several: plate speed, one third left, and unbalance come beside it.

    >>> round(permissible_speed(80_000.0, 217.5, 14_310.8, "outside"), 1)
    3655.2
    """
    require_positive(static=static, grip_factor=grip_factor, cut_factor=cut_factor)
    require_not_negative(moment=moment, cut_grip=cut_grip)
    spare = static / grip_factor - cut_factor * cut_grip
    if spare <= 0.0:
        return 0.0
    if not _outside(side) or moment == 0.0:
        return math.inf
    return math.sqrt(1000.0 * spare / moment) * 30.0 / math.pi


def unbalance_force(mass: float, eccentricity: float, speed_rpm: float) -> float:
    """Rotating force [N] of `mass` [kg] whose centre is `eccentricity` [mm] off axis: m e omega**2 / 1000.

    >>> round(unbalance_force(3.0, 1.0, 3000.0), 1)
    296.1
    """
    require_not_negative(mass=mass, eccentricity=eccentricity)
    return mass * eccentricity * angular_speed(speed_rpm) ** 2 / 1000.0


def permissible_eccentricity(grade: float, speed_rpm: float) -> float:
    """Permissible specific unbalance [mm] of a balance grade G [mm/s]: e = G / omega.

    ISO 21940-11 (read on a balancing firm's page: G is e times omega in mm/s). For rigid rotors.
    """
    require_positive(grade=grade, speed_rpm=speed_rpm)
    return grade / angular_speed(speed_rpm)


def permissible_unbalance(grade: float, mass: float, speed_rpm: float) -> float:
    """Permissible residual unbalance [kg mm] of a rigid rotor of `mass` [kg]; 1 kg mm is 1000 g mm.

    U = m G / omega, the same as 9549 G m / n in g mm; ISO 21940-11 (read second hand).
    """
    require_positive(mass=mass)
    return mass * permissible_eccentricity(grade, speed_rpm)


def ring_inertia(mass: float, outer_radius: float, inner_radius: float = 0.0) -> float:
    """Moment of inertia [kg mm2] of a plain ring or disc about its axis: m (ro**2 + ri**2) / 2."""
    require_positive(mass=mass, outer_radius=outer_radius)
    require_not_negative(inner_radius=inner_radius)
    if inner_radius >= outer_radius:
        raise InputError(f"inner radius {inner_radius} mm is not below the outer radius {outer_radius} mm")
    return 0.5 * mass * (outer_radius**2 + inner_radius**2)


def spin_up_torque(inertia: float, angular_acceleration: float) -> float:
    """Torque [N mm] that speeds up (or brakes) `inertia` [kg mm2] at [rad/s2]: J alpha / 1000.

    >>> spin_up_torque(20_000.0, 100.0)
    2000.0
    """
    require_not_negative(inertia=inertia)
    require_finite(angular_acceleration=angular_acceleration)
    return inertia * angular_acceleration / 1000.0
