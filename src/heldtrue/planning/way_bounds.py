"""What a way to hold can give at the most, found without its jaws: never less than its full plan gives.

The pressure that the cuts need is looked for among the worst cases that are nearest at hand, so it is at most what the
plan needs.  The form is that of rigid jaws bored to the part, times ``RIGID_SHARE``: less than any jaw of steel or
aluminium leaves (measured on the examples: docs/theory.md, section 10).
"""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.planning.elastic import Bore, Fit, part_in_jaws
from heldtrue.planning.judge import Step, asked_tolerances, holding_margin, tolerance_limits
from heldtrue.planning.study import Study
from heldtrue.planning.window import floors, highest_pressure, steady_floor

RIGID_SHARE = 0.9
AIM = 1.5
"""A plan advises at most so many times the least pressure."""
SLACK = 0.05
"""A pressure that is advised is rounded to a mark of the gauge."""


@dataclass(frozen=True)
class Bound:
    """The best that may be hoped for of a way.

    ``floor``: the least pressure that its cuts need; ``finish_floor``: that of the finishing cuts alone; ``top``: the
    most that the plates allow [MPa]; ``floor_by``: name of the check; ``form``: the least share of the
    allowed form that is used up at ``finish_floor``, of ``surface``; ``hold``: margin of holding; ``window``: highest
    over lowest pressure.
    """

    floor: float
    floor_by: str
    finish_floor: float
    top: float
    form: float
    surface: str
    hold: float
    window: float

    @property
    def is_held(self) -> bool:
        """May some pressure hold every cut?"""
        return self.floor <= self.top

    @property
    def is_round(self) -> bool:
        """May some pressure that holds leave the form that is asked?"""
        return self.form <= 1.0


def bound_of(study: Study) -> Bound:
    """The bound of one setup. Raises: ``InputError`` for jaws that cannot be."""
    cuts = study.job.setup.cuts
    held = study.holds.least(study.speed)
    steady = max(steady_floor(study.job), 0.0)

    def least(step: Step) -> tuple[float, str]:
        return max([(steady, "steady pressure"), *floors(study, step, study.speed, held)], key=lambda one: one[0])

    finishing = tuple(cut.name for cut in cuts if cut.finishing)
    floor, floor_by = least(Step("all cuts", tuple(cut.name for cut in cuts), True))
    finish_floor = least(Step("finish", finishing, True))[0] if finishing else floor
    top = highest_pressure(study)[0]
    if floor > top:
        return Bound(floor, floor_by, finish_floor, top, 0.0, "", 0.0, 0.0)
    form, surface = _rigid_form(study, finish_floor)
    most = top if form <= 0 else min(top, _pressure_of_form(study, finish_floor, form))
    aim = min(top, AIM * (1 + SLACK) * floor)
    hold = min(holding_margin(study, one, aim) for one in held)
    return Bound(floor, floor_by, finish_floor, top, form, surface, hold, most / max(finish_floor, 1e-9))


def _rigid_form(study: Study, pressure: float) -> tuple[float, str]:
    """Share of the allowed form that a part uses up between rigid jaws, and the surface; 0 where none is asked."""
    asked = list(asked_tolerances(study))
    if not asked:
        return 0.0, ""
    job = study.job
    body = study.body_of(job.section)
    radius = job.bore_radius
    part = part_in_jaws(body, study.face, None, (Fit("bored to it", radius),), Bore(radius),
                        tuple(job.setup.surfaces), study.likely["friction"], quick=True)  # fmt: skip
    forms = {form.surface.name: form for form in part.under(study.likely_grip(pressure, study.finishing_speed())).forms}
    shares = []
    for _, surface, tolerance, limit in asked:
        form = forms[surface.name]
        value = {"roundness": form.roundness, "cylindricity": form.cylindricity, "flatness": form.flatness,
                 "runout": form.runout}[tolerance]  # fmt: skip
        shares.append((RIGID_SHARE * value / tolerance_limits(job, tolerance, limit)[0], surface.name))
    return max(shares)


def _pressure_of_form(study: Study, pressure: float, form: float) -> float:
    """The pressure at which the allowed form is used up: it grows with the grip. [MPa]"""
    grip = study.likely_grip(pressure, study.finishing_speed()) / form
    return study.job.pressure_for(study.likely, grip)
