"""A jaw that shares no line with the program: a beam on a turning foot, with a soft skin, against a stiff part.

Bending and shear of a straight beam (any textbook), a spring of springs (Winkler) for what gives at the face.  Bored
straight while a ring pushes it; then pressed on the part.  Units: mm, N, MPa, rad.
"""

from dataclasses import dataclass

import numpy as np

POINTS = 80


@dataclass(frozen=True)
class WorldJaw:
    """``seat``: height of the grip's foot above the base, ``length`` of the grip, ``depth`` of the jaw along r.

    ``width`` across; ``foot`` [N mm/rad]; ``skin`` [MPa/mm] of jaw and part; ``ring``: height at which it was bored,
    while ``pushed`` [N].
    """

    seat: float
    length: float
    depth: float
    width: float
    young: float
    foot: float
    skin: float
    ring: float
    pushed: float

    @property
    def z(self):
        """Middles of the points over the grip, from its foot."""
        return (np.arange(POINTS) + 0.5) * self.length / POINTS

    def moves(self, at, push_at):
        """How far the jaw moves at heights ``at`` for 1 N at heights ``push_at``."""
        a, b = np.meshgrid(np.asarray(at, float), np.asarray(push_at, float), indexing="ij")
        low, high = np.minimum(a, b), np.maximum(a, b)
        inertia, area = self.width * self.depth**3 / 12, self.width * self.depth
        bent = low**2 * (3 * high - low) / (6 * self.young * inertia)
        sheared = low / (self.young / 2.6 * area / 1.2)
        return bent + sheared + a * b / self.foot

    def give(self):
        """How far each point of the face moves for 1 N at each."""
        heights = self.seat + self.z
        skin = np.eye(POINTS) / (self.skin * self.width * self.length / POINTS)
        return self.moves(heights, heights) + skin

    def unbent(self):
        """How much closer the free jaw stands than it was bored."""
        return self.moves(self.seat + self.z, [self.ring])[:, 0] * self.pushed

    def needed(self, force):
        """Taper per side over the grip that keeps an even pressure even."""
        opened = self.give() @ np.full(POINTS, force / POINTS) - self.unbent()
        return float(np.polyfit(self.z, opened, 1)[0] * self.length)

    def press(self, taper, force):
        """Gap and force at each point."""
        start, give = -self.unbent() - taper * self.z / self.length, self.give()
        on = np.ones(POINTS, bool)
        for _ in range(200):
            ones = np.ones(on.sum())
            inside = np.linalg.inv(give[np.ix_(on, on)])
            level = (force + ones @ inside @ start[on]) / (ones @ inside @ ones)
            load = np.zeros(POINTS)
            load[on] = inside @ (level - start[on])
            gap = start + give @ load - level
            wrong = (load < -1e-9) | (~on & (gap < -1e-9))
            if not wrong.any():
                return gap, load
            on = (on & (load > 0)) | (~on & (gap < -1e-9))
        raise AssertionError("no contact found")
