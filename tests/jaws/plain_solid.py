"""The volume of a cut jaw by plain integration over its radius: written apart from the program, knows no kernel.

A jaw of height H has, at radius r, an arc of length L(r) in plan, and metal of height h(r) over it: V = ∫ L h dr, less
the same over its bolt holes.  [mm, rad]
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import asin, inf, pi, sin

import numpy as np
from scipy.integrate import quad


@dataclass(frozen=True)
class PlainBlock:
    """A jaw in plan: its ``low`` and ``high`` end from the axis; ``tip``: pointed; ``pie`` with its ``gap``."""

    jaws: int
    low: float
    high: float
    width: float = inf
    tip: bool = False
    pie: bool = False
    gap: float = 0.0

    def arc(self, r):
        """Length of the jaw on a circle about the axis."""
        sector = pi / self.jaws
        if self.pie:
            reach = max(sector - asin(min(self.gap / 2 / r, 1.0)), 0.0)
            return 2 * r * reach if self.low <= r <= self.high else 0.0
        most = asin(min(self.width / 2 / r, 1.0))
        if self.tip:  # y <= (x - low) tan(sector)
            most = min(most, sector - asin(self.low * sin(sector) / r) if r > self.low else 0.0)
        else:
            most = min(most, np.arccos(min(self.low / r, 1.0)))
        least = np.arccos(min(self.high / r, 1.0))
        return 2 * r * max(most - least, 0.0)

    def kinks(self):
        """Radii where the arc changes its kind."""
        half = self.width / 2
        if self.pie:
            tip = self.gap / 2 / sin(pi / self.jaws)
            return [max(self.low, tip), self.high]
        knee = self.low + half / np.tan(pi / self.jaws) if self.tip else self.low
        return [self.low, self.high, float(np.hypot(knee, half)), float(np.hypot(self.high, half)), half]


def cut_away(design, grip):
    """How much of a column at a radius is cut away, as a function, and its kinks: from the dimensions alone.

    ``grip``: its ends above the seat, over which the taper is told.
    """
    out = 1.0 if design.side == "outside" else -1.0
    (low, high), (wide, deep), chamfer, back = grip, design.relief, design.mouth_chamfer, design.seat_relief

    def wall(above):  # counted towards the metal: a radius for an outside grip, less than nothing for an inside one
        return out * design.diameter / 2 - design.taper * (above - low) / (high - low)

    mouth, top = wall(design.depth) + chamfer, wall(design.depth - chamfer)
    foot, corner = wall(wide), out * design.diameter / 2 + deep
    land = -inf if design.land is None else out * design.land[0 if out > 0 else 1] / 2
    slant, tall = np.tan(np.radians(design.run_in)), design.depth - chamfer - wide

    def share(u, start, end):  # of a stretch that runs straight from start to end, what lies open at u
        least, most = min(start, end), max(start, end)
        return 1.0 if u <= least else 0.0 if u >= most else (most - u) / (most - least)

    def gone(r):
        u = out * r
        relief = wide if u <= foot else 0.0 if u >= corner else wide - (u - foot) / slant
        behind = min(land - u, back) if u < land else 0.0
        return chamfer * share(u, top, mouth) + tall * share(u, foot, top) + relief + behind

    return gone, [abs(one) for one in (mouth, top, foot, corner, land, land - back) if np.isfinite(one)]


def volume(block, design, grip, bolts=()):
    """Of one jaw, its ``bolts`` (place, hole, head, head depth) taken out as far as they lie in metal."""
    gone, kinks = cut_away(design, grip)

    def over(arc, height, places):
        within = [one for one in sorted({*places, *kinks}) if min(places) <= one <= max(places)]
        return sum(quad(lambda r: arc(r) * (height - gone(r)), a, b, epsabs=1e-8, epsrel=1e-12, limit=200)[0]
                   for a, b in pairwise(within) if b - a > 1e-12)  # fmt: skip

    total = over(block.arc, design.height, block.kinks())
    for place, hole, head, deep in bolts:
        reach = head / 2

        def disc(r, place=place, reach=reach):  # length of a circle about the axis inside the pocket
            return 2 * r * np.arccos(np.clip((r**2 + place**2 - reach**2) / (2 * r * place), -1.0, 1.0))

        total -= over(disc, deep, [place - reach, place + reach]) + pi / 4 * hole**2 * (design.height - deep)
    return total
