"""Does a turning cutting force make the part creep in its jaws below the load at which it lets go?

    python bench/walking.py              the table, about two minutes
    python bench/walking.py --markdown   the same table for docs/theory.md

For every roughing cut that needs at least half the grip of the heaviest: how far below the static limit the part stops
creeping (shakedown), and how far it creeps in a turn at the factors of the published rule, grip at rest over the grip
that the cut needs with the values of that rule.  Both ends of the cut are tried, and the one that creeps at the higher
factor is shown: the static limit of two places can be the same and the creep not.  The model is ``walking_model.py``.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

import numpy as np
from walking_model import Array, Springs, in_jaws, turned, turning, walk

if TYPE_CHECKING:
    from heldtrue.mechanics.holding import Grip
    from heldtrue.planning.loads import Load
    from heldtrue.planning.study import Study

EXAMPLES = Path(__file__).parent.parent / "examples"
PARTS = {
    "pump sleeve": "pump-sleeve-inch",
    "winch shaft": "winch-shaft",
    "wear ring": "wear-ring",
    "gland flange": "gland-flange",
}
FACTORS = (2.5, 2.0, 1.5, 1.25)
SOFT = (1 / 3, 1.0)
"""Stiffness round and along over the radial one: ``STICKING_SHARE`` of the plan, and as stiff as radially."""
TURNS, STEPS, RAMP, LAST = 20, 48, 2, 4
NOTHING_UM = 0.01
"""Movement in a turn below which the part counts as still, own choice: 10 micrometres in a thousand turns."""
HIGHEST = 6.0
"""Factor at which every part is expected to be still; the search for shakedown starts here."""
AT_ONCE = 10
"""Factors tried in one go; twice, so a limit is found to 2 %."""


@dataclass(frozen=True)
class Row:
    """One cut with the tool at one place.

    ``reach`` from mid grip to the tool, over the grip's radius; ``collapse``: load at which this model lets go, over
    the limit that ``holding`` gives; per softness: ``shakedown``, load at which creep stops, over the limit of the cut,
    and ``creep`` [um/turn] by factor, NaN where the part lets go.
    """

    part: str
    cut: str
    reach: float
    failure: str
    collapse: float
    shakedown: tuple[float, ...]
    creep: tuple[tuple[float, ...], ...]


def springs_of(study: Study, grip: Grip) -> Springs:
    """The springs of a part in its jaws; the stiffness of chuck and jaw is that of the plan."""
    from heldtrue.planning.study import CHUCK_STIFFNESS

    face = 1 / study.finished.jaw_radial_compliance
    both = 1 / (1 / face + 1 / CHUCK_STIFFNESS)
    middle = np.array([0.0, 0.0, grip.middle])
    seat = np.zeros((0, 3))
    if grip.seat is not None:
        z, inner, outer = grip.seat
        at = np.add.outer(2 * np.pi / grip.jaws * np.arange(grip.jaws), [-grip.half_angle, grip.half_angle]).ravel()
        seat = np.array([[r * np.cos(a), r * np.sin(a), z] for r in (inner, outer) for a in at]) - middle
    return in_jaws(
        grip.points - middle, grip.radius, grip.side == "inside", grip.jaws, grip.friction, seat,
        actuator=CHUCK_STIFFNESS, face=face, tangential=both,
    )  # fmt: skip


def collapse(springs: Springs, wrench: Array, jaws: int, need: float, angles: int = 8) -> float:
    """Load over the one that ``need`` just holds at which the part lets go, tool at rest, worst of the angles."""
    sizes = np.concatenate([np.linspace(0.02, 0.8, 40), np.arange(0.801, 1.2, 0.001)])
    at = turned(wrench, 2 * np.pi / jaws * np.arange(angles) / angles, jaws)
    done = walk(springs, sizes[:, None, None] * at, [need] * angles, [1.0] * angles)
    return float(np.append(sizes, np.nan)[done.let_go].min())


def creep(springs: Springs, wrench: Array, jaws: int, grips: Sequence[float], soft: Sequence[float]) -> Array:
    """Movement of the gripped surface round and along in a turn, mean of the last ones, by case; NaN: let go. [um]"""
    done = walk(springs, turning(wrench, jaws, TURNS, STEPS, RAMP), grips, soft)
    moved = done.moved[-1] - done.moved[-1 - LAST * STEPS]
    return 1000 / LAST * np.hypot(moved[:, 5], moved[:, 2])


def measure(part: str, load: Load, need: float, grip: Grip, springs: Springs) -> Row:
    """One place of a cut that needs a grip ``need`` [N]: all factors in one go, then finer round where creep begins."""
    from heldtrue.mechanics.holding import holding

    limit = holding(grip, load.wrench)
    wrench = load.wrench.about(grip.middle, grip.radius)

    def at(factors: Sequence[Sequence[float]]) -> Array:
        """Creep at as many factors per softness, shape (softness, factors)."""
        soft = np.repeat(SOFT, len(factors[0]))
        return creep(springs, wrench, grip.jaws, np.ravel(factors) * need, soft).reshape(len(SOFT), -1)

    coarse = np.geomspace(1.05, HIGHEST, AT_ONCE)
    found = at([np.append(coarse, FACTORS)] * len(SOFT))
    between = [_last_moving(coarse, row) for row in found[:, :AT_ONCE]]
    finer = [np.geomspace(low, high, AT_ONCE) for low, high in between]
    still = [_last_moving(f, row)[1] for f, row in zip(finer, at(finer), strict=True)]
    return Row(
        part, load.name, (load.reach - grip.middle) / grip.radius, limit.failure,
        collapse(springs, wrench, grip.jaws, limit.required(1.0)),
        tuple(1 / factor for factor in still), tuple(tuple(row[AT_ONCE:]) for row in found),
    )  # fmt: skip


def _last_moving(factors: Array, moved: Array) -> tuple[float, float]:
    """The highest factor at which the part moves (or lets go), and the next above it."""
    moving = np.flatnonzero(~(moved < NOTHING_UM))
    last = int(moving[-1]) if len(moving) else 0
    if last == len(factors) - 1:
        raise RuntimeError(f"still creeping at factor {factors[-1]:.2f}")
    return float(factors[last]), float(factors[last + 1])


def rows() -> Iterator[Row]:
    from heldtrue.planning.setup import Setup
    from heldtrue.planning.study import Study

    for part, file in PARTS.items():
        study = Study.of(Setup.from_toml(EXAMPLES / f"{file}.toml"))
        values = study.holds.published
        grip = study.holds.grip(values["friction"], values["seat"] > 0)
        springs = springs_of(study, grip)
        needs = {cut.name: _places(study, cut.name, grip) for cut in study.job.setup.cuts if not cut.finishing}
        heaviest = max(need for places in needs.values() for need, _ in places)
        for places in needs.values():
            need = max(need for need, _ in places)
            if need >= heaviest / 2:
                found = [measure(part, load, need, grip, springs) for _, load in places]
                yield min(found, key=lambda row: min(row.shakedown))


def _places(study: Study, cut: str, grip: Grip) -> list[tuple[float, Load]]:
    """The load that needs most grip at each end of a cut, with that grip. [N]"""
    from heldtrue.mechanics.holding import holding
    from heldtrue.planning.loads import loads_of

    found: dict[float, tuple[float, Load]] = {}
    for load in loads_of(study.job, cut, study.holds.published, study.speed):
        need = holding(grip, load.wrench).required(1.0)
        if load.reach not in found or need > found[load.reach][0]:
            found[load.reach] = (need, load)
    return list(found.values())


HEAD = (
    "part, cut",
    "reach from mid grip, in grip radii",
    "gives way by",
    "lets go at, of the static limit",
    "creep stops at, of the static limit",
    *(f"µm a turn at factor {factor:g}" for factor in FACTORS),
)


def cells(row: Row) -> tuple[str, ...]:
    """One row in words; a range goes from the softest to the stiffest grip round and along."""

    def creeps(values: Sequence[float]) -> str:
        words = ["lets go" if np.isnan(v) else "0" if v < NOTHING_UM else f"{v:.1f}" for v in values]
        return words[0] if len(set(words)) == 1 else " to ".join(words)

    return (
        f"{row.part}, {row.cut}",
        f"{row.reach:.1f}",
        row.failure,
        f"{row.collapse:.2f}",
        " to ".join(f"{s:.2f}" for s in row.shakedown),
        *(creeps(values) for values in zip(*row.creep, strict=True)),
    )


def main() -> None:
    if "--markdown" in sys.argv[1:]:
        print("| " + " | ".join(HEAD) + " |\n|" + "---|" * len(HEAD))
        for row in rows():
            print("| " + " | ".join(cells(row)) + " |", flush=True)
        return
    print(
        f"{'part, cut':32} {'reach':>5} {'gives way':11} {'lets go':>7} {'still':>12}",
        *(f"{f'x {f:g}':>14}" for f in FACTORS),
    )
    for row in rows():
        name, reach, failure, goes, still, *creeps = cells(row)
        print(
            f"{name:32} {reach:>5} {failure:11} {goes:>7} {still:>12}", *(f"{word:>14}" for word in creeps), flush=True
        )
    print(
        "Reach: from mid grip, in grip radii.  Lets go and still: load over the static limit.  Then micrometres a turn."
    )


if __name__ == "__main__":
    main()
