"""Where else the part of a setup could be held."""

from heldtrue.planning.profiles import section_of
from heldtrue.planning.setup import Setup

LEAST_GRIP_MM = 3.0


def grips(setup: Setup) -> tuple[tuple[str, float, tuple[float, float]], ...]:
    """The stated grip, and the longest cylinder on the other side that no cut of this operation machines.

    Each as side, diameter and z from, to. [mm]
    """
    grip = setup.grip
    stated = (grip.side, grip.diameter, grip.z)
    other = "inside" if grip.side == "outside" else "outside"
    section = section_of(setup.part.profile)
    kind = {"outside": ("turn", "groove", "thread", "part_off"), "inside": ("bore", "drill", "tap")}[other]
    machined = {s.diameter for s in setup.surfaces if s.side == other}
    machined |= {cut.diameter for cut in setup.cuts if cut.kind in kind and cut.diameter is not None}
    best: tuple[float, float, tuple[float, float]] | None = None
    for diameter in sorted({2 * r for r, _ in section.corners if r > 0} - machined):
        for low, high in section.spans(other, diameter / 2):
            high = min(high, max(grip.z[1], low + LEAST_GRIP_MM))
            if high - low >= LEAST_GRIP_MM and (best is None or high - low > best[0]):
                best = (high - low, diameter, (low, high))
    return (stated,) if best is None else (stated, (other, best[1], best[2]))
