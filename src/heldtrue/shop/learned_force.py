"""Specific cutting force of a material as the spindle's power shows it: what plans of the same job take of it.

Units: N, mm, MPa, W, rev/min.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from heldtrue.errors import InputError
from heldtrue.inspection.learning import Accepted, Prior
from heldtrue.inspection.power_reading import PowerRead, specific_force
from heldtrue.mechanics.cutting import WEAR_UNKNOWN, cutting_force_range
from heldtrue.mechanics.materials import work_material
from heldtrue.planning.inputs import Job, prepare
from heldtrue.planning.loads import cutting_force, is_interrupted, wear_factor
from heldtrue.planning.ranges import SHARP, WORN
from heldtrue.planning.setup import Setup
from heldtrue.planning.stages import Stage
from heldtrue.records import ChuckRecord, Store
from heldtrue.shop.enter import chuck_in_use
from heldtrue.shop.learned import Knowledge, accept, agrees, learned_of, readings_of

UNLIKE = 1.4
"""Factor by which two jobs of one material differ in cutting force, 95 %: our own judgement, no source."""
NEAREST = 1.35
"""No plan counts on less than this times what the readings say in the middle, as far as the table goes: drive and edge
may be off the same way in all of them (0.95 for 0.85 of the power, 1.0 for 1.2 of a sharp edge)."""
EDGES: Mapping[str | None, tuple[float, float]] = {
    "sharp": SHARP, "worn": WORN, None: (WEAR_UNKNOWN.least, WEAR_UNKNOWN.most),
}  # fmt: skip
LEAST_WIDE = 1.12
"""A range is at least so wide, that it may be stated."""
SAME_DIAMETER = 1.05
"""A cut whose diameters differ by more than this factor asks which one was turned."""


def job_key(setup: Setup) -> str:
    """Material and job: readings of one job are of one batch and one tool."""
    return f"{_material(setup)} / {setup.part.number or setup.title}"


def _material(setup: Setup) -> str:
    return work_material(setup.part.material).key


@dataclass(frozen=True)
class CutRead:
    """Power of the spindle in a ``cut`` of a setup that was made as it says, and ``idle`` at the same ``speed`` [W,
    rev/min]; ``diameter`` that was turned [mm], None where the cut works on one alone."""

    cut: str
    power: float
    idle: float
    speed: float
    diameter: float | None = None


def force_reading(setup: Setup, read: CutRead, what: str = "") -> Accepted:
    """Specific cutting force kc1.1 [MPa].

    Raises: ``InputError`` for a cut that is not there or says too little, and as ``specific_force``.
    """
    job = prepare(setup)
    stage, cut, diameter = _stage(job, read.cut), read.cut, read.diameter
    if diameter is None:
        if stage.largest > SAME_DIAMETER * stage.smallest:
            raise InputError(f"cut '{cut}' works from Ø{stage.smallest:g} to Ø{stage.largest:g} mm: say the diameter "
                             "that was turned while the power was read")  # fmt: skip
        diameter = stage.largest
    elif not stage.smallest / SAME_DIAMETER <= diameter <= stage.largest * SAME_DIAMETER:
        raise InputError(f"diameter: found Ø{diameter:g} mm; cut '{cut}' works from Ø{stage.smallest:g} to "
                         f"Ø{stage.largest:g} mm")  # fmt: skip
    table = cutting_force_range(job.work).value
    values = {name: one.likely for name, one in job.known.items()}
    values |= {"cutting data": table, "interruption": 1.0}
    load = cutting_force(job, stage, values, diameter)
    # The force is straight in kc1.1 and in the state of the edge.
    at_one = max(abs(case.tangential) for case in load.cases) / (table * wear_factor(stage.cut, values, job))
    return specific_force(
        PowerRead(read.power, read.idle, read.speed, diameter), at_one, EDGES[stage.cut.wear], table, what
    )


def _stage(job: Job, name: str) -> Stage:
    found = next((one for one in job.stages if one.cut.name == name), None)
    if found is None:
        raise InputError(f'cut: found "{name}"; expected {", ".join(one.cut.name for one in job.stages)}')
    if found.cut.kind not in ("turn", "bore"):
        raise InputError(f"cut '{name}' is a {found.cut.kind} cut: its power changes on the way; read it in a "
                         "cut along the part")  # fmt: skip
    if is_interrupted(job, found.cut) is not False:
        raise InputError(f"cut '{name}' may be interrupted: a meter shows the mean of that, no force; read it in a "
                         "smooth cut, and say of it interrupted = false")  # fmt: skip
    return found


def accept_force(store: Store, card: ChuckRecord, setup: Setup, read: CutRead, by: str, at: datetime) -> list[str]:
    """Keep a reading with the chuck it was read on; in words what was kept.

    Raises: ``InputError`` for a reading that says nothing of the force; as ``Store.write``.
    """
    what = f"{read.power / 1000:.3g} kW in cut '{read.cut}', {read.idle / 1000:.3g} kW idle"
    reading = force_reading(setup, read, f"{what}, {at:%Y-%m-%d} {by}")
    accept(store, card, "cutting force", reading, by, at, style=job_key(setup))
    return [f"accepted for {job_key(setup)} on chuck {card.id}: {what}"]


def learned_force(store: Store, card: ChuckRecord, setup: Setup, *, alone: bool = False) -> Knowledge:
    """What is known of the cutting force of this job on this chuck; before its own readings from the shop's other jobs
    of the material, before those from the table; ``alone``: as in ``learned_of``."""
    material, table = _material(setup), cutting_force_range(work_material(setup.part.material))
    assumed = Prior(table.value, max(table.most / table.value, table.value / table.least))
    name = f"specific cutting force kc1.1 of {job_key(setup)} on chuck {card.id}"
    return learned_of(store, card, "cutting force", job_key(setup), name, assumed, UNLIKE,
                      lambda style: style.split(" / ", 1)[0] == material, alone=alone)  # fmt: skip


def with_learned_force(setup: Setup, store: Store) -> tuple[Setup, tuple[str, ...]]:
    """The setup with the cutting force as its job showed it, and in words what that is.

    Two readings that agree take away what the plan adds to the table's value, never more; any reading above the range
    stretches it.  Unchanged where the setup states the range itself, or nothing was read of this job on this chuck.
    """
    own, card = setup.assumptions, chuck_in_use(store, setup)
    if card is None or (own is not None and own.cutting_data is not None):
        return setup, ()
    rows = readings_of(store, card, "cutting force", job_key(setup))
    if not rows:
        return setup, ()
    known, table = (
        learned_force(store, card, setup, alone=True),
        cutting_force_range(work_material(setup.part.material)),
    )
    one, most = known.learned, max(row.value for row in rows)
    said = known.words(setup.units)
    if agrees(one):
        high = max(one.high, most, table.value, LEAST_WIDE * table.least, min(NEAREST * one.median, table.most))
    else:
        high = max(most, table.most)
        said += ": one reading alone, or some that do not agree, only makes plans more careful; take another"
    if round(high, 6) == round(table.most, 6):
        return setup, (said,)
    counted, by_table = (known.show(end, setup.units) for end in (high, table.most))
    said += f"; plans count with {counted}, by the table with {by_table}"
    ends = [f"{table.least:.6g} MPa", f"{high:.6g} MPa"]
    stated = {"range": ends, "reason": f"{one.source}, power of the spindle"}
    return setup.with_({"assumptions.cutting_data": stated}), (said,)
