"""One part in its jaws on a base of any stiffness: what a feeler and a print would show, what they say of the base.

The base is what a top jaw stands on; the tilt of the master jaw in its guide stands for all of it [N mm/rad].
The taper that is needed is linear in 1 / tilt: two solutions, the usual base and a rigid one, give every other.  Units:
mm, N.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import log

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import InputError
from heldtrue.inspection.learning import Accepted
from heldtrue.inspection.taper import FEELER_MM, PRINT_MM, Bearing
from heldtrue.mechanics.contact import Contact
from heldtrue.planning.elastic import Fit, Meeting, PartInJaws, part_in_jaws
from heldtrue.planning.fitting import needed_taper
from heldtrue.planning.study import Study
from heldtrue.tooling.jaws import BASE

Array = NDArray[np.float64]

RIGID = 1e30
"""Tilt stiffness of a base that does not give."""
REACH = 100.0
"""A base is looked for up to this many times softer and stiffer than usual: our own judgement, no source."""
MODEL_SHARE = 0.1
"""How far the rest of the model may be off, one standard uncertainty: our own judgement, no source."""
LEAST_BANDS = 1.5
"""A print must run over more than that many bands of the model."""
CONTACT_SHARE = 1e-3
"""A band below this share of the peak pressure does not touch."""


@dataclass(frozen=True)
class OnBase:
    """The finished part of a study in its jaws, middle of the tolerance: on the ``usual`` base, that of the plan, and
    on a ``rigid`` one."""

    study: Study
    usual: PartInJaws
    rigid: PartInJaws

    @classmethod
    def of(cls, study: Study) -> OnBase:
        """Solve the jaw on a rigid base beside the usual one."""
        kind, part = study.job.jaw_kind, study.finished
        stiff = replace(kind, base=replace(kind.base, tilt=RIGID))
        return cls(study, part, part_in_jaws(part.body, part.face, stiff, part.fits, part.bore, ()))

    @property
    def fit(self) -> Fit:
        """The part in the middle of its tolerance."""
        return self.usual.fits[len(self.usual.fits) // 2]

    @property
    def length(self) -> float:
        """The gripped length. [mm]"""
        edges = self.usual.face.stations.edges
        return float(edges[-1] - edges[0])

    def needed(self, tilt: float, force: float) -> float:
        """Taper per side that keeps an even pressure even, one jaw pressed with ``force`` [N]. [mm]"""
        rigid, usual = needed_taper(self.rigid, force), needed_taper(self.usual, force)
        return rigid + (usual - rigid) * self._softer(tilt)

    def contact(self, tilt: float, taper: float, force: float) -> Contact:
        """One jaw with ``taper`` per side [mm] pressed with ``force`` [N], with the friction of the plan."""
        part = self.usual
        meeting = Meeting(self.fit, part.bore._replace(taper=taper), tilt, part.friction)
        return part.meet(meeting, force * part.face.jaws)

    @property
    def tilt(self) -> float:
        """Tilt stiffness the plan takes. [N mm/rad]"""
        return self.study.job.jaw_kind.base.tilt

    def _softer(self, tilt: float) -> float:
        return self.tilt / tilt


def end_gap(contact: Contact, at_tip: bool) -> float:
    """What a feeler finds at one end of the grip: the straight line through the last two bands. [mm]"""
    stations = contact.face.stations
    middles, gaps = np.asarray(stations.middles), np.maximum(contact.gap.min(axis=1), 0.0)
    edge = float(stations.edges[-1 if at_tip else 0])
    if len(middles) < 2:
        return float(gaps[0])
    near, far = (-1, -2) if at_tip else (0, 1)
    slope = (gaps[near] - gaps[far]) / (middles[near] - middles[far])
    return float(max(gaps[near] + slope * (edge - middles[near]), 0.0))


def print_length(contact: Contact, from_tip: bool) -> float:
    """How far a print runs from one end: to where the pressure, drawn on in a straight line, is gone. [mm]"""
    stations = contact.face.stations
    edges = np.asarray(stations.edges, float)
    middles, pressure = np.asarray(stations.middles, float), np.asarray(contact.pressure.max(axis=1), float)
    if from_tip:
        middles, pressure, start, end = -middles[::-1], pressure[::-1], -edges[-1], -edges[0]
    else:
        start, end = edges[0], edges[-1]
    off = np.flatnonzero(pressure <= CONTACT_SHARE * pressure.max())
    last = len(middles) - 1 if off.size == 0 else int(off[0]) - 1
    if last < 0:
        return 0.0
    if last == 0:
        return float(middles[0] - start)
    fall = (pressure[last - 1] - pressure[last]) / (middles[last] - middles[last - 1])
    bound = end if last == len(middles) - 1 else middles[last + 1]
    gone = bound if fall <= 0 else middles[last] + pressure[last] / fall
    return float(min(gone, bound) - start)


def base_reading(model: OnBase, seen: Bearing, force: float, taper: float, what: str) -> Accepted:
    """The tilt stiffness at which the model shows what was seen, with its relative standard uncertainty.

    ``seen``: a gap by feeler, else a print; ``taper`` of the jaws per side [mm]; ``force`` of one jaw [N].
    Raises: ``InputError`` where no base shows that, or where the reading hardly depends on the base.
    """
    if seen.touch == "all along" or (seen.gap is None and seen.touch_length is None):
        raise InputError("a jaw that bears all along says nothing of what it stands on: take a gap with a feeler, or "
                         "the length of a print that ends before the grip does")  # fmt: skip
    at_tip = seen.touch == "base"
    least = LEAST_BANDS * model.length / len(model.usual.face.stations.bands)
    if seen.gap is None and (seen.touch_length or 0.0) < least:
        raise InputError(
            f"a print shorter than {least:.1f} mm cannot be told from a still shorter one: take the gap with a feeler"
        )
    observed, step = (seen.gap, FEELER_MM / 2) if seen.gap is not None else (seen.touch_length or 0.0, PRINT_MM)

    def shown(tilt: float) -> float:
        contact = model.contact(tilt, taper, force)
        return end_gap(contact, at_tip) if seen.gap is not None else print_length(contact, not at_tip)

    tilt = _solved(shown, observed)
    if tilt is None:
        ends = sorted(shown(BASE.tilt * by) for by in (1 / REACH, REACH))
        raise InputError(
            f"found {observed:.3f} mm; with {force:.0f} N on each jaw and a taper of {taper:.3f} mm no base shows more "
            f"than {ends[1]:.3f} mm or less than {ends[0]:.3f} mm: check reading, pressure and taper"
        )
    beside = [_solved(shown, observed + sign * step) for sign in (-1.0, 1.0)]
    spreads = [abs(log(other / tilt)) for other in beside if other is not None]
    relative = float(np.hypot(max(spreads, default=np.inf), MODEL_SHARE))
    if len(spreads) < 2 and relative < 1.0:
        relative = 1.0  # one end of the reading fits no base: it bounds more than it measures
    if relative > 1.5:
        raise InputError("this reading hardly depends on what the jaws stand on: taller jaws, more pressure tell more")
    return Accepted(tilt, relative, what)


def _solved(shown: Callable[[float], float], observed: float) -> float | None:
    from scipy.optimize import brentq

    low, high = log(BASE.tilt / REACH), log(BASE.tilt * REACH)

    def off(x: float) -> float:
        return shown(float(np.exp(x))) - observed

    if off(low) * off(high) >= 0:
        return None
    return float(np.exp(brentq(off, low, high, xtol=1e-4)))
