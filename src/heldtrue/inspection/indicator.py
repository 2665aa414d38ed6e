"""What an indicator says once round: run-out, offset, lobes, tilt and taper, each with its interval.

Lengths mm, angles rad; radial deviations are positive away from the axis.  Roundness is that of ISO 12181-1 about the
least-squares circle and of the minimum zone, from ``mechanics.form``.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, inf, pi, sqrt

import numpy as np

from heldtrue.errors import GeometryError, InputError, SolverError
from heldtrue.inspection.estimate import Array, Estimate, about, amplitude, direction
from heldtrue.inspection.lobes import CRITERION, HIGHEST, fit_lobes
from heldtrue.inspection.model import Fit, Noise
from heldtrue.inspection.readings import Trace
from heldtrue.mechanics.form import Roundness, roundness_of_deviation, vee_factor
from heldtrue.sentences import sentence

STEPS_MM = tuple(
    sorted(
        [0.01, 0.005, 0.002, 0.001, 5e-4, 2e-4, 1e-4, 0.0254, 0.0127, 0.00254, 0.00127, 2.54e-4, 1.27e-4], reverse=True
    )
)
"""Divisions of dials and displays: from 0.01 mm to 0.0001 mm, and from .001 in to .000005 in."""
NOMINAL_RADIUS_MM = 50.0
"""Radius for the roundness where none is given: it moves the answer by offset squared over twice itself only."""
VEES = (60, 90, 120)
"""Included angles of the usual vee blocks [degrees]."""
MOST_REPEATS = 1_000_000
MOST_ALIASED = 36
"""Places from which on what they cannot tell apart is of no account on a lathe."""
SEEN_OF_ZONE = ((6.0, 0.21), (8.0, 0.34), (12.0, 0.55), (16.0, 0.62), (24.0, 0.80), (36.0, 0.89), (72.0, 1.0))
"""(Places round, least share of the roundness they see in 95 of 100 shapes)."""
MOST_FOR_ZONE = 4096
"""Readings that the minimum zone is taken from; a longer trace gives the highest and lowest of as many steps."""


@dataclass(frozen=True)
class Wave:
    """One harmonic, amplitude cos(order angle - phase): ``amplitude`` [mm], ``phase`` [rad], with what they rest on.

    ``cosine`` and ``sine`` [mm], ``uncertainty`` of each [mm]; ``chance`` that noise alone looks like it (0 for the
    offset, which is not tested); ``whole``: could both parts be seen, or the cosine only.
    """

    order: int
    amplitude: Estimate
    phase: Estimate
    cosine: float
    sine: float
    uncertainty: float
    chance: float = 0.0
    whole: bool = True

    @property
    def direction(self) -> float:
        """Angle of the first high spot from jaw 1 [rad], in [0, 2 pi / order)."""
        return (self.phase.value % (2.0 * pi)) / self.order

    @property
    def vector(self) -> complex:
        """Cosine and sine part as one complex number [mm]."""
        return complex(self.cosine, self.sine)


@dataclass(frozen=True)
class Outlier:
    """A reading that does not belong: its ``row`` from 0, ``angle`` [rad], ``z``, ``reading`` and how far it is
    ``off`` [mm].
    """

    row: int
    angle: float
    z: float
    reading: float
    off: float


@dataclass(frozen=True)
class Gauges:
    """What other gauges would show of this surface [mm]: a two-point micrometer the difference of diameters, an
    indicator over a vee block of 60, 90 or 120 degrees its swing in one turn.  From the lobes alone."""

    micrometer: float
    vee_60: float
    vee_90: float
    vee_120: float


@dataclass(frozen=True)
class IndicatorResult:
    """What one trace says.

    ``tir``: largest less smallest reading, outliers left out, worst plane [mm]; ``runout``: the same of the fitted
    shape; ``eccentricity``: half the once-per-turn swing at the middle plane, and the direction in which the surface
    stands off; ``lobes``: those that count by ``criterion``, ascending; ``growth``: of those that differ between
    planes, by how much along z [mm/mm]; ``tilt``: lean of the axis [rad] and its direction, ``taper``: change of
    radius along z [mm/mm], None with one plane or a zero that was set anew; ``noise``: standard deviation of a
    reading with its interval [mm]; ``resolution`` [mm] and where it came from; ``highest``: largest order that these
    readings can tell; ``roundness_ls``, ``roundness_mz``: None where the readings do not go round; of the worst plane;
    ``roundness_high``: what it may be in 95 of 100 shapes, with what lies between the places [mm]; ``aliases``: lobes
    found, each with the order that equal places cannot tell from it.
    """

    trace: Trace
    jaws: int
    tir: float
    runout: Estimate
    eccentricity: Wave
    lobes: tuple[Wave, ...]
    growth: tuple[Wave, ...]
    tilt: Wave | None
    taper: Estimate | None
    noise: Estimate
    freedom: float
    resolution: float
    resolution_from: str
    outliers: tuple[Outlier, ...]
    roundness_ls: Roundness | None
    roundness_mz: Roundness | None
    gauges: Gauges
    highest: int
    residual: Array
    criterion: str
    aliases: tuple[tuple[int, int], ...]
    roundness_high: float | None
    notes: tuple[str, ...]

    @property
    def tir_of_all(self) -> float:
        """Largest less smallest reading with every outlier, worst plane. [mm]"""
        trace = self.trace
        return max(float(np.ptp(trace.reading[trace.z == place])) for place in trace.planes)

    def lobe(self, order: int) -> Wave | None:
        """The lobe of this order, None where none counts."""
        return next((one for one in self.lobes if one.order == order), None)

    def shape(self, angle: Array) -> Array:
        """Fitted deviation about the mean at ``angle`` [rad], middle plane. [mm]"""
        return sum_of((self.eccentricity, *self.lobes), angle)

    def shape_at(self, angle: Array, z: float) -> Array:
        """Fitted deviation about the mean of the plane at ``z`` [mm]. [mm]"""
        places = self.trace.planes
        height = z - 0.5 * (places[0] + places[-1])
        lean = () if self.tilt is None else (self.tilt,)
        return self.shape(angle) + height * sum_of((*lean, *self.growth), angle)


def read_indicator(
    trace: Trace, *, jaws: int = 3, resolution: float | None = None, repeat: float | None = None,
    repeat_readings: int = 10, radius: float | None = None, zero_kept: bool = True, highest: int = HIGHEST,
) -> IndicatorResult:  # fmt: skip
    """Run-out, offset, lobes, tilt and taper of one trace.

    ``jaws``: their number, jaw 1 at angle 0; ``resolution``: one division of the dial [mm], taken from the digits when
    not given; ``repeat``: standard deviation of a reading taken again [mm] from ``repeat_readings`` of them, which then
    counts as so much knowledge of the noise; ``radius``: where it was read [mm]; ``zero_kept``: see ``fit_lobes``.
    Raises: ``InputError`` for readings that cannot tell an offset, or figures out of range.
    """
    _check(jaws, resolution, repeat, repeat_readings, radius)
    step, step_from = (resolution, "stated") if resolution is not None else resolution_of(trace.reading)
    prior = (repeat**2 + step**2 / 12, float(repeat_readings - 1)) if repeat is not None else (0.0, 0.0)
    # Readings rounded to a division are off by an even spread of variance step^2 / 12, however well they repeat.
    # The last term is rounding of the computer: readings that fit exactly must not make it look like a pattern.
    noise = Noise(*prior, floor=step**2 / 12 + (1e-9 * float(np.ptp(trace.reading))) ** 2)
    fit = fit_lobes(trace.angle, trace.deviation, trace.z, noise, highest, zero_kept)
    offset = _wave(fit, "", 1)
    lobes = tuple(_wave(fit, "", n, chance) for n, chance in zip(fit.orders, fit.chance, strict=True))
    planes = len(trace.planes) > 1
    ls, mz = _roundness(trace, fit, radius or NOMINAL_RADIUS_MM)
    distinct = len(np.unique(np.round(np.mod(trace.angle, 2 * pi), 6)))
    return IndicatorResult(
        trace=trace, jaws=jaws, tir=_tir(trace, fit), runout=_runout(fit) if lobes else offset.amplitude.scaled(2.0),
        eccentricity=offset, lobes=lobes,
        growth=tuple(_wave(fit, "grow ", n) for n in fit.orders if ("grow cos", n) in fit.names),
        tilt=_wave(fit, "tilt ", 1) if planes else None, taper=_taper(fit) if planes and zero_kept else None,
        noise=_noise(fit), freedom=fit.freedom, resolution=step, resolution_from=step_from,
        outliers=tuple(_outlier(trace, fit, int(row)) for row in fit.dropped), roundness_ls=ls, roundness_mz=mz,
        gauges=other_gauges(lobes), highest=min(highest, distinct // 2), residual=fit.residual, criterion=CRITERION,
        aliases=aliases_of(trace, lobes),
        roundness_high=None if mz is None else mz.peak_to_valley / seen_of_zone(distinct),
        notes=(*_notes(trace, fit, radius, jaws, distinct), *_between(trace, lobes, mz, distinct)),
    )  # fmt: skip


def aliases_of(trace: Trace, lobes: tuple[Wave, ...]) -> tuple[tuple[int, int], ...]:
    """Each lobe with the order that reads the same at these places; none where they are not evenly spaced.

    At n equal places cos(k t) and cos((n - k) t) agree at every one of them (sampling, any textbook).
    """
    places = np.unique(np.round(np.mod(trace.angle, 2 * pi), 6))
    count = len(places)
    if count > MOST_ALIASED or np.ptp(np.diff(np.append(places, places[0] + 2 * pi))) > 1e-4:
        return ()
    return tuple((w.order, count - w.order) for w in lobes if count - w.order > w.order)


def seen_of_zone(places: int) -> float:
    """Share of the roundness that so many equal places see in at least 95 of 100 shapes.

    Source: 250 drawn shapes of 2 to 15 lobes that fall off as 1 / order, ``tests/unit/test_indicator.py`` draws others.
    """
    counts, shares = np.array(SEEN_OF_ZONE).T
    return float(np.interp(places, counts, shares))


def resolution_of(reading: Array) -> tuple[float, str]:
    """The largest usual division of which every reading is a multiple [mm], and where that came from."""
    first = reading[:200]  # a few are enough to rule a division out; those left are tried on all
    for step in STEPS_MM:
        for some in (first, reading):
            off = some / step
            if np.abs(off - np.round(off)).max() > 1e-6 * max(1.0, float(np.abs(off).max())):
                break
        else:
            return step, "from the digits of the readings"
    return 0.0, "finer than any dial"


def sum_of(waves: tuple[Wave, ...], angle: Array) -> Array:
    """Sum of the waves at ``angle`` [rad]. [mm]"""
    found = np.zeros_like(np.asarray(angle, float))
    for one in waves:
        found += one.cosine * np.cos(one.order * angle) + one.sine * np.sin(one.order * angle)
    return found


def other_gauges(lobes: tuple[Wave, ...]) -> Gauges:
    """What a micrometer and vee blocks show of these lobes; a part that is only off centre shows nothing on either.

    Source: geometry, ``mechanics.form.vee_factor``; a micrometer is a vee of 180 degrees.
    """
    angle = np.linspace(0.0, 2 * pi, 1441)
    shows = []
    for included in (180, *VEES):
        seen = np.zeros_like(angle)
        for one in lobes:
            seen += vee_factor(one.order, np.radians(included)) * sum_of((one,), angle)
        shows.append(float(np.ptp(seen)))
    return Gauges(*shows)


def _check(jaws: int, resolution: float | None, repeat: float | None, count: int, radius: float | None) -> None:
    problems = []
    if not 2 <= jaws <= 12:
        problems.append(f"jaws: found {jaws}; expected 2 to 12")
    if resolution is not None and not 0.0 <= resolution <= 1.0:
        problems.append(f"resolution: found {resolution:g} mm; expected 0 to 1 mm, one division of the dial")
    if repeat is not None and not 0.0 <= repeat <= 1.0:
        problems.append(f"repeat: found {repeat:g} mm; expected 0 to 1 mm, the scatter of one place read again")
    if not 2 <= count <= MOST_REPEATS:
        found = str(count) if abs(count) <= MOST_REPEATS else "more"
        problems.append(f"repeat_readings: found {found}; a scatter needs at least 2, at most {MOST_REPEATS}")
    if radius is not None and not 0.0 < radius < 1e5:
        problems.append(f"radius: found {radius:g} mm; expected more than 0")
    if problems:
        raise InputError(*problems)


def _wave(fit: Fit, kind: str, order: int, chance: float = 0.0) -> Wave:
    (a, b), covariance = fit.pair(kind, order)
    size = hypot(a, b)
    whole = bool(covariance[0, 0] > 0.0 and covariance[1, 1] > 0.0) or fit.variance == 0.0
    along = np.array([a, b]) / size if size > 0.0 else np.array([1.0, 0.0])
    across = np.array([-along[1], along[0]])
    sd, sd_across = (sqrt(max(float(v @ covariance @ v), 0.0)) for v in (along, across))
    phase = float(np.arctan2(b, a))
    if not whole:  # what was not seen could be anything: the least the lobe can be, and no direction
        return Wave(order, about(size, sd, fit.freedom), Estimate(phase, pi / sqrt(3), phase - pi, phase + pi),
                    a, b, sd, chance, False)  # fmt: skip
    spread = sqrt(0.5 * float(np.trace(covariance)))
    turn = direction(phase, sd_across, size, fit.freedom)
    return Wave(order, amplitude(size, sd, fit.freedom), turn, float(a), float(b), spread, chance)


def _runout(fit: Fit) -> Estimate:
    """Swing of the fitted shape at the middle plane, with the interval of that difference.

    Where noise alone could make the highest place, that interval is too sure; with an offset and no lobes the swing is
    twice the offset, whose own interval knows that.
    """
    angle = np.linspace(0.0, 2 * pi, 721)
    rows = np.zeros((len(angle), len(fit.names)))
    for k, (kind, order) in enumerate(fit.names):
        if kind in ("cos", "sin"):
            rows[:, k] = np.cos(order * angle) if kind == "cos" else np.sin(order * angle)
    curve = rows @ fit.coefficient
    across = rows[int(curve.argmax())] - rows[int(curve.argmin())]
    found = about(float(np.ptp(curve)), sqrt(max(float(across @ fit.covariance @ across), 0.0)), fit.freedom)
    return Estimate(found.value, found.uncertainty, max(found.low, 0.0), found.high)


def _tir(trace: Trace, fit: Fit) -> float:
    kept = np.zeros(len(trace.reading), bool)
    kept[fit.kept] = True
    left = [trace.reading[kept & (trace.z == place)] for place in trace.planes]
    return max(float(np.ptp(readings)) for readings in left if readings.size)  # of a plane all may be set aside


def _taper(fit: Fit) -> Estimate:
    at = fit.names.index(("taper", 0))
    return about(float(fit.coefficient[at]), sqrt(float(fit.covariance[at, at])), fit.freedom)


def _noise(fit: Fit) -> Estimate:
    """Standard deviation of one reading; its interval by chi-square."""
    from scipy import special

    sd = sqrt(fit.variance)
    if fit.freedom == inf or sd == 0.0:
        return Estimate(sd, 0.0, sd, sd)
    low, high = (float(np.sqrt(fit.freedom / special.chdtri(fit.freedom, share))) for share in (0.025, 0.975))
    return Estimate(sd, sd / sqrt(2 * fit.freedom), sd * low, sd * high)


def _outlier(trace: Trace, fit: Fit, row: int) -> Outlier:
    sign = -1.0 if trace.side == "inside" else 1.0
    return Outlier(
        row, float(trace.angle[row]), float(trace.z[row]), float(trace.reading[row]), sign * float(fit.residual[row])
    )


def _roundness(trace: Trace, fit: Fit, radius: float) -> tuple[Roundness | None, Roundness | None]:
    """Least squares and minimum zone of the plane that is least round; a face has none."""
    if trace.side == "face":
        return None, None
    worst: tuple[Roundness, Roundness] | None = None
    for place in trace.planes:
        rows = fit.kept[trace.z[fit.kept] == place]
        angle, deviation = trace.angle[rows], trace.deviation[rows]
        angle, deviation = _extremes(angle, deviation - deviation.mean(), fit)
        try:
            ls, mz = (
                roundness_of_deviation(angle, deviation, radius, how) for how in ("least-squares", "minimum-zone")
            )
        except (GeometryError, SolverError, InputError):  # too few places, or not all round: no roundness to speak of
            return None, None
        if worst is None or mz.peak_to_valley > worst[1].peak_to_valley:
            worst = ls, mz
    return worst if worst is not None else (None, None)


def _extremes(angle: Array, deviation: Array, fit: Fit) -> tuple[Array, Array]:
    """The highest and lowest reading of every small step, about the fitted centre: a zone rests on no others."""
    if len(angle) <= MOST_FOR_ZONE:
        return angle, deviation
    (a, b), _ = fit.pair("", 1)
    form = deviation - a * np.cos(angle) - b * np.sin(angle)
    step = (np.mod(angle, 2 * pi) * (MOST_FOR_ZONE / (4 * pi))).astype(np.int64)
    order = np.lexsort((form, step))
    first = np.flatnonzero(np.diff(step[order], prepend=-1))
    last = np.append(first[1:], len(order)) - 1
    rows = order[np.union1d(first, last)]
    return angle[rows], deviation[rows]


MOST_AGAIN = 12
"""More readings of each place than that are a spindle that turned on, not somebody who read again."""


def _notes(trace: Trace, fit: Fit, radius: float | None, jaws: int, distinct: int) -> tuple[str, ...]:
    found = []
    if distinct // 2 < jaws:
        found.append(f"{distinct} places cannot show {jaws} lobes: take {4 * jaws} for a clear answer")
    if any(not _wave(fit, "", n).whole for n in fit.orders):
        found.append("two places a lobe show only the part in step with the places: the lobe is at least that high")
    if trace.side != "face" and radius is None:
        found.append(sentence("no radius given: roundness is taken on a radius of {:g mm}", NOMINAL_RADIUS_MM))
    again = len(trace.angle) // max(distinct * len(trace.planes), 1)
    if 2 <= again <= MOST_AGAIN and distinct * len(trace.planes) * again == len(trace.angle):
        found.append(f"each place was read {again} times and is taken as read in one clamping: where the part was "
                     "clamped again, number the clampings in a column clamping")  # fmt: skip
    if fit.freedom < 5:
        found.append(f"only {fit.freedom:g} readings more than unknowns: the intervals are wide")
    return tuple(found)


def _between(trace: Trace, lobes: tuple[Wave, ...], mz: Roundness | None, places: int) -> list[str]:
    """What lies between the places: orders that read alike, and how much of the roundness may be missed."""
    found = []
    alike = aliases_of(trace, lobes)
    if alike:
        pairs = " and ".join(f"{low} lobes from {high}" for low, high in alike)
        found.append(f"{places} equal places cannot tell {pairs}: read {2 * places} places, or the same {places} again "
                     f"from {180 / places:.3g}° further on")  # fmt: skip
    seen = seen_of_zone(places)
    if mz is not None and seen < 1.0:
        found.append(
            sentence(
                "{} places may miss what lies between them: the roundness is at most {:.3f mm} in 95 of 100 shapes",
                places,
                mz.peak_to_valley / seen,
            )
        )
    return found
