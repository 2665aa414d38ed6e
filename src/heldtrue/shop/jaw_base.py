"""One part in its jaws on a base of any stiffness: what a feeler and a print would show.

The base is what a top jaw stands on; the tilt of the master jaw in its guide stands for all of it [N mm/rad].  The lean
of a jaw is how far its tip stands from the part, over the grip, beside a jaw that bears evenly.  Units: mm, N.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heldtrue.mechanics.contact import Contact
from heldtrue.planning.bored_jaws import as_bored_or_used
from heldtrue.planning.elastic import Fit, Meeting, PartInJaws
from heldtrue.planning.fitting import needed_taper
from heldtrue.planning.study import Study

Array = NDArray[np.float64]

CONTACT_SHARE = 1e-3
"""A band below this share of the peak pressure does not touch."""


@dataclass(frozen=True, eq=False)
class OnBase:
    """The finished part of a study in jaws as they are bored for it, middle of the tolerance."""

    study: Study
    part: PartInJaws

    @classmethod
    def of(cls, study: Study, pressure: float) -> OnBase:
        """The jaws bored as the setup says, else at ``pressure``, at which they are used. [MPa]"""
        return cls(study, as_bored_or_used(study, pressure))

    @property
    def fit(self) -> Fit:
        """The part in the middle of its tolerance."""
        return self.part.fits[len(self.part.fits) // 2]

    @property
    def length(self) -> float:
        """The gripped length. [mm]"""
        edges = self.part.face.stations.edges
        return float(edges[-1] - edges[0])

    @property
    def band(self) -> float:
        """Mean length of a band of the model. [mm]"""
        return self.length / len(self.part.face.stations.bands)

    @property
    def tilt(self) -> float:
        """Tilt stiffness the plan takes. [N mm/rad]"""
        return self.part.tilt

    def needed(self, tilt: float, force: float) -> float:
        """Taper per side that keeps an even pressure even, one jaw pressed with ``force`` [N]. [mm]"""
        return needed_taper(self.part, force, tilt)

    def contact(self, tilt: float, taper: float, force: float) -> Contact:
        """One jaw with ``taper`` per side [mm] pressed with ``force`` [N], with the friction of the plan."""
        return self.contacts([(tilt, taper)], force)[0]

    def contacts(self, asked: Sequence[tuple[float, float]], force: float) -> list[Contact]:
        """The same for many pairs of tilt stiffness [N mm/rad] and taper per side [mm], solved together."""
        part = self.part
        return part.meet_each(
            [
                (Meeting(self.fit, part.bore._replace(taper=taper), tilt, part.friction), force * part.face.jaws)
                for tilt, taper in asked
            ]
        )

    def stiffness(self, tilt: float) -> float:
        """Stiffness of jaw and part together under an even pressure, per area. [MPa/mm]"""
        face = self.part.face
        weights = face.areas * face.along
        give = (self.part.on_base(tilt)[0] @ np.ones(face.areas.size)).reshape(face.areas.shape)
        return float(weights.sum() / (give * weights).sum())


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
