"""Generated parts, each drawn in many ways as DXF and read again: volume, radii, time, and what was asked.

``python bench/part_drawings.py [--markdown]``
"""

from __future__ import annotations

import sys
from pathlib import Path
from random import Random
from statistics import median
from time import process_time

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "part_file"))
from drawings import INCH, UNSAID, Sheet, profile, volume_of

from heldtrue.errors import InputError
from heldtrue.part_file.choices import ChoiceNeededError, Choices
from heldtrue.part_file.dxf import read_dxf
from heldtrue.part_file.outline import Outline

PARTS = 40
WAYS: dict[str, tuple[Sheet, Choices]] = {
    "both halves, hatched": (Sheet(), Choices()),
    "one half, hatched": (Sheet(halves="upper"), Choices()),
    "lower half, one polyline": (Sheet(halves="lower", as_polyline=True), Choices()),
    "no centre line": (Sheet(centre=False), Choices()),
    "turned by 33 degrees, moved": (Sheet(angle=33, at=(412.7, -88.1)), Choices()),
    "upright": (Sheet(angle=90, at=(-40, 900)), Choices()),
    "inch": (Sheet(unit=25.4, code=INCH), Choices()),
    "no unit, said": (Sheet(code=UNSAID), Choices(units="mm")),
    "not hatched, no edges": (Sheet(hatched=False, edges=False), Choices()),
    "not hatched, edges": (Sheet(hatched=False), Choices()),
    "not hatched, edges, said": (Sheet(hatched=False), Choices(body="hollow")),
}


def part(random: Random) -> Outline:
    """A turned part with steps outside, a bore or none, roundings and chamfers."""
    while True:
        bore = random.choice((0.0, 0.0, random.uniform(10, 60)))
        corners: list[tuple[float, ...]] = [(bore, 0.0)]
        z, steps = 0.0, random.randint(1, 4)
        for _ in range(steps):
            diameter = round(bore + random.uniform(8, 120), 3)
            high = round(z + random.uniform(6, 60), 3)
            corners += [(diameter, z), (diameter, high)]
            z = high
        if random.random() < 0.5:
            d, high = corners.pop()
            corners += [(d, high - 1.5), (d - 3.0, high)]
        corners.append((bore, z))
        inner = [n for n in range(2, len(corners) - 1) if corners[n][1] == corners[n - 1][1]
                 and corners[n][0] < corners[n - 1][0] and corners[n][0] > bore]  # fmt: skip
        if inner and random.random() < 0.7:
            n = random.choice(inner)
            corners[n] = (*corners[n], round(random.uniform(0.5, 3.0), 2))
        try:
            return profile(*corners)
        except ValueError:
            continue


def main() -> None:
    random = Random(20)
    parts = [part(random) for _ in range(PARTS)]
    rows = []
    read_dxf("warm", Sheet().draw(parts[0]), Choices())
    for way, (sheet, choices) in WAYS.items():
        errors, radii, times, asked, refused, wrong = [], [], [], 0, 0, 0
        for outline in parts:
            content = sheet.draw(outline)
            start = process_time()
            try:
                found = read_dxf("part.dxf", content, choices).outline
            except ChoiceNeededError:
                asked += 1
                continue
            except InputError as error:
                refused += 1
                print(way, error, file=sys.stderr)
                continue
            finally:
                times.append(1000 * (process_time() - start))
            off = abs(found.volume / volume_of(outline) - 1)
            errors.append(off)
            wrong += off > 1e-6
            pairs = zip(sorted(a.radius for a in found.arcs), sorted(a.radius for a in outline.arcs), strict=False)
            radii += [abs(one - other) * 1000 for one, other in pairs]
            wrong += len(found.arcs) != len(outline.arcs)
        rows.append((way, len(errors), asked, refused, wrong, f"{max(errors, default=0):.1e}",
                     f"{max(radii, default=0):.1e}", f"{median(times):.0f}", f"{max(times):.0f}"))  # fmt: skip
    head = ("way", "read", "asked", "refused", "wrong", "volume off by", "radii, µm", "median, processor ms", "most")
    if "--markdown" in sys.argv:
        print("| " + " | ".join(head) + " |\n" + "|---" * len(head) + "|")
    for row in rows if "--markdown" in sys.argv else (head, *rows):
        print("| " + " | ".join(map(str, row)) + " |" if "--markdown" in sys.argv else "  ".join(map(str, row)))


if __name__ == "__main__":
    main()
