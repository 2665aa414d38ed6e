"""What a boring ring carries: the jaws push it at as many places as there are jaws, at the pressure they are cut at.

Forces in N, lengths in mm, stresses in MPa.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin, tan

YIELD_MPA = 235.0
"""Yield strength a ring counts with: plain structural steel, whatever the shop made it of (EN 10025-2, from memory)."""
SAFETY = 1.5
"""Yield strength over the greatest stress: common practice, no source."""
SCREW_N = 15e3
"""What one set screw of a spider counts with: M10 with 10 mm of thread in that steel, half of what shears its thread
(0.58 x 235 MPa on 0.75 pi 10 x 10 mm2, own estimate); nobody stated its screws."""


@dataclass(frozen=True)
class Push:
    """How hard the jaws push on the ring: the most of one jaw [N], and how many there are."""

    force: float
    jaws: int

    @property
    def words(self) -> str:
        """The force as it is said."""
        return f"{self.force / 1000:.1f} kN ({self.force / 4.4482:.0f} lbf)"


def ring_stress(push: Push, bears: float | None, inside: float, outside: float, width: float) -> float:
    """Greatest stress in a ring under the jaws, bending and hoop together. [MPa]

    ``bears``: angle [rad] from a jaw's middle to where it bears, half the push on either side, 0 in its middle; None
    for round ends that bear all round, which do not bend it.  A plug has none worth naming.
    Moment of a thin ring under N equal radial loads P at an angle x from midway between two: P R / 2 (cos x / sin t -
    1 / t) with t = pi / N (Roark's Formulas for Stress and Strain, 7th ed., table 9.2 case 7, from memory).
    """
    if inside <= 0:
        return 0.0
    wall, radius = (outside - inside) / 2, (outside + inside) / 4
    hoop = push.force * push.jaws / (2 * pi)
    if bears is None:
        return hoop / (width * wall)
    at, step = pi / push.jaws, 2 * pi / push.jaws

    def moment(angle: float) -> float:
        """Of one half of the pushes, at an angle from one of them."""
        from_midway = (angle - at) % step
        x = min(from_midway, step - from_midway)
        return push.force / 2 * radius / 2 * (cos(x) / sin(at) - 1 / at)

    around = [step * number / 180 for number in range(180)]
    worst = max(abs(moment(angle - bears) + moment(angle + bears)) for angle in (*around, bears, -bears))
    largest_hoop = max(hoop, push.force / 2 / tan(at) if push.jaws > 2 else push.force / 2)
    return 6 * worst / (width * wall**2) + largest_hoop / (width * wall)


def too_weak(kind: str, push: Push | None, bears: float | None, inside: float, outside: float, width: float) -> str:
    """Why a ring does not carry the jaws; empty where it does, or where it is not known how hard they push."""
    if push is None:
        return ""
    if kind == "spider":
        if push.force > SCREW_N:
            return (
                f"a jaw pushes {push.words} on a set screw, which counts with {SCREW_N / 1000:g} kN: "
                "a lower pressure, or a plug or ring"
            )
        return ""
    stress, most = ring_stress(push, bears, inside, outside, width), YIELD_MPA / SAFETY
    if stress > most:
        return f"its wall would bend under {push.words} a jaw: {stress:.0f} MPa, {most:.0f} are allowed; a thicker one"
    return ""
