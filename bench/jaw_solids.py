"""Cuts drawn sets of jaws as solids and holds each against plain integration; and what the files of the examples take.

Run by hand: ``python bench/jaw_solids.py --sets 1000``.  Every third set was cut before.  Of a set drawn without an
earlier cut or a groove the volume is integrated apart from the program; of every one the triangles must close and lie
within the chord, and its STEP text read back must have the same volume.
"""

from __future__ import annotations

import argparse
import itertools
import os
import random
import sys
import tempfile
import time
from collections import Counter, defaultdict
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parent.parent))

import netgen.occ as occ
import trimesh

from heldtrue.drawing.exchange import step_text
from heldtrue.errors import GeometryError, HeldtrueError
from heldtrue.mechanics.cut_jaw import cut_solid, whole_set
from heldtrue.mechanics.facets import facets
from heldtrue.planning.inputs import prepare
from heldtrue.planning.jaw_layout import lay_out
from heldtrue.planning.jaw_solid import CHORD_MM, cut_jaw
from tests.jaws.compare import _cut_before
from tests.jaws.draw import drawn
from tests.jaws.plain_solid import PlainBlock, volume

ROOT = Path(__file__).parent.parent
TAPERS = (0.0, 0.03, -0.02)


class Found:
    """What became of the drawn sets."""

    def __init__(self) -> None:
        self.kinds: Counter[str] = Counter()
        self.wrong: list[str] = []
        self.refused: list[str] = []
        self.worst: dict[str, float] = defaultdict(float)

    def note(self, name: str, value: float) -> None:
        self.worst[name] = max(self.worst[name], value)


def look_at(seed: int, found: Found) -> None:
    """One seed."""
    try:
        setup = drawn(seed)
        job = prepare(setup)
        layout, cut = lay_out(job), None
        if seed % 3 == 2 and not layout.refusals:
            setup, job, layout, cut = _cut_before(seed, setup, job, layout)
        design = None if layout.refusals else layout.design(random.Random(seed).choice(TAPERS))
    except HeldtrueError:
        return
    if design is None:
        return
    jaws, hardware = setup.jaws, layout.hardware
    pointed = "pointed " if jaws.inner_end == "pointed" else ""
    after = ", used" if cut else ", groove" if layout.ring.groove else ""
    kind = f"{pointed}{jaws.style}, {setup.grip.side}{after}"
    try:
        jaw = cut_jaw(design.profile, setup.grip.side, hardware, layout.ring)
        solid = cut_solid(jaw)
        made = facets(solid, CHORD_MM)
    except GeometryError as error:
        found.refused.append(f"seed {seed}, {kind}: {error}")
        return
    found.kinds[kind] += 1
    mesh = trimesh.Trimesh(made.points, made.triangles)
    if not mesh.is_watertight or abs(made.volume - solid.mass) > CHORD_MM * mesh.area:
        found.wrong.append(f"seed {seed}, {kind}: the triangles do not close, or enclose {made.volume:.1f} mm3")
    found.note("triangles off the jaw, mm", made.off)
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "jaws.step"
        path.write_text(step_text(whole_set(jaw, solid), "jaws", ()), encoding="ascii")
        back = [one.mass for one in occ.OCCGeometry(str(path)).shape.solids]
    if len(back) != jaw.jaws:
        found.wrong.append(f"seed {seed}, {kind}: {len(back)} solids read back of {jaw.jaws}")
    found.note("volume read back, share off", max(abs(one / solid.mass - 1) for one in back))
    if cut is None and layout.ring.groove is None:
        zero = layout.ring.way.zero
        low, high = (zero + end for end in jaws.ends)
        block = PlainBlock(jaw.jaws, low, high, jaws.width or 0.0, jaws.inner_end == "pointed",
                           jaws.style == "pie", jaws.gap or 0.0)  # fmt: skip
        holes = jaws.holes
        apart = all(b - a > hardware.blank.pocket[0] for a, b in itertools.pairwise(sorted(holes)))
        if apart and _in_metal(block, zero, holes, hardware.blank.pocket[0] / 2):
            bolts = [(zero + at, hardware.bolt.hole, *hardware.blank.pocket) for at in holes]
            off = abs(solid.mass / volume(block, design, setup.grip.z, bolts) - 1)
            found.kinds["volume integrated"] += 1
            found.note("volume by integration, share off", off)
            if off > 1e-8:
                found.wrong.append(f"seed {seed}, {kind}: volume off by {off:.2g} of it")


def _in_metal(block, zero, holes, reach) -> bool:  # type: ignore[no-untyped-def]
    """Do the pockets lie in the blank with all of their edge?"""
    import numpy as np

    for at in holes:
        turn = np.linspace(0, 2 * np.pi, 181)
        x, y = zero + at + reach * np.cos(turn), reach * np.sin(turn)
        away = np.hypot(x, y)
        inside = [abs(np.arctan2(b, a)) * 2 * r < block.arc(r) for a, b, r in zip(x, y, away, strict=True)]
        if not all(inside):
            return False
    return True


def times() -> list[tuple[str, str, str, str, str, str]]:
    """Process and files of each example that has its jaws."""
    from heldtrue.drawing.solids import make_solids
    from heldtrue.planning.boring import bore
    from heldtrue.planning.setup import Setup

    rows = []
    for name in ("wear-ring", "winch-shaft", "gland-flange"):
        plan = bore(Setup.from_toml(ROOT / "examples" / f"{name}.toml"))
        for chord in (0.05, 0.01, 0.001):
            taken = []
            for _ in range(3):
                start = time.perf_counter()
                made = make_solids(plan, chord)
                taken.append(time.perf_counter() - start)
            sizes = [len(one) / 1000 for one in made.files.values()]
            rows.append((name, f"{chord:g}", f"{made.told.triangles}", f"{made.told.off:.5f}",
                         " + ".join(f"{one:.0f}" for one in sizes), f"{sorted(taken)[1]:.2f}"))  # fmt: skip
    return rows


def main() -> None:
    """Draw sets and say what became of them; then the examples."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=1000)
    parser.add_argument("--first", type=int, default=10_000)
    asked = parser.parse_args()
    found, start = Found(), time.monotonic()
    for seed in range(asked.first, asked.first + asked.sets):
        look_at(seed, found)
    print(f"| jaws, of {asked.sets} drawn sets | cut as solids |\n|---|---|")
    for kind, count in sorted(found.kinds.items()):
        print(f"| {kind} | {count} |")
    for name, value in found.worst.items():
        print(f"worst: {name}: {value:.3g}")
    print(f"{len(found.refused)} refused in words, {len(found.wrong)} wrong, {time.monotonic() - start:.0f} s")
    print("\n".join(found.refused + found.wrong), file=sys.stderr)
    print("\n| example | chord, mm | triangles | off, mm | STEP + STL, kB | process, s |\n|---|---|---|---|---|---|")
    for row in times():
        print(f"| {' | '.join(row)} |")
    sys.exit(1 if found.wrong else 0)


if __name__ == "__main__":
    main()
