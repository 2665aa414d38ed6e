"""What these pages ask of a worker process: a ring, its papers, forces behind readings, friction behind slips."""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.inspection.friction_reading import Way
from heldtrue.inspection.ring_design import Asked, RingDesign
from heldtrue.inspection.ring_reading import RingAnswer, RingGauge, RingReadings
from heldtrue.planning.entries import Chuck
from heldtrue.planning.setup import Setup
from heldtrue.quantities import UnitSystem
from heldtrue.shop.gauge_rings import FrictionTrial
from heldtrue.web.trouble import Trouble, told


@dataclass(frozen=True)
class Made:
    """A designed ring with its drawing and its files."""

    design: RingDesign
    drawing: str
    files: dict[str, bytes]


@told
def ring_made(asked: Asked, system: UnitSystem, gauge: str) -> Made | Trouble:
    """The ring that is asked for, and all that goes with it."""
    from heldtrue.drawing.gauge_ring_drawing import ring_svg
    from heldtrue.inspection.ring_design import design_ring
    from heldtrue.sheets.gauge_ring_sheet import ring_folder

    made = design_ring(asked)
    files = ring_folder(made, system, "us-letter" if system == "inch" else "a4", gauge)
    whole = {name: one.encode() if isinstance(one, str) else one for name, one in files.items()}
    return Made(made, ring_svg(made, system, gauge), whole)


@told
def ring_designed(asked: Asked) -> RingDesign | Trouble:
    """The ring that is asked for."""
    from heldtrue.inspection.ring_design import design_ring

    return design_ring(asked)


@told
def ring_read(gauge: RingGauge, readings: RingReadings, chuck: Chuck) -> RingAnswer | Trouble:
    """The forces behind readings that fit this ring and this chuck."""
    from heldtrue.inspection.ring_reading import read_ring

    return read_ring(gauge, readings, chuck.max_grip_force)


@told
def friction_read(
    setup: Setup, pressure: float, way: Way, values: tuple[float, ...], error: float | None
) -> FrictionTrial | Trouble:
    """Friction behind slips [N mm or N] of the part of a setup, clamped at a gauge pressure [MPa]."""
    from heldtrue.shop.gauge_rings import friction_tried

    return friction_tried(setup, pressure, way, values, error)
