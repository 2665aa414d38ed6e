"""What a setter must know first: the check that decides, what to measure, and what would open a window."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from math import floor, isfinite, log

from heldtrue.planning.caveats import caveats_of
from heldtrue.planning.corners import FORMS
from heldtrue.planning.holds import Holds
from heldtrue.planning.inputs import Job
from heldtrue.planning.known import ASSUMED, Known
from heldtrue.planning.ranges import FRICTION_SPREAD
from heldtrue.planning.result import (
    FAILS,
    FORM,
    HOLD,
    LEFT,
    NOT_PROVEN,
    PASSES,
    YIELD,
    Answer,
    Check,
    PressureAdvice,
    Remedy,
)
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.window import highest_pressure, setting_of, tightest

LEAST_SHARE, MOST_TIMES = 0.2, 4.0
"""A cut is lightened to no less than this share, a grip lengthened to no more than so many times."""
HALVINGS = 7
BORES, BORE_PLACES = 8, 3
"""Steps over the spread of the gripped diameter at which another bore is tried, and its decimals. [mm]"""
LETS_GO = (HOLD, LEFT)
"""Groups of checks that say whether the part stays in."""


def answer_of(study: Study, checks: Sequence[Check], advice: PressureAdvice, *, helped: bool) -> Answer:
    """The answer of a plan from its checks; ``helped``: with what would make it pass."""
    ranked = tuple(sorted(checks, key=gravity))
    leading = ranked[0] if ranked else None
    open_inputs = tuple(_open_inputs(study.job, ranked))
    alike = 0 if leading is None or leading.state == PASSES else \
        sum(check.state == leading.state for check in ranked) - 1  # fmt: skip
    blocked = leading is not None and (leading.state != PASSES or not advice.has_window)
    remedies = () if not blocked or not helped else tuple(remedies_of(study, ranked, advice))
    return Answer(ranked, leading, alike, open_inputs, _measure_first(study.job, leading, open_inputs), remedies,
                  caveats_of(study.job.setup))  # fmt: skip


def gravity(check: Check) -> tuple[bool, bool, int, float]:
    """Order of checks: of those that do not pass what may let go first, then what fails; then by what is to spare."""
    passes = check.state == PASSES
    order = {FAILS: 0, NOT_PROVEN: 1, PASSES: 2}[check.state]
    # Margins alike to six places are one: the order of the checks decides, not the last bit.
    return (
        passes,
        not passes and check.group not in LETS_GO,
        order,
        round(check.margin, 6) if isfinite(check.margin) else check.margin,
    )


def _open_inputs(job: Job, ranked: Sequence[Check]) -> list[Known]:
    """Assumed inputs, those that decide the tightest checks first, those that no measurement moves last."""
    ranks: dict[str, int] = {}
    for number, check in enumerate(ranked):
        ranks.setdefault(check.decided_by, number)
    assumed = [known for known in job.known.values() if known.source == ASSUMED]
    return sorted(assumed, key=lambda known: (not known.is_open, ranks.get(known.label, len(ranks))))


def _measure_first(job: Job, leading: Check | None, open_inputs: Sequence[Known]) -> Known | None:
    """The input that decides the leading check, where it can be measured; else the first that can."""
    if leading is not None and leading.measure:
        decider = next((known for known in job.known.values() if known.label == leading.decided_by), None)
        if decider is not None and decider.is_open:
            return decider
    return next((known for known in open_inputs if known.measure), None)


# What would help


def remedies_of(study: Study, ranked: Sequence[Check], advice: PressureAdvice) -> list[Remedy]:
    """What would make the check that stands in the way pass, smallest change first."""
    holds = [check for check in ranked if check.group == HOLD and check.state != PASSES]
    closed = next((step for step in advice.steps if step.recommended is None), None)
    by_name = {check.name: check for check in ranked}
    floor_check = by_name.get(closed.floor_by) if closed is not None else None
    ceiling = by_name.get(closed.ceiling_by) if closed is not None else None
    name = (
        holds[0].subject
        if holds
        else floor_check.subject
        if floor_check is not None and floor_check.group == HOLD
        else ""
    )
    found: list[Remedy] = []
    if name:
        setting = setting_of(study, advice)
        top = highest_pressure(study)[0]
        pressure = setting.pressure(name) if closed is None else min(max(closed.ceiling, 0.0), top)
        found += _for_hold(study, name, pressure)
    if closed is not None and ceiling is not None and ceiling.group == FORM:
        found += _bored(study, closed.floor)
    if ceiling is not None and ceiling.group in (FORM, YIELD):
        if study.job.setup.jaws.style != "pie":
            found.append(Remedy("wrap"))
        if study.job.jaws < 6:
            found.append(Remedy("jaws", was=float(study.job.jaws), to=6.0))
    form = next((check for check in ranked if check.group == FORM and check.state != PASSES), None)
    measured = next((k for k in study.job.known.values() if form is not None and k.label == form.decided_by), None)
    if measured is not None and measured.measure:
        found.append(Remedy("measure", measured.label))
    return found


def _for_hold(study: Study, name: str, pressure: float) -> list[Remedy]:
    """Changes with which one load would be held at a pressure [MPa]."""
    job = study.job

    def margin(changed: Job, limit: float = study.speed) -> float:
        holds = Holds(changed)
        held = next(one for one in holds.only(name, limit))
        published = changed.static_grip(holds.published, pressure) / held.published.needs
        worst = changed.static_grip(changed.at_pressure(holds.worst, pressure, least=True), pressure) / held.worst.needs
        return min(published, worst) - 1

    found = [*_longer(job, margin), *_lighter(job, name, margin), *_supported(job, margin), *_rougher(job, margin),
             *_slower(study, name, lambda limit: margin(job, limit))]  # fmt: skip
    return sorted(found, key=lambda one: abs(log(one.to / one.was)) if one.was and one.to else 0.5)


def _with(job: Job, table: str, **changes: object) -> Job:
    """The job with some keys of one table changed, nothing else worked out again."""
    entry = getattr(job.setup, table).model_copy(update=changes)
    return replace(job, setup=job.setup.model_copy(update={table: entry}))


def _longer(job: Job, margin: Callable[[Job], float]) -> Iterator[Remedy]:
    """A longer grip, as far as the part has the surface and no cut takes it away."""
    grip = job.setup.grip
    spans = [(a, b) for a, b in job.section.spans(grip.side, job.grip_radius) if a < grip.z[1] and b > grip.z[0]]
    length = grip.z[1] - grip.z[0]
    if not spans:
        return
    most = min(min(spans[0][1] - grip.z[0], _free_of_cuts(job.setup, grip.side) - grip.z[0]), MOST_TIMES * length)
    needed = _least(lambda x: margin(_with(job, "grip", z=(grip.z[0], grip.z[0] + x))), length, most)
    if needed is not None:
        yield Remedy("grip length", was=length, to=needed, kind="length")


def _free_of_cuts(setup: Setup, side: str) -> float:
    """z up to which nothing of the gripped side is machined. [mm]"""
    made = [min(s.z) for s in setup.surfaces if s.side == side and min(s.z) >= setup.grip.z[1]]
    return min(made, default=float("inf"))


def _lighter(job: Job, name: str, margin: Callable[[Job], float]) -> Iterator[Remedy]:
    """Less depth, or less feed."""
    number = next((i for i, cut in enumerate(job.setup.cuts) if cut.name == name), None)
    if number is None:
        return
    for key, kind in (("depth", "length"), ("feed", "feed")):
        was = getattr(job.setup.cuts[number], key)
        if was is None:
            continue

        def cut_to(x: float, key: str = key) -> Job:
            cuts = list(job.setup.cuts)
            cuts[number] = cuts[number].model_copy(update={key: x})
            changed = replace(job, setup=job.setup.model_copy(update={"cuts": tuple(cuts)}))
            # The stock stays: a lighter pass takes more passes.
            stages = tuple(replace(stage, cut=cuts[i]) for i, stage in enumerate(job.stages))
            changed.__dict__["stages"] = stages
            return changed

        most = _least(lambda x: margin(cut_to(-x)), -was, -LEAST_SHARE * was)
        if most is not None:
            yield Remedy(key, name, was, -most, kind)


def _slower(study: Study, name: str, margin: Callable[[float], float]) -> Iterator[Remedy]:
    """A lower spindle limit, where speed takes grip or the part's unbalance asks for it."""
    needed = _least(lambda limit: margin(-limit), -study.speed, -LEAST_SHARE * study.speed)
    if needed is not None:
        # Turns are set whole, and rounded up it would be too fast.
        yield Remedy("speed", name, study.speed, float(floor(-needed)), "speed_rpm")


def _bored(study: Study, pressure: float) -> Iterator[Remedy]:
    """Jaws bored to another diameter within the spread of the part, with which the form passes at a pressure [MPa]."""
    job = study.job
    low, high = job.size_range
    was = 2 * job.bore_radius
    tried = sorted((2 * job.grip_radius + low + (high - low) * k / BORES for k in range(BORES + 1)),
                   key=lambda bore: abs(bore - was))  # fmt: skip
    for bore in tried:
        bore = round(bore, BORE_PLACES)
        if abs(bore - was) < 10.0**-BORE_PLACES:
            continue
        cut_anew = {"jaws.bore_diameter": bore, "jaws.last_cut": None}
        if tightest(study.again(cut_anew), FORMS, pressure)[0] >= 0:
            yield Remedy("bored diameter", was=was, to=bore, kind="length")
            return


def _supported(job: Job, margin: Callable[[Job], float]) -> Iterator[Remedy]:
    """A centre, or a seat."""
    grip = job.setup.grip
    if not grip.centre and margin(_with(job, "grip", centre=True)) >= 0:
        yield Remedy("centre")
    if job.known["seat"].worst == 0:
        seated = replace(job, known=type(job.known)(job.known))
        seated.known.add(replace(job.known["seat"], worst=1.0, best=1.0, middle=1.0, source="stated"))
        if margin(seated) >= 0:
            yield Remedy("seat")


def _rougher(job: Job, margin: Callable[[Job], float]) -> Iterator[Remedy]:
    """Friction or grip that a measurement would have to show."""
    friction = job.known["friction"]
    if friction.is_open and friction.source == ASSUMED:

        def shown(x: float) -> Job:
            changed = replace(job, known=type(job.known)(job.known))
            low, high = x * (1 - FRICTION_SPREAD), x * (1 + FRICTION_SPREAD)
            changed.known.add(replace(friction, worst=low, best=high, middle=x, source="measured"))
            return changed

        needed = _least(lambda x: margin(shown(x)), friction.worst, friction.best / (1 - FRICTION_SPREAD))
        if needed is not None:
            yield Remedy("friction", friction.label, friction.worst, needed, "ratio")


def _least(margin: Callable[[float], float], start: float, end: float) -> float | None:
    """The least change from ``start`` towards ``end`` with which a margin is not negative; None where none is."""
    if end <= start or margin(end) < 0:
        return None
    low, high = start, end
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if margin(middle) >= 0 else (middle, high)
    return high
