"""The next taper cut of the jaws of a setup, from what feeler, bluing and finished parts showed.  Units: mm, N, MPa."""

from __future__ import annotations

from dataclasses import dataclass
from math import log, log1p

from heldtrue.errors import InputError
from heldtrue.inspection.learning import Accepted
from heldtrue.inspection.taper import Bearing, NextTaper, check_seen, next_taper
from heldtrue.planning.fitting import print_words
from heldtrue.planning.ranges import BASE_READ_SPREAD
from heldtrue.planning.result import CAUTIONS
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.window import finishing_pressure
from heldtrue.sentences import sentence
from heldtrue.shop.jaw_base import OnBase
from heldtrue.shop.jaw_lean import BaseKnown, base_reading, lean_of
from heldtrue.shop.learned import BASE_PRIOR, Knowledge
from heldtrue.shop.part_cause import PartCause, Parts, part_cause, share_of, split_of

WIDE_MM = 0.03
"""An interval of the change wider than this asks for another look."""


@dataclass(frozen=True)
class NextCut:
    """The next cut beside the plan.

    ``taper_now`` of the jaws, ``by_plan``: what the plan alone would cut in all, ``by_contact``: change that makes the
    contact model show what was seen on its likeliest base, all per side [mm]; ``plan_print``: contact
    print the plan computes after the cut; ``force`` of one jaw [N] at ``pressure`` [MPa]; ``stiffness`` of jaw and part
    per area [MPa/mm]; ``base_from``: where the stiffness of what the jaws stand on comes from; ``part``: why finished
    parts are tapered, None where none was read.
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
    part: PartCause | None
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def next_cut(
    setup: Setup, seen: Bearing | None, taper: float | None = None, known: Knowledge | None = None,
    parts: Parts | None = None,
) -> NextCut:  # fmt: skip
    """The taper to cut next, jaws clamped at the pressure the setup states, else at the one advised for the finish.

    ``seen``: None where nobody looked at the jaws, then ``parts`` must be there; ``taper`` the jaws have now, per side
    [mm]; that of the setup if left out; ``known``: what the readings of the chuck say of the base of its jaws;
    ``parts``: sizes of finished parts.
    Raises: ``InputError`` for readings that cannot be.
    """
    if seen is None and parts is None:
        raise InputError("say what was seen of the jaws, or what was read of finished parts")
    at = _Clamped.of(setup, seen, taper)
    study, pressure, force, model, taper_now = at.study, at.pressure, at.force, at.model, at.taper
    base, base_from = _base(setup, known)
    share = None
    if parts is not None:
        surface, split = split_of(study, parts, pressure)
        share = share_of(study, split, surface, force)
    lean = lean_of(model, seen, force, taper_now, base, share)
    found = next_taper(seen, model.length, lean.change, taper=taper_now)
    # What is there now, by what was seen; the cut takes off of it.
    left = lean.change.value - (found.per_side - taper_now)
    shown = model.contact(lean.tilt, model.needed(lean.tilt, force) - left, force)
    by_plan = model.needed(base.median, force)
    part = None
    if parts is not None:
        part = part_cause(study, model, lean, parts, surface, split, pressure, taper_now)
    return NextCut(
        setup=setup, found=found, taper_now=taper_now, by_plan=by_plan, by_contact=lean.by_contact,
        plan_print=print_words(shown), grip_length=model.length, pressure=pressure, pressure_from=at.pressure_from,
        force=force, stiffness=model.stiffness(lean.tilt), base_from=base_from, part=part,
        notes=_notes(found, taper_now, by_plan, setup, seen),
    )  # fmt: skip


def reading_of(setup: Setup, seen: Bearing, what: str, taper: float | None = None) -> Accepted:
    """What a feeler or a print says of the base, jaws clamped at the pressure of the setup's run or of the finish."""
    at = _Clamped.of(setup, seen, taper)
    return base_reading(at.model, seen, at.force, at.taper, what)


@dataclass(frozen=True)
class _Clamped:
    """The jaws while somebody looks at them: at ``pressure`` [MPa], each with ``force`` [N], of ``taper`` per side
    [mm]."""

    study: Study
    pressure: float
    pressure_from: str
    force: float
    model: OnBase
    taper: float

    @classmethod
    def of(cls, setup: Setup, seen: Bearing | None, taper: float | None) -> _Clamped:
        """Raises: ``InputError`` for readings that cannot be."""
        study = Study.of(setup)
        pressure, pressure_from = finishing_pressure(study)
        model = OnBase.of(study, pressure)
        check_seen(seen, model.length)
        force = study.finishing_grip(pressure) / study.job.jaws
        return cls(study, pressure, pressure_from, force, model, (setup.jaws.taper or 0.0) if taper is None else taper)


def _base(setup: Setup, known: Knowledge | None) -> tuple[BaseKnown, str]:
    """What is known of the base before this reading, and where that comes from."""
    if known is not None and known.learned.count:
        return BaseKnown.of_learned(known.learned), f"stiffness of the base {known.learned.source}"
    stated = setup.jaws.base_tilt
    if stated is not None:
        ends = setup.jaws.base_tilt_range
        spread = log1p(BASE_READ_SPREAD) / 2 if ends is None else log(ends[1] / ends[0]) / 4
        return BaseKnown(stated, spread), "stiffness of the base as the setup states it"
    return (
        BaseKnown.of_prior(BASE_PRIOR),
        "stiffness of the base assumed: no reading of this chuck and jaw style was accepted",
    )


def _notes(found: NextTaper, taper_now: float, by_plan: float, setup: Setup, seen: Bearing | None) -> tuple[str, ...]:
    notes = []
    if seen is None:
        notes.append("nobody looked at how the jaws bear: this taper is the plan's, with what the parts say; take a "
                     "feeler to the jaws before cutting them")  # fmt: skip
    left = by_plan - taper_now
    if not found.stop and not found.low <= left <= found.high:
        notes.append(
            sentence(
                "the plan alone would change it by {:+.3f mm} per side: go by the reading, and accept it "
                "with heldtrue learn, so that the next answer knows these jaws",
                left,
            )
        )
    if seen is not None and found.from_gap and seen.touch_length is None and found.high - found.low > WIDE_MM:
        notes.append("blue the jaws, too: how far the print runs narrows this")
    if setup.jaws.taper is None and taper_now == 0.0:
        notes.append("no taper is stated: the jaws are taken as bored straight")
    if setup.jaws.bored_pressure is None:
        notes.append("bored_pressure is not given: the jaws are taken as bored at the pressure of use")
    notes.append("bore or skim, wipe, clamp the part at the same pressure, read again: one cut, one reading")
    return tuple(notes)
