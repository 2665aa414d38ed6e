"""Friction as it was tried in this shop: what plans of the same material, surface and jaws take of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import exp, log

from heldtrue.mechanics.materials import friction_range, jaw_material, work_material
from heldtrue.planning.setup import Setup
from heldtrue.records import FrictionReading, Store

FRESH_DAYS = 365
"""A friction tried longer ago may only make a plan more careful; common practice, no source."""
NARROWEST = 1.02
"""A range has some width."""
NEWEST = 8
"""Trials of one pairing that are looked at."""
FACE, SURFACE = "smooth", "ground"
"""What plans take an unstated face of jaws, or surface of a part, for: the pairing that holds least."""


@dataclass(frozen=True)
class Pairing:
    """What rubs on what: materials by their keys, ``surface`` of the part and ``face`` of the jaws."""

    material: str
    surface: str
    jaw_material: str
    face: str

    @classmethod
    def of(cls, one: FrictionReading) -> Pairing:
        """What a trial was of."""
        return cls(one.material, one.surface, one.jaw_material, one.face)


def pairing(setup: Setup) -> Pairing:
    """Part and jaws of a setup."""
    return Pairing(
        work_material(setup.part.material).key, setup.part.surface_condition or SURFACE,
        jaw_material(setup.jaws.material).key, setup.jaws.face or FACE,
    )  # fmt: skip


def with_friction(setup: Setup, store: Store, now: datetime) -> tuple[Setup, tuple[str, ...]]:
    """The setup with the friction that was tried, and in words what that is; unchanged without a trial that fits.

    Every trial counts at its own low end, so one wrong one can only make a plan more careful than the others would.
    None promises more than the table's best.  A dry trial says nothing good of a part that may be wet, an old one
    nothing good of today, and a friction that the setup states is only ever lowered.
    """
    rows = friction_rows(setup, store)
    if not rows:
        return setup, ()
    group = work_material(setup.part.material).group
    table = friction_range(group, setup.jaws.face or FACE, setup.part.surface_condition or SURFACE)
    good = any(_says_good(one, setup, now) for one in rows)
    low, high = min(one.low for one in rows), max(one.high for one in rows)
    likely = exp(sum(log(one.likely) for one in rows) / len(rows))
    stated = _stated(setup)
    before = stated or (table.least, table.most)
    if stated is not None or not good:
        if low >= before[0]:
            return setup, () if stated else _why_not(rows)
        high = max(low, before[1])
    else:
        low, high = min(low, table.most), min(high, table.most)
    high = max(high, NARROWEST * low)
    likely = min(max(likely, low), high)
    newest = rows[-1]
    changes = {"jaws.friction_range": [low, high], "jaws.friction": likely}
    return setup.with_(changes), (
        f"friction {low:.2f} to {high:.2f} from {len(rows)} trial{'s' if len(rows) > 1 else ''} of this pairing in the "
        f"records, the newest of {newest.at:%Y-%m-%d}",
        *(() if good else _why_not(rows)),
    )


def friction_rows(setup: Setup, store: Store) -> list[FrictionReading]:
    """The newest trials of the pairing of a setup, oldest first."""
    wanted = pairing(setup)
    rows = store.events(FrictionReading, material=wanted.material)
    return [one for one in rows if Pairing.of(one) == wanted][-NEWEST:]


def _says_good(row: FrictionReading, setup: Setup, now: datetime) -> bool:
    """May a trial promise more than the table?"""
    return (row.oiled or setup.part.oily is False) and now - row.at <= timedelta(days=FRESH_DAYS)


def _stated(setup: Setup) -> tuple[float, float] | None:
    if setup.jaws.friction_range is not None:
        return setup.jaws.friction_range
    return None if setup.jaws.friction is None else (setup.jaws.friction, setup.jaws.friction)


def _why_not(rows: Sequence[FrictionReading]) -> tuple[str, ...]:
    """Why trials say nothing good."""
    newest = rows[-1]
    why = f"it is over {FRESH_DAYS} days old" if newest.oiled else "it was tried dry, and the part may be wet"
    return (f"the friction tried on {newest.at:%Y-%m-%d} can only make this plan more careful: {why}; try it again",)
