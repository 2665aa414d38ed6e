"""How the jaws bear on the part: the contact print as set up, the taper to cut, the diameters to bore to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heldtrue.errors import InputError
from heldtrue.planning.fitting import (
    FitAdvice,
    FrictionForm,
    TaperAdvice,
    advise_fit,
    advise_taper,
    friction_forms,
)
from heldtrue.planning.known import ASSUMED, Known
from heldtrue.planning.result import CAUTIONS, ContactPrint
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.window import finishing_pressure

RESTS_ON = ("jaw base", "grip share", "threshold")
"""Inputs that move a contact print; those nobody stated are said."""


@dataclass(frozen=True)
class JawContact:
    """The contact of part and jaws at the finishing pressure.

    ``pressure``: gauge [MPa], ``pressure_from``: where it came from, in words; ``grip``: likely total grip at the
    finishing speed [N]; ``taper`` and ``bores``: what cutting the jaws another way would do; ``friction``:
    form of each surface by the friction in the jaws; ``rests_on``: the assumed inputs that move it.
    """

    setup: Setup
    pressure: float
    pressure_from: str
    grip: float
    taper: TaperAdvice
    bores: FitAdvice
    friction: tuple[FrictionForm, ...]
    rests_on: tuple[Known, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS

    @property
    def prints(self) -> tuple[ContactPrint, ...]:
        """Smallest, middle and largest part in the jaws as set up."""
        return self.bores.nominal.prints


def contact(setup: Setup) -> JawContact:
    """How the jaws of one setup bear on the part.

    At the pressure the setup states for its run, else at the one advised for the finish.
    Raises: ``InputError`` for a setup that cannot be planned, or a pressure at which the jaws do not grip.
    """
    return contact_of(Study.of(setup))


def contact_of(study: Study) -> JawContact:
    """The same of a study whose expensive parts may be known already."""
    job = study.job
    pressure, pressure_from = finishing_pressure(study)
    if job.static_grip(study.likely, pressure) <= 0:
        raise InputError("run: pressure: the jaws do not grip at it; it is not above what is lost before they do")
    return JawContact(
        setup=job.setup,
        pressure=pressure,
        pressure_from=pressure_from,
        grip=study.finishing_grip(pressure),
        taper=advise_taper(study, pressure),
        bores=advise_fit(study, pressure),
        friction=friction_forms(study, pressure),
        rests_on=tuple(job.known[n] for n in RESTS_ON if n in job.known and job.known[n].source == ASSUMED),
        notes=_notes(study, pressure),
    )


def peak_over_mean(one: ContactPrint) -> float:
    """Highest pressure over the mean of the face; where the part has no surface there is no face."""
    areas = np.outer(np.diff(one.z_edges), np.diff(one.angle_edges))
    there = np.isfinite(one.pressure)
    total = float((one.pressure[there] * areas[there]).sum())
    return float(one.peak * areas[there].sum() / total)


def _notes(study: Study, pressure: float) -> tuple[str, ...]:
    setup, found = study.job.setup, []
    plates = [p for p in (setup.chuck.actuator.max_pressure, setup.chuck.max_pressure) if p is not None]
    if plates and pressure > min(plates):
        found.append("the pressure is above what the plates of cylinder and chuck allow")
    if not study.job.size_is_stated:
        found.append("no tolerance of the gripped diameter is stated: what its surface usually has is assumed")
    if setup.jaws.bored_pressure is None:
        found.append("bored_pressure is not given: the jaws are taken as bored at the pressure of use")
    if not setup.surfaces:
        found.append("no machined surface is named: form says nothing about the bores")
    return tuple(found)
