"""A gauge ring for a chuck: strong enough for its full grip, soft enough that a dial reads the force.

Wall and width are searched, thinnest and narrowest first; stress and lobes come from the finite elements of the ring,
what a dial reads of them from the very model that reads it later.  Lengths mm, forces N, pressures MPa.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi

import numpy as np

from heldtrue.errors import InputError
from heldtrue.inspection.ring_reading import RingGauge, RingReadings, RingTrace, read_ring
from heldtrue.mechanics.closed_form import hertz_line, thin_ring
from heldtrue.mechanics.gauge_ring import Ring, RingInJaws
from heldtrue.mechanics.materials import WorkMaterial, work_material

MATERIAL, YIELD_MPA = "42CrMo4", 650.0
"""Quenched and tempered, up to 100 mm thick: ISO 683-2 (from memory). The drawing asks for the certificate."""
HARDNESS = "265 to 325 HB"
"""Of that strength, tensile strength 900 to 1100 MPa over 3.4 (from memory)."""
STRENGTH = 1.5
"""Yield strength over the largest stress at full grip: common practice, no source."""
SHAKEDOWN = 2.31
"""Largest pressure under a roller over yield strength, after which nothing more flows; 4 k of a line contact: K. L.
Johnson, Contact Mechanics, 1985 (from memory)."""
FINE, COARSE = 0.001, 0.01
"""Divisions of the dials a shop has. [mm]"""
FINE_ERROR, COARSE_ERROR = 0.03, 0.12
"""How well each should read half the full grip, 95 %, relative."""
WIDTHS = (15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 50.0, 60.0)
PAD_MM = 8.0
"""Width round the ring of pads, where no pin is large enough."""
PAD_PRESSURE = 0.5
"""Mean pressure under a pad over yield strength of the ring: common practice, no source."""
ROLLERS = (8.0, 10.0, 12.0, 16.0, 20.0, 25.0)
"""Diameters of hardened dowel pins that serve as rollers, ISO 8734 (from memory)."""
STEP = 0.5
THINNEST, THICKEST = 0.05, 0.35
"""Wall over the gripped radius: thinner rings are soft in the hand, thicker ones are no gauge."""
LEAST_WALL = 3.0


@dataclass(frozen=True)
class Asked:
    """What a ring is wanted for.

    ``side`` of the grip; ``jaws``; ``gripped``: diameter that the jaws press on; ``most_grip``: of all jaws at full
    pressure by the plate [N]; ``full_pressure`` [MPa], None where the plate says none; ``widest``: jaws are no wider;
    ``strength``: yield strength that the ring's certificate must show [MPa]; ``number`` of the ring.
    """

    side: str
    jaws: int
    gripped: float
    most_grip: float
    full_pressure: float | None = None
    widest: float = 40.0
    material: str = MATERIAL
    strength: float = YIELD_MPA
    number: str = ""


@dataclass(frozen=True)
class RingDesign:
    """A ring to make.

    ``gauge``: as it is read later; ``roller``: diameter of the pins between jaws and ring, None for pads; ``stress`` at
    full grip and ``strength``: yield strength [MPa], ``factor`` between them; ``pressure``: under a pin or pad at full
    grip, of ``pressure_limit`` [MPa]; ``fine`` and ``coarse``: how well a dial of 0.001 and of 0.01 mm reads half the
    full grip, 95 %, relative, material and size not counted; ``with_common``: those counted, of the fine dial;
    ``per_kn``: highest less lowest reading for 1 kN of all jaws [mm]; ``most_grip`` it may carry [N],
    ``most_pressure`` to be engraved [MPa]; ``misses``: what it does not reach.
    """

    asked: Asked
    gauge: RingGauge
    material: WorkMaterial
    roller: float | None
    stress: float
    strength: float
    pressure: float
    pressure_limit: float
    fine: float
    coarse: float
    with_common: float
    per_kn: float
    most_grip: float
    most_pressure: float | None
    misses: tuple[str, ...]

    @property
    def factor(self) -> float:
        """Yield strength over stress at full grip."""
        return self.strength / self.stress


def design_ring(asked: Asked) -> RingDesign:
    """The narrowest ring that does both; where none does, the one that reads best, with what it misses.

    Raises: ``InputError`` for a diameter, grip or count of jaws that cannot be, or where no ring is strong enough.
    """
    _check(asked)
    material = work_material(asked.material)
    widths = [w for w in WIDTHS if w <= asked.widest + 1e-9]
    # The wider, the thinner the wall and the larger the lobes: the widest reads best.
    best = _of_width(asked, material, widths[-1])
    if best is None:
        raise InputError(
            f"no ring of {material.name} on Ø{asked.gripped:g} mm, up to {asked.widest:g} mm wide, carries "
            f"{asked.most_grip / 1e3:.3g} kN: take a smaller diameter, a wider ring or a lower largest pressure"
        )
    low, high = 0, len(widths) - 1
    while not best.misses and low < high:
        middle = (low + high) // 2
        made = _of_width(asked, material, widths[middle])
        if made is None or made.misses:
            low = middle + 1
        else:
            best, high = made, middle
    return best


def _check(asked: Asked) -> None:
    if not 20.0 <= asked.gripped <= 1000.0:
        raise InputError(f"a gauge ring has a diameter of 20 to 1000 mm, not {asked.gripped:g}")
    if not asked.most_grip > 0:
        raise InputError(f"the full grip of the chuck must be above 0 N, got {asked.most_grip:g}")
    if not 2 <= asked.jaws <= 12:
        raise InputError(f"a chuck has 2 to 12 jaws, not {asked.jaws}")
    if asked.widest < WIDTHS[0]:
        raise InputError(f"jaws narrower than {WIDTHS[0]:g} mm along the axis carry no gauge ring: {asked.widest:g} mm")


def _of_width(asked: Asked, material: WorkMaterial, width: float) -> RingDesign | None:
    """The ring of one width with the thinnest wall that carries the full grip; None where none does."""
    force, allowed = asked.most_grip / asked.jaws, asked.strength / STRENGTH
    wall = max(LEAST_WALL, THINNEST * asked.gripped / 2)
    while wall <= THICKEST * asked.gripped / 2:
        ring = _ring(asked, material, wall, width)
        state = thin_ring(force, asked.jaws, (ring.inner + ring.outer) / 2, young=ring.young, inertia=1.0)
        # The textbook ring says where to begin; it errs by some per cent.
        if 0.8 * state.moment_at_load * 6 / (width * wall**2) < allowed:
            roller = _pin(ring, force, asked.strength)
            if roller is None and force / (PAD_MM * width) > PAD_PRESSURE * asked.strength:
                return None
            if RingInJaws(ring, asked.jaws).largest_stress(force) <= allowed:
                return _looked_at(asked, material, ring, roller)
        wall += STEP
    return None


def _ring(asked: Asked, material: WorkMaterial, wall: float, width: float) -> Ring:
    radius = asked.gripped / 2
    inner, outer = (radius - wall, radius) if asked.side == "outside" else (radius, radius + wall)
    return Ring(asked.side, round(inner, 3), round(outer, 3), width, material.young.value, material.poisson.value)


def pin_pressure(ring: Ring, force: float, roller: float) -> float:
    """Largest pressure between a hardened pin and the ring. [MPa]"""
    hollow = ring.gripped if ring.side == "outside" else -ring.gripped
    return hertz_line(
        force, ring.width, roller / 2, hollow, young_1=ring.young, poisson_1=ring.poisson, young_2=ring.young,
        poisson_2=ring.poisson,
    ).peak_pressure  # fmt: skip


def _pin(ring: Ring, force: float, strength: float) -> float | None:
    return next((d for d in ROLLERS if pin_pressure(ring, force, d) <= SHAKEDOWN * strength), None)


def _looked_at(asked: Asked, material: WorkMaterial, ring: Ring, roller: float | None) -> RingDesign:
    force, strength = asked.most_grip / asked.jaws, asked.strength
    gauge = RingGauge(ring, asked.number, asked.jaws, most_force=force)
    pressed = (force / (PAD_MM * ring.width), PAD_PRESSURE * strength)
    if roller is None:
        gauge = replace(gauge, contact="pads", half_angle=PAD_MM / 2 / ring.gripped)
    else:
        pressed = (pin_pressure(ring, force, roller), SHAKEDOWN * strength)
    fine, with_common = expected_error(gauge, asked.most_grip / 2, FINE)
    coarse, _ = expected_error(gauge, asked.most_grip / 2, COARSE)
    misses = []
    if fine > FINE_ERROR:
        misses.append(f"a 0.001 mm dial reads half the full grip to {fine:.1%}, not to {FINE_ERROR:.0%}")
    if coarse > COARSE_ERROR:
        misses.append(f"a 0.01 mm dial reads half the full grip to {coarse:.1%}, not to {COARSE_ERROR:.0%}")
    return RingDesign(
        asked, gauge, material, roller, RingInJaws(ring, asked.jaws).largest_stress(force), strength, *pressed, fine,
        coarse, with_common, RingInJaws(ring, asked.jaws).lobes(1e3 / asked.jaws), asked.most_grip,
        asked.full_pressure, tuple(misses),
    )  # fmt: skip


def places_for(jaws: int) -> int:
    """Places to read at: 12, or 24 where 12 would all stand at jaws and half way, and no start could be seen."""
    return 12 if jaws <= 3 else 24


def expected_error(gauge: RingGauge, grip: float, division: float) -> tuple[float, float]:
    """How well a dial would read a grip of all jaws [N], free and clamped: of itself, and with all; 95 %, relative."""
    places = places_for(gauge.jaws)
    angles = 2 * pi * np.arange(places) / places
    moved = RingInJaws(gauge.ring, gauge.jaws).line_answer(angles) * grip / gauge.jaws
    sign = -1.0 if gauge.ring.side == "outside" else 1.0
    traces = (RingTrace(None, (0.0,) * places), RingTrace(1.0, tuple(float(v) for v in sign * moved)))
    try:
        answer = read_ring(replace(gauge, most_force=None), RingReadings(traces, tuple(map(float, angles)), division))
    except InputError:
        # It hardly moves: the dial says nothing of it.
        return 1.0, 1.0
    whole = answer.clamped[0].error
    return max(whole**2 - answer.common**2, 0.0) ** 0.5, whole
