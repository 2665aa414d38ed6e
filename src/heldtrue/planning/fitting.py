"""How the jaws should be bored for this grip: the contact print, the taper that closes it, the fit that suits it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import SolverError
from heldtrue.mechanics.contact import Contact
from heldtrue.planning.elastic import Bore, Fit, PartInJaws
from heldtrue.planning.result import ContactPrint
from heldtrue.planning.study import Study

Array = NDArray[np.float64]

LEAST_TAPER_MM = 0.01
"""A taper under this is not worth cutting."""
TAPER_STEP_MM = 0.025
"""What a setter would cut more or less: shown beside the advised taper."""
LEAST_GAIN_MM = 0.0005
"""A truer part by less than this is no reason to bore another diameter: no shop would see it."""
FIT_STEPS = 9
"""Bores tried across the part's tolerance and as far again on both sides."""
FIT_REACH_MM = 0.05
"""Bores tried on each side of the tolerance, on diameter: common practice, no source."""


@dataclass(frozen=True)
class TaperAdvice:
    """The taper to cut, and what it does.

    ``per_side``: change of jaw radius over the gripped length, positive towards the part at the tip [mm];
    ``on_diameter``: twice that; ``needed``: is it worth cutting; ``bored_force`` and ``used_force`` of one jaw [N];
    ``prints``: contact prints of the middle part, by taper: none, advised, a step less, a step more.
    """

    per_side: float
    on_diameter: float
    needed: bool
    bored_force: float
    used_force: float
    words: str
    prints: tuple[tuple[float, ContactPrint], ...]


@dataclass(frozen=True)
class BoreChoice:
    """One diameter to bore the jaws to, and what comes of it over the part's tolerance.

    ``form_error``: worst run-out or flatness of the machined surfaces [mm]; ``unevenness``: peak over mean pressure in
    the worst fit; ``prints``: of smallest, middle and largest part.
    """

    name: str
    bore_diameter: float
    form_error: float
    unevenness: float
    prints: tuple[ContactPrint, ...]


@dataclass(frozen=True)
class FitAdvice:
    """Bored to nominal, bored for the least form error, bored for the most even contact: the shop chooses."""

    nominal: BoreChoice
    truest: BoreChoice
    most_even: BoreChoice


def advise_taper(study: Study, pressure: float) -> TaperAdvice:
    """Taper for jaws used at ``pressure`` [MPa], bored as the setup says.

    Under even pressure part and jaw would open by some amount along the grip; the straight line through that, less
    what the boring ring already bent the jaw by, is the taper that keeps the pressure even.
    """
    part = study.finished
    force = study.distorting_grip(study.best, pressure, study.finishing_speed()) / study.job.jaws
    slope = needed_taper(part, force)
    middle = part.fits[len(part.fits) // 2]
    tried = sorted({0.0, slope, slope - TAPER_STEP_MM, slope + TAPER_STEP_MM})
    prints = tuple(
        (taper, print_of(study, *_pressed(study.with_bore(replace(study.bore, taper=taper)), middle, force)))
        for taper in tried
    )
    bored = force if study.bore.force is None else study.bore.force
    needed = abs(slope) >= LEAST_TAPER_MM
    if needed:
        words = (
            f"cut {slope:+.3f} mm per side over the grip, smaller towards the tip"
            if slope > 0
            else (f"cut {slope:+.3f} mm per side over the grip, larger towards the tip")
        )
        if not study.job.grip_is_outside:
            words = words.replace("smaller", "#").replace("larger", "smaller").replace("#", "larger")
    else:
        words = f"none needed: {abs(slope):.3f} mm is under {LEAST_TAPER_MM:g} mm"
    return TaperAdvice(slope, 2 * slope, needed, bored, force, words, prints)


def needed_taper(part: PartInJaws, force: float) -> float:
    """Taper per side over the gripped length that keeps an even pressure even, at ``force`` on each jaw [N]. [mm]"""
    face = part.face
    straight = replace(part.bore, taper=0.0)
    even = np.full(face.areas.size, force / float((face.areas @ face.along).sum()))
    opened = (part.compliance @ even).reshape(face.areas.shape)
    bored_at = force if straight.force is None else straight.force
    opened = opened - part.ring_push * bored_at
    weights = face.areas * face.along
    by_band = (opened * weights).sum(axis=1) / weights.sum(axis=1)
    if len(by_band) < 2:
        return 0.0
    slope = np.polyfit(face.stations.middles, by_band, 1, w=np.sqrt(face.stations.areas))[0]
    return float(slope * (face.stations.edges[-1] - face.stations.edges[0]))


def advise_fit(study: Study, pressure: float) -> FitAdvice:
    """Bores across the part's tolerance, compared at ``pressure``. [MPa]"""
    job = study.job
    grip = study.distorting_grip(study.best, pressure, study.finishing_speed())
    low, high = (2 * job.grip_radius + d for d in job.setup.grip.diameter_tolerance)
    tried = np.linspace(low - FIT_REACH_MM, high + FIT_REACH_MM, FIT_STEPS)
    choices = [_choice(study, f"Ø{bore:.3f}", float(bore), grip) for bore in tried]
    nominal = _choice(study, "as set up", 2 * study.bore.radius, grip)
    truest = min(choices, key=lambda choice: choice.form_error)
    if nominal.form_error - truest.form_error < LEAST_GAIN_MM:
        truest = nominal
    most_even = min([nominal, *choices], key=lambda choice: choice.unevenness)
    return FitAdvice(nominal, replace(truest, name="truest part"), replace(most_even, name="most even contact"))


def _choice(study: Study, name: str, bore_diameter: float, grip: float) -> BoreChoice:
    part = study.with_bore(replace(study.bore, radius=bore_diameter / 2))
    elastic = part.under(grip)
    form_error = max((max(form.runout, form.flatness) for form in elastic.forms), default=0.0)
    unevenness = max(_peak_over_mean(contact) for _, contact in elastic.contacts)
    prints = tuple(print_of(study, part.bore, fit, contact) for fit, contact in elastic.contacts)
    return BoreChoice(name, bore_diameter, form_error, unevenness, prints)


def _peak_over_mean(contact: Contact) -> float:
    areas = contact.face.areas
    return float(contact.peak_pressure * areas.sum() / (contact.pressure * areas).sum())


def _pressed(part: PartInJaws, fit: Fit, force: float) -> tuple[Bore, Fit, Contact]:
    return part.bore, fit, part.contact(fit, force)


def print_of(study: Study, bore: Bore, fit: Fit, contact: Contact) -> ContactPrint:
    """The contact print of one fit, as data and in words."""
    face = study.face
    rows = np.full((len(face.stations.edges) - 1, face.sectors), np.nan)
    gaps = rows.copy()
    for interval, band in face.stations.band_numbers.items():
        rows[interval] = contact.pressure[band]
        gaps[interval] = contact.gap[band]
    return ContactPrint(
        fit=fit.name,
        part_diameter=2 * fit.radius,
        bore_diameter=2 * bore.radius,
        taper=bore.taper,
        z_edges=face.stations.edges,
        angle_edges=tuple(float(a) for a in face.bounds),
        pressure=rows,
        gap=gaps,
        peak=contact.peak_pressure,
        words=print_words(contact),
    )


def print_words(contact: Contact) -> str:
    """How the jaw bears, as a setter would say it: along the grip, then across the jaw."""
    touching, stations = contact.touching, contact.face.stations
    share = float((touching * contact.face.areas).sum() / contact.face.areas.sum())
    if share > 0.97:
        return "bears all over"
    along = np.asarray(touching.any(axis=1))
    across = np.asarray(touching.any(axis=0))
    words = [_along_words(along, stations.bands, contact), _across_words(across)]
    return "; ".join(filter(None, words)) + f"; {share:.0%} of the face bears"


def _along_words(along: NDArray[np.bool_], bands: Sequence[tuple[float, float]], contact: Contact) -> str:
    if along.all():
        return "touches along the whole grip"
    first, last = bands[0][0], bands[-1][1]
    touched = [band for band, on in zip(bands, along, strict=True) if on]
    low, high = touched[0][0], touched[-1][1]
    if low <= first + 1e-6:
        gap = float(contact.gap[-1].min())
        return f"touches along the first {high - first:.1f} mm from the seat; open {max(gap, 0):.3f} mm at the tip"
    if high >= last - 1e-6:
        gap = float(contact.gap[0].min())
        return f"touches along the last {last - low:.1f} mm at the tip; open {max(gap, 0):.3f} mm at the seat"
    return f"touches from {low - first:.1f} to {high - first:.1f} mm from the seat"


def _across_words(across: NDArray[np.bool_]) -> str:
    if across.all():
        return ""
    if across[0] and not across[-1]:
        return "in the middle of the jaw"
    if across[-1] and not across[0]:
        return "on the edges of the jaw"
    return "in patches across the jaw"


@dataclass(frozen=True)
class FrictionBracket:
    """Form of one surface with nothing sticking in the jaws and with everything sticking: run-out or flatness. [mm]

    The checks use ``sliding``.  ``sticking`` is None where that contact did not settle.
    """

    surface: str
    sliding: float
    sticking: float | None


def friction_bracket(study: Study, pressure: float) -> tuple[FrictionBracket, ...]:
    """What friction between jaws and part could change of every machined surface, at ``pressure``. [MPa]"""
    grip = study.distorting_grip(study.best, pressure, study.finishing_speed())
    sliding = study.finished.under(grip).forms
    try:
        sticking = [max(form.runout, form.flatness) for form in study.finished.sticking_under(grip).forms]
    except SolverError:
        return tuple(FrictionBracket(s.surface.name, max(s.runout, s.flatness), None) for s in sliding)
    return tuple(
        FrictionBracket(s.surface.name, max(s.runout, s.flatness), stuck)
        for s, stuck in zip(sliding, sticking, strict=True)
    )
