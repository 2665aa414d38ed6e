"""The next taper cut of the jaws of a setup, from what a feeler or the bluing showed.  Units: mm, N, MPa."""

from __future__ import annotations

from dataclasses import dataclass
from math import sin

from scipy.optimize import brentq

from heldtrue.errors import InputError
from heldtrue.inspection.learning import Accepted
from heldtrue.inspection.taper import LEAST_CUT_MM, Bearing, NextTaper, next_taper
from heldtrue.planning.fitting import print_words
from heldtrue.planning.jaw_contact import contact_of
from heldtrue.planning.result import CAUTIONS
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.shop.jaw_base import OnBase, base_reading, end_gap, print_length
from heldtrue.shop.learned import Knowledge

MOST_LEAN = 2.0
"""The jaw is leant by no more than this over the grip to find a print [mm]: no jaw is out by more."""

LEAST_LEAN = 1e-4
"""A lean under this over the grip [mm] is none."""


@dataclass(frozen=True)
class NextCut:
    """The next cut beside the plan.

    ``taper_now`` of the jaws, ``by_plan``: what the plan alone would cut in all, ``by_contact``: change that makes the
    plan's contact show what was seen, all per side [mm]; ``plan_print``: contact
    print the plan computes after the cut; ``force`` of one jaw [N] at ``pressure`` [MPa]; ``stiffness`` of jaw and part
    per area [MPa/mm]; ``base_from``: where the stiffness of what the jaws stand on comes from.
    """

    setup: Setup
    found: NextTaper
    taper_now: float
    by_plan: float
    by_contact: float
    plan_print: str
    grip_length: float
    pressure: float
    pressure_from: str
    force: float
    stiffness: float
    base_from: str
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def next_cut(setup: Setup, seen: Bearing, taper: float | None = None, known: Knowledge | None = None) -> NextCut:
    """The taper to cut next, jaws clamped at the pressure the setup states, else at the one advised for the finish.

    ``taper`` the jaws have now, per side [mm]; that of the setup if left out; ``known``: what the readings of the chuck
    say of the base of its jaws.
    Raises: ``InputError`` for readings that cannot be.
    """
    study = Study.of(setup)
    planned = contact_of(study)
    force = planned.grip / study.job.jaws
    model = OnBase.of(study)
    taper_now = taper if taper is not None else (setup.jaws.taper or 0.0)
    measured = known is not None and known.learned.count > 0
    tilt = known.learned.median if known is not None and measured else model.tilt
    needed = model.needed(tilt, force)
    width = 2 * study.job.grip_radius * sin(study.job.half_angle)
    next_taper(seen, model.length, force=force, width=width, stiffness=1.0)  # refuses what cannot be in its own words
    lean = _lean(model, seen, tilt, needed, force)
    stiffness = 2 * force * model.length / (width * _wanted(model, seen) ** 2 * max(lean, LEAST_LEAN))
    found = next_taper(seen, model.length, taper=taper_now, force=force, width=width, stiffness=stiffness)
    by_contact = 0.0 if seen.touch == "all along" else lean if seen.touch == "base" else -lean
    # The plan is put right by what was seen: the jaw needs what it has and what is still missing.
    shown = model.contact(tilt, needed - (taper_now + found.change - found.per_side), force)
    return NextCut(
        setup=setup, found=found, taper_now=taper_now, by_plan=needed, by_contact=by_contact,
        plan_print=print_words(shown), grip_length=model.length, pressure=planned.pressure,
        pressure_from=planned.pressure_from, force=force,
        stiffness=stiffness,
        base_from=f"stiffness of the base {known.learned.source}" if known is not None and measured
        else "stiffness of the base assumed: no reading of this chuck and jaw style was accepted",
        notes=_notes(found, by_contact, taper_now, needed, setup),
    )  # fmt: skip


def reading_of(setup: Setup, seen: Bearing, what: str, taper: float | None = None) -> Accepted:
    """What a feeler or a print says of the base, jaws clamped at the pressure of the setup's run or of the finish."""
    study = Study.of(setup)
    force = contact_of(study).grip / study.job.jaws
    return base_reading(OnBase.of(study), seen, force, taper if taper is not None else (setup.jaws.taper or 0.0), what)


def _wanted(model: OnBase, seen: Bearing) -> float:
    """Length of the print that the stiffness is taken at: as seen, or just short of the grip. [mm]"""
    band = model.length / (2 * len(model.usual.face.stations.bands))
    return min(seen.touch_length or model.length, model.length - band)


def _lean(model: OnBase, seen: Bearing, tilt: float, needed: float, force: float) -> float:
    """Lean over the grip at which the contact of the plan shows what was seen: the gap, else the print. [mm]

    Raises: ``InputError`` for what no lean shows.
    """
    from_tip = seen.touch == "tip"
    by_gap = seen.gap is not None and seen.touch != "all along"
    wanted = _wanted(model, seen)

    def off(lean: float) -> float:
        contact = model.contact(tilt, needed + (lean if from_tip else -lean), force)
        if by_gap:
            return (seen.gap or 0.0) - end_gap(contact, not from_tip)
        return print_length(contact, from_tip) - wanted

    if off(MOST_LEAN) > 0:
        raise InputError(
            f"found a gap of {seen.gap:.3f} mm; no jaw leans enough for that: check it" if by_gap else
            f"touch length: found {wanted:.1f} mm; no jaw leans enough for so short a print: check it"
        )  # fmt: skip
    return 0.0 if off(0.0) <= 0 else float(brentq(off, 0.0, MOST_LEAN, xtol=1e-5))


def _notes(found: NextTaper, by_contact: float, taper_now: float, needed: float, setup: Setup) -> tuple[str, ...]:
    notes = []
    if found.from_gap and abs(by_contact) > abs(found.change) + LEAST_CUT_MM:
        notes.append(
            f"part and jaw give way where they touch and hide a part of the gap: by the contact model it takes "
            f"{by_contact:+.3f} mm per side; cut what the feeler says, read again, then the rest"
        )
    left = needed - taper_now
    if not found.stop and not min(found.low, found.high) <= left <= max(found.low, found.high):
        notes.append(
            f"the plan alone would change it by {left:+.3f} mm per side: go by the reading, and accept it with "
            "heldtrue learn, so that the next answer knows these jaws"
        )
    if setup.jaws.taper is None and taper_now == 0.0:
        notes.append("no taper is stated: the jaws are taken as bored straight")
    if setup.jaws.bored_pressure is None:
        notes.append("bored_pressure is not given: the jaws are taken as bored at the pressure of use")
    notes.append("bore or skim, wipe, clamp the part at the same pressure, read again: one cut, one reading")
    return tuple(notes)
