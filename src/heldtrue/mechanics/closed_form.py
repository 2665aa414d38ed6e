"""Handbook formulas: quick answers, and a second opinion beside the numerical ones.

Core units: mm, N, MPa, rad. Radial displacement is positive outward. A source marked ``from memory`` was not
open when the formula was written down; each formula was checked against an independent one in the tests.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heldtrue.errors import GeometryError, InputError, SolverError
from heldtrue.mechanics.materials import require_finite, require_not_negative, require_positive

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TubeState:
    """Radial displacement [mm], radial and hoop stress [MPa] at one radius of a tube."""

    displacement: float
    radial_stress: float
    hoop_stress: float


@dataclass(frozen=True, slots=True)
class RingState:
    """A ring under equal radial loads: displacement [mm] and size of moment [N mm] at a load and half way."""

    at_load: float
    midway: float
    moment_at_load: float
    moment_midway: float

    @property
    def peak_to_valley(self) -> float:
        """Out-of-round [mm]: highest less lowest radius."""
        return abs(self.midway - self.at_load)


@dataclass(frozen=True, slots=True)
class LineContact:
    """Hertz line contact: half width, depth of the greatest shear [mm], peak pressure, that shear [MPa]."""

    half_width: float
    peak_pressure: float
    max_shear: float
    shear_depth: float


@dataclass(frozen=True, slots=True)
class JawLean:
    """Tip displacement of a jaw as a short beam [mm], and the slope of its tip [rad]."""

    bending: float
    shear: float
    slope: float

    @property
    def tip(self) -> float:
        """Whole tip displacement [mm]."""
        return self.bending + self.shear


@dataclass(frozen=True, slots=True)
class BoltAssembly:
    """Assembly preload [N] and tightening torque [N mm] of a bolt."""

    preload: float
    torque: float


def _section(inner_radius: float, outer_radius: float, young: float, poisson: float) -> None:
    require_not_negative(inner_radius=inner_radius)
    require_positive(outer_radius=outer_radius, young=young)
    if inner_radius >= outer_radius:
        raise GeometryError(f"inner radius {inner_radius} mm is not below the outer radius {outer_radius} mm")
    if not -1.0 < poisson < 0.5:
        raise InputError(f"Poisson's ratio is {poisson}; it must lie between -1 and 0.5")


def lame_tube(
    inner_radius: float, outer_radius: float, radius: float, *, young: float, poisson: float,
    external: float = 0.0, internal: float = 0.0,
) -> TubeState:  # fmt: skip
    """Tube under uniform external and internal pressure [MPa], at `radius`, plane stress.

    s_r, s_t = A -/+ B/r**2, A = (pi a**2 - pe b**2)/(b**2 - a**2), B = (pi - pe) a**2 b**2/(b**2 - a**2);
    u = r (s_t - nu s_r)/E. Lame 1852, as in Timoshenko and Goodier, Theory of Elasticity (from memory); exact
    for a free tube of any wall.
    """
    _section(inner_radius, outer_radius, young, poisson)
    require_finite(external=external, internal=internal)
    require_positive(radius=radius)
    if not inner_radius <= radius <= outer_radius:
        raise GeometryError(f"radius {radius} mm is not in the wall from {inner_radius} to {outer_radius} mm")
    a2, b2 = inner_radius**2, outer_radius**2
    mean = (internal * a2 - external * b2) / (b2 - a2)
    vary = (internal - external) * a2 * b2 / (b2 - a2) / radius**2
    radial, hoop = mean - vary, mean + vary
    return TubeState(radius * (hoop - poisson * radial) / young, radial, hoop)


def _angles(loads: int) -> tuple[float, float, float]:
    if loads < 2:
        raise InputError(f"{loads} loads cannot balance round a ring; it takes at least 2")
    theta = math.pi / loads
    return theta, math.sin(theta), math.cos(theta)


def thin_ring(load: float, loads: int, mean_radius: float, *, young: float, inertia: float) -> RingState:
    """Thin ring under `loads` equal inward point loads of `load` [N] each, bending alone.

    With t = pi/N, s = sin t, c = cos t: at a load -P R**3/(2 E I) [(t + s c)/(2 s**2) - 1/t], midway
    +P R**3/(2 E I) [1/t - 1/(2 s) - t c/(2 s**2)]; moments P R/2 (1/t - c/s), P R/2 (1/s - 1/t). A negative
    `load` pushes outward. Roark's Formulas for Stress and Strain, 7th ed., table 9.2 case 7 (from memory).
    For mean radius over wall above about 10; exact elasticity is 2 % more at 9, 8 % at 4.5.
    """
    t, s, c = _angles(loads)
    require_finite(load=load)
    require_positive(mean_radius=mean_radius, young=young, inertia=inertia)
    unit = load * mean_radius**3 / (2.0 * young * inertia)
    arm = abs(load) * mean_radius / 2.0
    return RingState(
        -unit * ((t + s * c) / (2.0 * s * s) - 1.0 / t),
        unit * (1.0 / t - 1.0 / (2.0 * s) - t * c / (2.0 * s * s)),
        arm * (1.0 / t - c / s),
        arm * (1.0 / s - 1.0 / t),
    )


def thick_ring(
    load: float, loads: int, inner_radius: float, outer_radius: float, width: float, *,
    young: float, poisson: float, shear_shape: float = 1.2,
) -> RingState:  # fmt: skip
    """The ring of `thin_ring` with Roark's hoop and shear corrections; rectangular section.

    alpha = I/(A R**2), beta = F E I/(G A R**2), k1 = 1 - alpha + beta, k2 = 1 - alpha (definitions read on a
    page reprinting Roark's ring table; case 7 itself from memory, 7th ed., table 9.2). Reduces to `thin_ring`
    at k1 = k2 = 1. For mean radius over wall above about 4; below, use `annulus_displacement`.
    """
    _section(inner_radius, outer_radius, young, poisson)
    require_positive(width=width, shear_shape=shear_shape)
    require_finite(load=load)
    t, s, c = _angles(loads)
    r, wall = 0.5 * (inner_radius + outer_radius), outer_radius - inner_radius
    alpha = wall**2 / (12.0 * r * r)
    k2 = 1.0 - alpha
    k1 = k2 + 2.0 * (1.0 + poisson) * shear_shape * alpha
    unit = load * r**3 / (2.0 * young * width * wall**3 / 12.0)
    arm = abs(load) * r / 2.0
    return RingState(
        -unit * (k1 * (t - s * c) / (2.0 * s * s) + k2 * c / s - k2 * k2 / t),
        0.5 * unit * (2.0 * k2 * k2 / t - 2.0 * k2 / s + k1 * (s - t * c) / (s * s)),
        arm * abs(k2 / t - c / s),
        arm * abs(1.0 / s - k2 / t),
    )


def pad_harmonics(loads: int, half_angle: float, harmonics: int) -> tuple[Array, Array]:
    """Orders n = 0, N, 2N ... and pressure harmonics of N pads of unit pressure centred on 0, 2 pi/N ..."""
    order = loads * np.arange(harmonics, dtype=np.float64)
    size = np.empty(harmonics)
    size[0] = loads * half_angle / math.pi
    size[1:] = 2.0 * loads * np.sin(order[1:] * half_angle) / (math.pi * order[1:])
    return order, size


def _annulus_unit(n: Array, a: float, b: float, at: float, outside: bool, young: float, nu: float) -> Array:
    """Radial displacement at radius `at` per unit pressure cos(n t) on the outside or the bore, n >= 2.

    Michell stress function of four terms, each scaled to one at the rim where it is largest: high orders
    neither overflow nor lose the bore.
    """
    powers = (n, n + 2.0, -n, 2.0 - n)
    refs = (b, b, a, a)
    rows = np.empty((n.size, 4, 4))
    for j, (m, ref) in enumerate(zip(powers, refs, strict=True)):
        for i, edge in enumerate((b, a)):
            grow = (edge / ref) ** m * (ref / edge) ** 2
            rows[:, i, j] = (m - n * n) * grow
            rows[:, 2 + i, j] = n * (m - 1.0) * grow
    right = np.zeros((n.size, 4, 1))
    right[:, 0 if outside else 1, 0] = -1.0
    amp = np.linalg.solve(rows, right)[:, :, 0]
    shapes = (
        -n * (1.0 + nu),
        -(n - 2.0) - nu * (n + 2.0),
        n * (1.0 + nu),
        (n + 2.0) - nu * (2.0 - n),
    )
    total = np.zeros(n.size)
    for j, (m, ref, shape) in enumerate(zip(powers, refs, shapes, strict=True)):
        total += amp[:, j] * shape * (at / ref) ** m * ref**2 / at
    return total / young


def annulus_displacement(
    load: float, loads: int, half_angle: float, inner_radius: float, outer_radius: float, width: float, *,
    young: float, poisson: float, radius: float, angles: Sequence[float], side: str = "outside",
    harmonics: int = 400,
) -> Array:  # fmt: skip
    """Radial displacement [mm] of a flat ring under N pads of uniform pressure, exact in plane stress.

    Parameters: ``load`` push of one pad along its own radius [N]; ``half_angle`` of a pad [rad], up to pi/N;
        ``radius`` [mm] and ``angles`` [rad from a pad's middle] where to look; ``side`` outside (pads press
        inward on the outer face) or inside (outward on the bore); ``harmonics`` in the series, n = 0, N, 2N
    Notes: p = P/(2 r w sin(half_angle)) in harmonics, the free face unloaded; n = 0 is Lame, n >= 2 Michell's
        stress function. Michell 1899, as in Timoshenko and Goodier (from memory); own computation, checked
        against Lame, the thin ring and Betti's reciprocity. Plane stress: for a ring whose wall and width are
        small against its radius. On the loaded face the series falls off as 1/n**2.
    Raises: `SolverError` when the last tenth of the harmonics adds more than 0.02 % of the largest value,
        which leaves about 0.2 % open.
    """
    _section(inner_radius, outer_radius, young, poisson)
    require_positive(inner_radius=inner_radius, width=width, harmonics=harmonics, half_angle=half_angle)
    require_finite(load=load)
    _angles(loads)
    if half_angle > math.pi / loads * (1.0 + 1e-12):
        raise GeometryError(f"pads of half angle {half_angle} rad overlap; {loads} pads leave {math.pi / loads}")
    if side not in ("outside", "inside"):
        raise InputError(f"side {side!r} is not known; it must be outside or inside")
    outside = side == "outside"
    pressure = load / (2.0 * (outer_radius if outside else inner_radius) * width * math.sin(half_angle))
    order, size = pad_harmonics(loads, half_angle, harmonics)
    outer, inner = (1.0, 0.0) if outside else (0.0, 1.0)
    unit = np.empty(harmonics)
    unit[0] = lame_tube(inner_radius, outer_radius, radius, young=young, poisson=poisson, external=outer,
                        internal=inner).displacement  # fmt: skip
    unit[1:] = _annulus_unit(order[1:], inner_radius, outer_radius, radius, outside, young, poisson)
    terms = pressure * (unit * size)[:, None] * np.cos(np.outer(order, np.asarray(angles, dtype=np.float64)))
    total: Array = terms.sum(axis=0)
    tail = float(np.abs(terms[-max(1, harmonics // 10) :].sum(axis=0)).max(initial=0.0))
    if not tail <= 2e-4 * float(np.abs(total).max(initial=0.0)):
        raise SolverError(f"{harmonics} harmonics leave {tail:.2g} mm open; ask for more harmonics")
    return total


def hertz_line(
    force: float, length: float, radius_1: float, radius_2: float, *,
    young_1: float, poisson_1: float, young_2: float, poisson_2: float,
) -> LineContact:  # fmt: skip
    """Two parallel cylinders pressed together over `length`; a hollow `radius_2` is negative, a flat inf.

    1/R = 1/R1 + 1/R2, 1/E* = sum (1 - nu**2)/E, b = sqrt(4 q R/(pi E*)), p0 = 2 q/(pi b), shear 0.30 p0 at
    0.786 b. Hertz 1882; Johnson, Contact Mechanics (from memory). For half widths small against both radii
    (b/R1 below about 0.3) and a hollow larger than the cylinder in it.
    """
    require_positive(force=force, length=length, radius_1=radius_1, young_1=young_1, young_2=young_2)
    if math.isnan(radius_2) or radius_2 == 0.0 or -radius_1 <= radius_2 < 0.0:
        raise GeometryError(f"a cylinder of radius {radius_1} mm has no line contact in a hollow of {-radius_2} mm")
    curvature = 1.0 / radius_1 + 1.0 / radius_2
    modulus = 1.0 / ((1.0 - poisson_1**2) / young_1 + (1.0 - poisson_2**2) / young_2)
    q = force / length
    half = math.sqrt(4.0 * q / (curvature * math.pi * modulus))
    peak = 2.0 * q / (math.pi * half)
    return LineContact(half, peak, 0.30 * peak, 0.786 * half)


def cantilever_jaw(
    force: float, height: float, width: float, thickness: float, *,
    young: float, poisson: float, shear_coefficient: float = 5.0 / 6.0,
) -> JawLean:  # fmt: skip
    """Jaw as a built-in beam, `force` [N] at `height`; `thickness` lies along the force, `width` across it.

    bending F L**3/(3 E I), shear F L/(k G A), slope F L**2/(2 E I); Timoshenko beam (from memory), k = 5/6
    for a rectangle. For height above about half the thickness; the foot is rigid, so a real jaw leans more.
    """
    require_positive(height=height, width=width, thickness=thickness, young=young)
    require_positive(shear_coefficient=shear_coefficient)
    require_finite(force=force, poisson=poisson)
    bend = young * width * thickness**3 / 12.0
    shear = shear_coefficient * young / (2.0 * (1.0 + poisson)) * width * thickness
    return JawLean(force * height**3 / (3.0 * bend), force * height / shear, force * height**2 / (2.0 * bend))


def required_grip(torque: float, axial: float, grip_diameter: float, friction: float) -> float:
    """Total grip [N] that holds `torque` [N mm] and an `axial` force [N] no seat takes: the friction circle.

    sqrt((2 T/d)**2 + Fa**2)/mu; textbook statics, own derivation. Even pressure round the part, no side force
    (see `tipping_couple`), no safety factor. With a seat that takes the axial force, `axial` is 0.

    >>> round(required_grip(2400.0 * 40.0, 960.0, 100.0, 0.15), 1)
    14310.8
    """
    require_finite(torque=torque, axial=axial)
    require_positive(grip_diameter=grip_diameter, friction=friction)
    return math.hypot(2.0 * torque / grip_diameter, axial) / friction


def handbook_grip_per_jaw(
    torque: float, jaws: int, grip_diameter: float, friction: float, factor: float = 2.5
) -> float:
    """Grip per jaw [N] against `torque` [N mm]: K T/(N mu r), K at least 2.5.

    Soviet fixture handbooks (Anserov; Vardashkin; from memory): K = K0 ... K6, and 2.5 where it is less. A
    smaller `factor` raises `InputError`.
    """
    require_not_negative(torque=torque)
    require_positive(jaws=jaws, grip_diameter=grip_diameter, friction=friction)
    if not factor >= 2.5:
        raise InputError(f"grip factor is {factor}; this rule takes 2.5 at least")
    return factor * torque / (jaws * friction * grip_diameter / 2.0)


def tipping_couple(side_force: float, overhang: float, grip_length: float) -> float:
    """Force [N] at each end of the grip against a side force at `overhang` past the jaws: F (L + l/2)/l.

    Statics of two edges, own derivation; the side force itself comes on top at one edge. No seat, stiff part.

    >>> tipping_couple(2400.0, 60.0, 25.0)
    6960.0
    """
    require_finite(side_force=side_force)
    require_not_negative(overhang=overhang)
    require_positive(grip_length=grip_length)
    return side_force * (overhang + grip_length / 2.0) / grip_length


def bolt_assembly(
    diameter: float, pitch: float, yield_strength: float, head_diameter: float, hole_diameter: float, *,
    thread_friction: float, head_friction: float, use: float = 0.9,
) -> BoltAssembly:  # fmt: skip
    """Preload and tightening torque of a metric bolt that use up `use` of its yield strength [MPa].

    d2 = d - 0.649519 P, d3 = d - 1.226869 P, d0 = (d2 + d3)/2, A = pi d0**2/4,
    F = use Rp A/sqrt(1 + 3 (1.5 d2/d0 (P/(pi d2) + 1.155 mu_G))**2),
    M = F (0.16 P + 0.58 d2 mu_G + mu_K (d_w + d_h)/4). VDI 2230-1 (from memory); meets the table read in a
    catalogue after its 2001 edition. Rp of class 8.8: 640 MPa to 16 mm, 660 above; 10.9: 940; 12.9: 1100.
    """
    require_positive(diameter=diameter, pitch=pitch, yield_strength=yield_strength, use=use)
    require_positive(thread_friction=thread_friction, head_friction=head_friction, hole_diameter=hole_diameter)
    d2, d3 = diameter - 0.649519 * pitch, diameter - 1.226869 * pitch
    if d3 <= 0.0 or head_diameter <= hole_diameter:
        raise GeometryError(f"no bolt has {diameter} x {pitch} mm, head {head_diameter}, hole {hole_diameter} mm")
    d0 = 0.5 * (d2 + d3)
    twist = 1.5 * d2 / d0 * (pitch / (math.pi * d2) + 1.155 * thread_friction)
    preload = use * yield_strength * math.pi / 4.0 * d0**2 / math.sqrt(1.0 + 3.0 * twist**2)
    head = head_friction * (head_diameter + hole_diameter) / 4.0
    return BoltAssembly(preload, preload * (0.16 * pitch + 0.58 * d2 * thread_friction + head))
