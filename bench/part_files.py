"""Parts from STEP files: 40 sections x upright and tilted x two writers, and how long a large file takes.

python bench/part_files.py [FILE.stp ...]      further files are read, timed and told, such as a published test model
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
import time
from math import cos, hypot, sin
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tests" / "part_file"))

from netgen.occ import ArcOfCircle, Axis, Face, Pnt, Segment, Wire, X, Z  # noqa: E402
from plain_step import TILTED, Style, write  # noqa: E402
from step_solids import block, drill, pin, step_of, tilted, turned  # noqa: E402

from heldtrue.errors import HeldtrueError  # noqa: E402
from heldtrue.part_file.choices import Choices  # noqa: E402
from heldtrue.part_file.outline import Arc, Outline, OutlineCorner, closed  # noqa: E402
from heldtrue.part_file.step import read_step, section_of  # noqa: E402

PARTS = 40
STYLES = [
    {"surfaces": surfaces, "curves": curves, "halves": halves}
    for surfaces in ("analytic", "revolved", "spline")
    for curves in ("circle", "trimmed", "spline")
    for halves in (True, False)
]


def section(rng: random.Random) -> Outline:
    """A random part: steps outside and inside, tapers, roundings, solid or bored."""
    while True:
        bore = rng.choice([0.0, rng.uniform(8, 30)])
        z, corners = 0.0, [OutlineCorner(bore, 0.0)]
        for _ in range(rng.randint(1, 5)):
            r, end = bore + rng.uniform(5, 60), rng.uniform(0, 8) if rng.random() < 0.3 else 0.0
            corners.append(OutlineCorner(r, z, rng.choice([None, None, rng.uniform(0.5, 2)])))
            z += rng.uniform(6, 30)
            corners.append(OutlineCorner(max(r - end, bore + 1), z, rng.choice([None, None, rng.uniform(0.5, 2)])))
        corners.append(OutlineCorner(bore, z))
        if bore and rng.random() < 0.5:
            corners += [OutlineCorner(bore, z / 2), OutlineCorner(bore / 2, z / 2), OutlineCorner(bore / 2, 0.0)]
            corners = corners[1:]
        try:
            return closed(corners)
        except HeldtrueError:
            continue


def solid(outline: Outline):
    """The same part by the kernel."""
    edges = []
    for piece in outline.pieces:
        ends = [Pnt(r, 0, z) for r, z in (piece.start, piece.end)]
        if isinstance(piece, Arc):
            begin, walked = piece.turn
            middle = begin + walked / 2
            r, z = (c + piece.radius * f(middle) for c, f in zip(piece.centre, (cos, sin), strict=True))
            edges.append(ArcOfCircle(ends[0], Pnt(r, 0, z), ends[1]))
        else:
            edges.append(Segment(*ends))
    return Face(Wire(edges)).Revolve(Axis((0, 0, 0), Z), 360)


def milled(body, outline: Outline, rng: random.Random):
    """Some of a keyway, a cross hole, an axial hole and a flat; and how many of them there are."""
    high, most = outline.z[1], max(r for r, _ in outline.polygon(0.1))
    low = min(r for r, _ in outline.polygon(0.1))
    kinds = rng.sample(["hole", "flat", "cross"], rng.randint(0, 3))
    if "hole" in kinds and most - low > 14:
        body = body - pin(2, high + 2, -1, (most + low) / 2, 0)
    if "flat" in kinds:
        body = body - block((-200, most - 1.0, -1), (200, 200, high + 1))
    if "cross" in kinds:
        body = body - drill(1.5, (0, 0, high / 2), -X, 200)
    return body


def offs(found: Outline, wanted: Outline) -> tuple[float, float]:
    """Relative error of the volume, and the largest distance between corners. [mm]"""
    low = found.z[0] - wanted.z[0]
    corners = [p.start for p in wanted.pieces]
    mine = [(p.start[0], p.start[1] - low) for p in found.pieces]
    if abs(found.z[0] - wanted.z[0]) > 1e-9 and not _near(mine, corners):  # the tilt may have turned the axis round
        top = found.z[1] + wanted.z[0]
        mine = [(p.start[0], top - p.start[1]) for p in found.pieces]
    far = max(min(hypot(a - c, b - d) for c, d in mine) for a, b in corners)
    return abs(found.volume / wanted.volume - 1), far


def _near(mine, corners) -> bool:
    return all(min(hypot(a - c, b - d) for c, d in mine) < 1e-2 for a, b in corners)


def table() -> None:
    rows: dict[tuple[str, str], list] = {}
    listed = faces = 0
    for number in range(PARTS):
        rng = random.Random(number)
        outline = section(rng)
        body = milled(solid(outline), outline, rng)
        for tilt in (False, True):
            style = Style(**STYLES[(2 * number + tilt) % len(STYLES)], inch=number % 2 == 0, degree=number % 3 == 0,
                          **(TILTED if tilt else {}))  # fmt: skip
            for writer, content in (
                ("kernel", step_of(tilted(body) if tilt else body)),
                ("plain", write(outline.pieces, style)),
            ):
                place = "tilted" if tilt else "upright"
                row = rows.setdefault((writer, place), [0, 0, 0.0, 0.0, 0.0])
                row[0] += 1
                try:
                    begin = time.process_time()
                    part = read_step("part.step", content, Choices(), measured=writer == "kernel")
                    row[4] = max(row[4], time.process_time() - begin)
                    volume, far = offs(part.outline, outline)
                    row[2], row[3] = max(row[2], volume), max(row[3], far)
                    row[1] += volume > 1e-6 or far > 1e-3
                    listed += len(part.not_turned)
                    faces += bool(part.not_turned)
                except HeldtrueError as error:
                    row[1] += 1
                    print(f"part {number} {writer} {place}: {error}")
    print(f"{'writer':8} {'place':8} {'parts':>5} {'wrong':>5} {'volume off':>11} {'corner off':>11} {'longest':>9}")
    for (writer, place), (count, wrong, volume, far, longest) in sorted(rows.items()):
        print(f"{writer:8} {place:8} {count:5} {wrong:5} {volume:11.1e} {1000 * far:8.4f} um {1000 * longest:6.0f} ms")
    print(f"{listed} things listed as not turned on {faces} files")


def large() -> bytes:
    """A shaft of 5 MB: grooves upon grooves."""
    corners = [(10.0, 0.0)]
    for k in range(596):
        z, r, ground = 2.0 * k, 30 + k % 7 * 0.5, 28 - k % 3 * 0.5
        corners += [(r, z), (r, z + 1), (ground, z + 1), (ground, z + 2)]
    return step_of(turned([*corners, (10.0, 2.0 * 596)]))


def timed(name: str, content: bytes) -> None:
    times, said = [], ""
    for _ in range(5):
        begin = time.process_time()
        try:
            found = section_of(name, content, Choices(units="inch"))
            said = f"{len(found.faces)} faces, {len(found.turned.closed.outline.pieces)} lines and arcs"
        except HeldtrueError as error:
            said = str(error)
        times.append(time.process_time() - begin)
    size = f"{name}: {len(content) / 1e6:.2f} MB"
    print(f"{size}, text to section {min(times):.3f} s at best, {times[0]:.3f} s first; {said}")


def whole(name: str, content: bytes) -> None:
    """The whole reading on the clock: with the kernel's measure of the solid, and with that kept."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["HELDTRUE_CACHE"] = folder
        times = []
        for _ in range(4):
            begin = time.perf_counter()
            read_step(name, content)
            times.append(time.perf_counter() - begin)
    print(f"{name}: whole reading {times[0]:.2f} s first (the kernel measures), {min(times[1:]):.2f} s again (kept)")


def yardstick() -> float:
    """How fast this machine is just now: ten million additions. [s]"""
    begin, total = time.process_time(), 0
    for k in range(10_000_000):
        total += k
    return time.process_time() - begin


if __name__ == "__main__":
    table()
    print(f"yardstick {yardstick():.2f} s")
    shaft, hub = large(), step_of(turned([(10, 0), (40, 0), (40, 12), (20, 12), (20, 50), (10, 50)]))
    timed("shaft.step", shaft)
    whole("shaft.step", shaft)
    whole("hub.step", hub)
    for path in sys.argv[1:]:
        timed(Path(path).name, Path(path).read_bytes())
