"""Finished parts with a known taper of jaws and machine, read as a setter reads them.  Written apart from the program.

Ø at the front (away from the chuck) less Ø at the back; mm.
"""

PLANS = {
    "one part": ((1.0, "free", 1),),
    "one part at each of two pressures": ((1.0, "free", 1), (0.5, "free", 1)),
    "the same, and one in the chuck": ((1.0, "free", 1), (0.5, "free", 1), (1.0, "clamped", 1)),
    "two parts at each of two pressures": ((1.0, "free", 2), (0.5, "free", 2)),
    "three parts at each of two pressures": ((1.0, "free", 3), (0.5, "free", 3)),
    "one part in the chuck and after release": ((1.0, "free", 1), (1.0, "clamped", 1)),
    "three parts in the chuck and after release": ((1.0, "free", 3), (1.0, "clamped", 3)),
}
"""(share of the pressure, state, how often) of each plan."""
LARGE_MM = (0.01, 0.03)


class TaperedPart:
    """Neither, the machine, the jaws, or both leave a taper of ``large``; the rest about 0.001 of either sign."""

    def __init__(self, rng, large=LARGE_MM, law=(0.7, 1.3), noise=(0.001, 0.0025)):
        self.rng, kind = rng, int(rng.integers(4))
        self.machine, self.jaws = (
            rng.choice([-1, 1]) * rng.uniform(*large) if kind & bit else rng.normal(0, 0.001) for bit in (1, 2)
        )
        self.law, self.noise = rng.uniform(*law), rng.uniform(*noise)

    def read(self, plan):
        """(front, back, share of the pressure, state) of each part, to 0.001."""
        found = []
        for share, state, times in PLANS[plan]:
            for _ in range(times):
                taper = self.machine + (self.jaws * share**self.law if state == "free" else 0.0)
                front, back = (60.0 + size + self.rng.normal(0, self.noise) for size in (taper, 0.0))
                found.append((round(front, 3), round(back, 3), share, state))
        return found

    def is_wrong(self, told, parted):
        """Is what was told as sure not so?"""
        small, large = sorted((abs(self.machine), abs(self.jaws)))
        return {
            "jaws": abs(self.jaws) < abs(self.machine), "machine": abs(self.machine) < abs(self.jaws),
            "both": small < 0.003, "open": False,
            "none": (large if parted else abs(self.machine + self.jaws)) > 0.01,
        }[told]  # fmt: skip
