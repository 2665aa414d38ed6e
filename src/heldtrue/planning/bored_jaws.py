"""The finished part in jaws as they are bored for it: on the shop's ring, at the pressure of boring, without taper.

Contact, next taper and jaw cut all ask here: one setup has one taper.  Units: mm, N, MPa.
"""

from __future__ import annotations

from dataclasses import replace

from heldtrue.mechanics.jaw_shape import BoringRing
from heldtrue.planning.elastic import PartInJaws, part_in_jaws
from heldtrue.planning.jaw_layout import Layout, lay_out
from heldtrue.planning.study import Study
from heldtrue.tooling.ring import RingChoice
from heldtrue.tooling.ring_strength import Push


def as_bored(study: Study, bored: float, layout: Layout | None = None) -> PartInJaws:
    """The part in jaws bored at a gauge pressure ``bored`` [MPa].

    ``layout``: of the jaw cut where it is known; else the one of new jaws.  Without a ring that fits: the ring just
    below the seat that every plan takes.
    Raises: as ``Study``.
    """
    job = study.job
    force = job.static_grip(study.likely, bored) / job.jaws
    if layout is None and job.setup.boring is not None:
        layout = lay_out(job, push=ring_push(study, bored))
    kind = job.jaw_kind
    if layout is not None and layout.ring is not None:
        kind = replace(kind, ring=_where(layout.ring, kind.shape.height))
    part = study.finished
    bore = study.bore._replace(taper=0.0, force=force)
    return part_in_jaws(part.body, study.face, kind, part.fits, bore, part.surfaces, part.friction)


def as_bored_or_used(study: Study, pressure: float) -> PartInJaws:
    """The part in jaws bored at the pressure that the setup states, else at ``pressure``, at which they are used."""
    stated = study.job.setup.jaws.bored_pressure
    return as_bored(study, pressure if stated is None else stated)


def ring_push(study: Study, bored: float) -> Push:
    """The most the jaws may push on their ring while they are bored at a gauge pressure. [MPa]"""
    return Push(study.most_grip(study.best, bored) / study.job.jaws, study.job.jaws)


def _where(ring: RingChoice, top: float) -> BoringRing:
    """Where the ring stands on jaws so high; a bit of it may stand out."""
    low, high = ring.heights
    return BoringRing((min(max(low, 0.0), top - 1.0), min(high, top)))
