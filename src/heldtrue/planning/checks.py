"""The checks of a plan, as data: one function for each question, all answered at one pressure and speed per cut."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import inf, pi

from heldtrue.mechanics.closed_form import required_grip
from heldtrue.planning.elastic import Elastic, PartInJaws, SurfaceForm
from heldtrue.planning.inputs import safety_factor, tolerance_share
from heldtrue.planning.known import Known
from heldtrue.planning.loads import SPIN_UP, plate_speed
from heldtrue.planning.result import FAILS, NOT_PROVEN, PASSES, Check, Hold, State
from heldtrue.planning.setup import Source
from heldtrue.planning.study import HeldLoad, Study

LEAST_GRIP_LEFT = 1 / 3
"""Share of the grip at rest that an outside grip must keep at speed (reference speed of DIN 6386, as cited in
references to VDI 3106; read second hand)."""

YIELD_BEGINS = pi / 2
"""Even pressure on a strip of a half space shears it by p/pi, and yield (Tresca) begins at pi/2 times its strength.
K. L. Johnson, Contact Mechanics, Cambridge University Press 1985, section 2.5 (from memory)."""

Values = Mapping[str, float]


@dataclass(frozen=True)
class Setting:
    """What is set at the machine: gauge pressure for each cut [MPa] and the spindle limit
    planned with [rev/min]."""

    pressures: Mapping[str, float]
    finishing: float
    speed_rpm: float

    def pressure(self, load: str) -> float:
        """Pressure during a load; the spin-up happens at the lowest."""
        return self.pressures.get(load, min([self.finishing, *self.pressures.values()]))

    @property
    def highest(self) -> float:
        """The highest pressure set. [MPa]"""
        return max([self.finishing, *self.pressures.values()])

    @property
    def lowest(self) -> float:
        """The lowest pressure set. [MPa]"""
        return min([self.finishing, *self.pressures.values()])


@dataclass(frozen=True)
class ElasticBracket:
    """Part and jaws under the most and the least grip a pressure may give: while finishing, and at any time.

    The finished section while finishing and clamped, the blank at any time: it is what roughing marks.
    """

    finishing_most: Elastic
    finishing_least: Elastic
    clamped: Elastic
    any_most: Elastic
    any_least: Elastic


def bracket(study: Study, setting: Setting) -> ElasticBracket:
    """Solve the contact at the ends of what the setting may do."""
    fast = study.finishing_speed()
    top = setting.speed_rpm
    kept: dict[tuple[PartInJaws, float], Elastic] = {}

    def under(part: PartInJaws, values: Values, pressure: float, speed: float) -> Elastic:
        grip = max(study.distorting_grip(values, pressure, speed), 1.0)
        if (part, grip) not in kept:
            kept[part, grip] = part.under(grip)
        return kept[part, grip]

    return ElasticBracket(
        under(study.finished, study.best, setting.finishing, fast),
        under(study.finished, study.worst, setting.finishing, fast),
        under(study.finished, study.best, setting.finishing, 0.0),
        under(study.blank, study.best, setting.highest, top),
        under(study.blank, study.worst, setting.highest, top),
    )


def all_checks(study: Study, setting: Setting, elastic: ElasticBracket) -> tuple[Check, ...]:
    """Every question, answered at the setting."""
    return (
        *(_hold(study, setting, held) for held in study.held),
        *_grip_left(study, setting),
        *_plates(study, setting),
        *_forms(study, elastic),
        *_under_cut(study),
        _marking(study, elastic),
        *_yielding(study, elastic),
    )


def holds(study: Study, setting: Setting) -> tuple[Hold, ...]:
    """Every load's factor with the handbook's second opinion beside it."""
    safety, _ = safety_factor(study.job)
    found = []
    for held in study.held:
        load = held.load
        grip = study.holding_grip(study.worst, setting.pressure(load.name), load.speed_rpm)
        outward = max(load.axial, 0.0) if study.job.setup.grip.seat else abs(load.axial)
        needed = required_grip(abs(load.torque), outward, 2 * study.job.grip_radius, study.worst["friction"])
        handbook = grip / needed if needed > 0 else inf
        found.append(
            Hold(load.name, load.case, held.limit.failure, held.limit.under(grip), safety,
                 held.limit.required(safety), load.speed_rpm, load.tangential, handbook)
        )  # fmt: skip
    return tuple(found)


def _hold(study: Study, setting: Setting, held: HeldLoad) -> Check:
    load = held.load
    safety, why = safety_factor(study.job)
    pressure = setting.pressure(load.name)

    def margin(values: Values) -> float:
        if values is study.worst:
            factor = held.limit.factor
        elif values is study.best:
            factor = study.factor_at(held, values)
        else:
            factor = study.estimated_factor(held, values)
        return factor * study.holding_grip(values, pressure, load.speed_rpm) / safety - 1

    value = (margin(study.worst) + 1) * safety
    detail = f"gives way by: {held.limit.failure}; {load.case}; safety factor {safety:g} ({why})"
    question = "Is it held while it spins up?" if load.name == SPIN_UP else f"Does it stay in during '{load.name}'?"
    inputs = (
        "friction",
        "grip share",
        "threshold",
        "piston area",
        "wear",
        "cutting data",
        "jaw moment",
        "off centre",
        "spin-up",
    )
    return _judge(study, f"hold: {load.name}", question, value, safety, "ratio", margin, inputs, detail)


def _grip_left(study: Study, setting: Setting) -> list[Check]:
    """An outside grip must keep a third of its grip at the highest speed used."""
    if not study.job.grip_is_outside:
        return []
    speed = setting.speed_rpm
    pressure = setting.lowest

    def left(values: Values) -> float:
        static = study.job.static_grip(values, pressure)
        return study.holding_grip(values, pressure, speed) / static if static > 0 else 0.0

    return [
        _judge(
            study, "grip left at speed", f"Is a third of the grip left at {speed:.0f} rev/min?", left(study.worst),
            LEAST_GRIP_LEFT, "ratio", lambda values: left(values) / LEAST_GRIP_LEFT - 1,
            ("jaw moment", "grip share", "threshold", "piston area"),
        )
    ]  # fmt: skip


def _plates(study: Study, setting: Setting) -> list[Check]:
    """What the plates of chuck, cylinder and machine allow."""
    job, chuck = study.job, study.job.setup.chuck
    area, share = job.known["piston area"], job.known["height share"]
    draw = setting.highest * area.best
    allowed = chuck.max_draw_force * share.worst
    checks = [
        _limit("draw force", "Is the draw force within the plate at this grip height?", draw, allowed, "force", share),
        _limit("speed", "Is the speed within the plates?", setting.speed_rpm, plate_speed(job), "speed_rpm",
               _plate("plate speed", "highest speed on the plates", job.setup.source("chuck.max_speed_rpm"))),
    ]  # fmt: skip
    for where, value in (("cylinder", chuck.actuator.max_pressure), ("chuck", chuck.max_pressure)):
        if value is not None:
            path = "chuck.actuator.max_pressure" if where == "cylinder" else "chuck.max_pressure"
            checks.append(
                _limit(f"{where} pressure", f"Is the pressure within the plate of the {where}?", setting.highest, value,
                       "pressure", _plate("plate pressure", f"highest pressure of the {where}", job.setup.source(path)))
            )  # fmt: skip
    least = job.known["least pressure"]
    margin = setting.lowest / least.worst - 1
    checks.append(
        Check("steady pressure", "Does the cylinder hold this pressure steadily?", _state(margin, margin),
              setting.lowest, least.worst, "pressure", margin, margin, least.label, least.source, least.measure)
    )  # fmt: skip
    return checks


def _forms(study: Study, elastic: ElasticBracket) -> list[Check]:
    """Every tolerance of every machined surface, after release, at the grip of the finishing cut."""
    checks = []
    asked = {
        "roundness": ("form", "Is '{}' round enough after release?", lambda f: f.roundness),
        "cylindricity": ("form", "Is '{}' cylindrical enough after release?", lambda f: f.cylindricity),
        "flatness": ("form", "Is '{}' flat enough after release?", lambda f: f.flatness),
        "runout": ("run-out", "Does '{}' run true enough after release?", lambda f: f.runout),
    }
    for most, least in zip(elastic.finishing_most.forms, elastic.finishing_least.forms, strict=True):
        for tolerance, (share_of, question, take) in asked.items():
            asked_for = getattr(most.surface, tolerance)
            if asked_for is None:
                continue
            limit = asked_for * tolerance_share(study.job, share_of)
            checks.append(_form(study, tolerance, question, most, least, take, limit, asked_for))
    return checks


def _form(
    study: Study, tolerance: str, question: str, most: SurfaceForm, least: SurfaceForm,
    take: Callable[[SurfaceForm], float], limit: float, asked_for: float,
) -> Check:  # fmt: skip
    name = most.surface.name
    margin, best = 1 - take(most) / limit, 1 - take(least) / limit
    share = study.job.known["grip share"]
    fit = f"; worst for the {most.fit} part" if len(study.fits) > 1 else ""
    detail = f"the holding may use {limit / asked_for:.0%} of the drawing's {asked_for:g} mm{fit}"
    return Check(f"{tolerance}: {name}", question.format(name), _state(margin, best), take(most), limit, "length",
                 margin, best, share.label, share.source, share.measure, detail)  # fmt: skip


def _under_cut(study: Study) -> list[Check]:
    """Does the finishing force itself push part and jaws out of shape along a surface that must be cylindrical?"""
    checks = []
    for surface in study.job.setup.surfaces:
        if surface.cylindricity is None or surface.name not in study.cut_deflections:
            continue
        limit = surface.cylindricity * tolerance_share(study.job, "form")
        value = study.cut_deflections[surface.name][1] / 2
        wear = study.job.known["wear"]
        margin, best = 1 - value / limit, 1 - value * wear.best / wear.worst / limit
        detail = "radial, from end to end, under the passive force of the finishing cut"
        checks.append(
            Check(f"under the cut: {surface.name}",
                  f"Does '{surface.name}' stay cylindrical under the finishing force?", _state(margin, best), value,
                  limit, "length", margin, best, wear.label, wear.source, wear.measure, detail)
        )  # fmt: skip
    return checks


def marking_limit(yield_strength: float) -> float:
    """Contact pressure at which jaws begin to leave marks. [MPa]"""
    return YIELD_BEGINS * yield_strength


def _marking(study: Study, elastic: ElasticBracket) -> Check:
    known = study.job.known["yield"]
    limits = study.job.setup.limits
    peak, least = elastic.any_most.peak_pressure, elastic.any_least.peak_pressure
    limit = marking_limit(known.worst)
    margin, best = 1 - peak / limit, 1 - least / marking_limit(known.best)
    detail = "contact pressure on the blank against first yield"
    if limits is not None and limits.marking_allowed:
        detail, margin, best = f"marks are allowed here; {detail}", 1.0, 1.0
    return Check("marking", "Do the jaws leave marks?", _state(margin, best), peak, limit, "stress", margin, best,
                 known.label, known.source, known.measure, detail)  # fmt: skip


def _yielding(study: Study, elastic: ElasticBracket) -> list[Check]:
    """Does the grip bend part or jaw for good?"""
    most, least = elastic.any_most, elastic.any_least
    part = study.blank
    detail = "von Mises stress on the blank, away from inner corners and from the contact itself"
    found = []
    for name, question, stress in (
        ("part", "Does the grip bend the part for good?", part.part_stress),
        ("jaw", "Does the grip bend the jaws for good?", part.jaw_stress),
    ):
        known = study.job.known[f"{name} yield"]
        value = stress(most)
        # Stress goes with the grip: what it is at the least grip need not be solved again.
        low = value * least.grip / most.grip
        margin, best = 1 - value / known.worst, 1 - low / known.best
        found.append(
            Check(f"yield: {name}", question, _state(margin, best), value, known.worst, "stress", margin, best,
                  known.label, known.source, known.measure, detail)
        )  # fmt: skip
    return found


def _judge(
    study: Study, name: str, question: str, value: float, limit: float, kind: str,
    margin: Callable[[Values], float], inputs: Sequence[str], detail: str = "",
) -> Check:  # fmt: skip
    """State from the margins at the worst and the best of the unknowns, and the input that moves it most."""
    worst, best = margin(study.worst), margin(study.best)
    decider = _decider(study, margin, worst, inputs)
    return Check(name, question, _state(worst, best), value, limit, kind, worst, best, decider.label, decider.source,
                 decider.measure, detail)  # fmt: skip


def _decider(study: Study, margin: Callable[[Values], float], worst: float, inputs: Sequence[str]) -> Known:
    """The input whose best value alone would raise the margin most; the first stated one if none is open."""
    known = study.job.known
    gains = {name: margin({**study.worst, name: known[name].best}) - worst for name in inputs if known[name].is_open}
    if not gains or max(gains.values()) <= 0:
        return known[inputs[0]]
    return known[max(gains, key=lambda name: gains[name])]


def _limit(name: str, question: str, value: float, limit: float, kind: str, decider: Known) -> Check:
    margin = 1 - value / limit
    return Check(name, question, _state(margin, margin), value, limit, kind, margin, margin, decider.label,
                 decider.source, decider.measure, decider.note)  # fmt: skip


def _plate(name: str, label: str, source: Source) -> Known:
    return Known(name, label, 0.0, 0.0, "", source)


def _state(margin: float, best: float) -> State:
    """Passes at the worst of every unknown, fails even at the best, or rests on an unknown."""
    rounding = -1e-9
    if margin >= rounding:
        return PASSES
    return NOT_PROVEN if best >= rounding else FAILS
