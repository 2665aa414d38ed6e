"""How the jaws should be bored for this grip: the contact print, the taper that closes it, the fit that suits it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heldtrue.mechanics.contact import Contact
from heldtrue.planning.bored_jaws import as_bored_or_used
from heldtrue.planning.elastic import Bore, Fit, Meeting, PartInJaws
from heldtrue.planning.result import ContactPrint
from heldtrue.planning.study import Study
from heldtrue.sentences import joined, sentence

Array = NDArray[np.float64]

LEAST_TAPER_MM = 0.01
"""A taper under this is not worth cutting."""
SEEN_GAP_MM = 0.0005
TAPER_STEP_MM = 0.025
"""What a setter would cut more or less: shown beside the advised taper."""
LEAST_GAIN_MM = 0.0005
"""A truer part by less than this is no reason to bore another diameter: no shop would see it."""
FIT_STEPS = 9
"""Bores tried across the part's tolerance and as far again on both sides."""
ALL_OVER, EVEN_SHARE = 0.97, 0.5
"""A print that touches on this share of the face bears all over, if no end has less than this share of the mean
pressure or more than the mean over it."""
FIT_REACH_MM = 0.05
"""Bores tried on each side of the tolerance, on diameter: common practice, no source."""


@dataclass(frozen=True)
class TaperAdvice:
    """The taper to cut, and what it does.

    ``per_side``: change of jaw radius over the gripped length, positive towards the part at the tip, on the likely base
    of the jaws; ``low`` and ``high``: over the range of that base, which a feeler reading narrows [mm];
    ``on_diameter``: twice ``per_side``; ``needed``: is it worth cutting; ``bored_force`` and ``used_force`` of one jaw
    [N]; ``prints``: contact prints of the middle part, by taper: none, advised, a step less, a step more.
    """

    per_side: float
    low: float
    high: float
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
    """Taper for jaws used at ``pressure`` [MPa], bored on the shop's ring and as the setup says.

    Under even pressure part and jaw would open by some amount along the grip; the straight line through that, less
    what the boring ring already bent the jaw by, is the taper that keeps the pressure even.
    """
    part = as_bored_or_used(study, pressure)
    grip = study.finishing_grip(pressure)
    force = grip / study.job.jaws
    base = study.job.known["jaw base"]
    slope = needed_taper(part, force)
    low, high = sorted(needed_taper(part, force, tilt) for tilt in (base.low, base.high))
    middle = part.fits[len(part.fits) // 2]
    tried = sorted({0.0, slope, slope - TAPER_STEP_MM, slope + TAPER_STEP_MM})
    prints = tuple(
        (taper, print_of(study, bore, middle, part.meet(Meeting(middle, bore, part.tilt, part.friction), grip)))
        for taper, bore in ((taper, part.bore._replace(taper=taper)) for taper in tried)
    )
    bored = force if part.bore.force is None else part.bore.force
    needed = abs(slope) >= LEAST_TAPER_MM
    if needed:
        # Positive: towards the part at the tip, a smaller bore for an outside grip.
        side = "smaller" if (slope > 0) == study.job.grip_is_outside else "larger"
        words = sentence(
            "cut {:+.3f mm} per side, {:+.3f mm} on diameter, over the grip, {} towards the tip", slope, 2 * slope, side
        )
    else:
        words = sentence("none needed: {:.3f mm} is under {:g mm}", abs(slope), LEAST_TAPER_MM)
    if max(abs(low), abs(high)) >= LEAST_TAPER_MM and high - low >= 2 * SEEN_GAP_MM:
        words += sentence(
            "; {:+.3f mm} to {:+.3f mm} per side by what the jaws stand on: a feeler at the tip narrows it", low, high
        )
    return TaperAdvice(slope, low, high, 2 * slope, needed, bored, force, words, prints)


def needed_taper(part: PartInJaws, force: float, tilt: float | None = None) -> float:
    """Taper per side over the gripped length that keeps an even pressure even, at ``force`` on each jaw [N]. [mm]

    ``tilt``: stiffness of the jaws' base, the likely one if left out [N mm/rad].
    """
    face = part.face
    straight = part.bore._replace(taper=0.0)
    even = np.full(face.areas.size, force / float((face.areas @ face.along).sum()))
    compliance, push = part.on_base(part.tilt if tilt is None else tilt)
    bored_at = force if straight.force is None else straight.force
    opened = (compliance @ even).reshape(face.areas.shape) - push * bored_at
    weights = face.areas * face.along
    by_band = (opened * weights).sum(axis=1) / weights.sum(axis=1)
    if len(by_band) < 2:
        return 0.0
    slope = np.polyfit(face.stations.middles, by_band, 1, w=np.sqrt(face.stations.areas))[0]
    return float(slope * (face.stations.edges[-1] - face.stations.edges[0]))


def advise_fit(study: Study, pressure: float) -> FitAdvice:
    """Bores across the part's tolerance, compared at ``pressure``. [MPa]"""
    job = study.job
    grip = study.finishing_grip(pressure)
    low, high = (2 * job.grip_radius + d for d in job.size_range)
    tried = np.linspace(low - FIT_REACH_MM, high + FIT_REACH_MM, FIT_STEPS)
    choices = [_choice(study, sentence("Ø{:.3f [mm]}", bore), float(bore), grip) for bore in tried]
    nominal = _choice(study, "as set up", 2 * study.bore.radius, grip)
    truest = min(choices, key=lambda choice: choice.form_error)
    if nominal.form_error - truest.form_error < LEAST_GAIN_MM:
        truest = nominal
    most_even = min([nominal, *choices], key=lambda choice: choice.unevenness)
    return FitAdvice(nominal, replace(truest, name="truest part"), replace(most_even, name="most even contact"))


def _choice(study: Study, name: str, bore_diameter: float, grip: float) -> BoreChoice:
    part = study.with_bore(study.bore._replace(radius=bore_diameter / 2))
    elastic = part.under(grip)
    form_error = max((max(form.runout, form.flatness) for form in elastic.forms), default=0.0)
    unevenness = max(_peak_over_mean(contact) for _, contact in elastic.contacts)
    prints = tuple(print_of(study, part.bore, fit, contact) for fit, contact in elastic.contacts)
    return BoreChoice(name, bore_diameter, form_error, unevenness, prints)


def _peak_over_mean(contact: Contact) -> float:
    areas = contact.face.areas
    return float(contact.peak_pressure * areas.sum() / (contact.pressure * areas).sum())


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
    if share > ALL_OVER:
        return _end_words(contact) or "bears all over"
    along = np.asarray(touching.any(axis=1))
    across = np.asarray(touching.any(axis=0))
    words = [_along_words(along, stations.bands, contact), _across_words(across)]
    return joined("; ", filter(None, words)) + f"; {share:.0%} of the face bears"


def _end_words(contact: Contact) -> str:
    """How unevenly the ends of the grip bear; empty where both carry from half to twice the mean pressure."""
    areas = contact.face.areas
    by_band = (contact.pressure * areas).sum(axis=1) / areas.sum(axis=1)
    mean = float((contact.pressure * areas).sum() / areas.sum())
    shares = (("seat", float(by_band[0]) / mean), ("tip", float(by_band[-1]) / mean))
    light, heavy = (pick(shares, key=lambda pair: pair[1]) for pick in (min, max))
    if light[1] < EVEN_SHARE:
        return f"touches all over, light at the {light[0]}: {light[1]:.0%} of the mean"
    if heavy[1] > 1 / EVEN_SHARE:
        return f"touches all over, heavy at the {heavy[0]}: {heavy[1]:.1f} times the mean"
    return ""


def _along_words(along: NDArray[np.bool_], bands: Sequence[tuple[float, float]], contact: Contact) -> str:
    if along.all():
        return "touches along the whole grip"
    first, last = bands[0][0], bands[-1][1]
    touched = [band for band, on in zip(bands, along, strict=True) if on]
    low, high = touched[0][0], touched[-1][1]
    if low <= first + 1e-6:
        gap = _open(float(contact.gap[-1].min()))
        return sentence("touches along the first {:.1f mm} from the seat; open {} at the tip", high - first, gap)
    if high >= last - 1e-6:
        gap = _open(float(contact.gap[0].min()))
        return sentence("touches along the last {:.1f mm} at the tip; open {} at the seat", last - low, gap)
    return sentence("touches from {:.1f [mm]} to {:.1f mm} from the seat", low - first, high - first)


def _open(gap: float) -> str:
    return sentence("{:.3f mm}", gap) if gap >= SEEN_GAP_MM else sentence("under {: mm}", "0.001")


def _across_words(across: NDArray[np.bool_]) -> str:
    if across.all():
        return ""
    if across[0] and not across[-1]:
        return "in the middle of the jaw"
    if across[-1] and not across[0]:
        return "on the edges of the jaw"
    return "in patches across the jaw"


@dataclass(frozen=True)
class FrictionForm:
    """Run-out or flatness of one surface by the friction in the jaws while clamping: pairs of both. [-, mm]"""

    surface: str
    by_friction: tuple[tuple[float, float], ...]


def friction_forms(study: Study, pressure: float) -> tuple[FrictionForm, ...]:
    """Form of every machined surface without friction and over its range, at ``pressure`` [MPa], worst of the sizes."""
    grip = study.finishing_grip(pressure)
    known, part = study.job.known["friction"], study.finished
    frictions = sorted({0.0, known.low, known.likely, known.high})
    columns = []
    for friction in frictions:
        meetings = [Meeting(fit, part.bore, part.tilt, friction) for fit in part.fits]
        forms = [part.forms(part.meet(meeting, grip)) for meeting in meetings]
        columns.append([max(max(one.runout, one.flatness) for one in column) for column in zip(*forms, strict=True)])
    return tuple(
        FrictionForm(surface.name, tuple(zip(frictions, values, strict=True)))
        for surface, values in zip(part.surfaces, zip(*columns, strict=True), strict=True)
    )
