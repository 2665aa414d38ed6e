"""From a gauge ring read free and clamped to the force of every jaw, with what is not known of it.

Every trace is zero + place of the ring + free shape + answer of the ring to the forces + noise.  Zeros, places and the
free shape are taken out; the forces must be in balance, so three jaws on rollers press alike whatever the chuck does.
All is one linear Gaussian model, solved with its covariance; what scales all forces alike (stiffness of the ring,
how the jaws press on it) is added at the end.  Forces N, lengths mm, angles rad, pressures MPa.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import null_space

from heldtrue.errors import InputError
from heldtrue.mechanics.gauge_ring import Ring, RingInJaws, waves_of

Array = NDArray[np.float64]
Gauge = Literal["dial", "two-point", "three-point"]
Touch = Literal["rollers", "pads", "jaws"]

YOUNG_ERROR = 0.015
"""Young's modulus of steel from melt to melt, standard deviation: common practice, no source."""
SIZE_MM = 0.01
"""Wall of the ring against the size it was measured at, standard deviation: common practice, no source."""
REPEAT = 0.3
"""Scatter of a reading beside its division, in divisions, standard deviation: common practice, no source."""
START_RAD = 2 * pi / 180
"""How well the first place is found again, standard deviation: common practice, no source."""
_GRID = np.linspace(0, 2 * pi, 721)[:-1]
MOST_TURNED_RAD = 5 * START_RAD
DIFFER = 0.3
"""How far forces of jaws may differ from their mean before anything is read, standard deviation: own judgement."""
FRICTION = 0.2
"""Friction of jaws that press on the ring itself, at its most: a force round the ring of half as much is usual."""
ROLLING = 0.01
"""What rollers and pads add to all forces alike, relative, standard deviation: common practice, no source."""
FREE_MM = 0.2
"""Free shape of a ring that was read free: any."""
SURE = 1.96
TOLD = 0.6
"""Jaws are told apart where reading leaves less than this share of what was open before."""


@dataclass(frozen=True)
class RingGauge:
    """A gauge ring as it is used.

    ``ring``; ``number``; ``jaws`` that press on it; ``contact``: "rollers", "pads" or the "jaws" themselves;
    ``half_angle`` of a pad or jaw on it [rad]; ``bored``: least and greatest radius of the jaws' bore, for "jaws";
    ``roundness`` of the read surface when free; ``most_force``: largest force of one jaw that it may carry [N].
    """

    ring: Ring
    number: str
    jaws: int
    contact: Touch = "rollers"
    half_angle: float = 0.0
    bored: tuple[float, float] = (0.0, 0.0)
    roundness: float = 0.005
    most_force: float | None = None


@dataclass(frozen=True)
class RingTrace:
    """One round of readings: ``pressure`` at which it was clamped, None for free; ``values`` at the places.

    Of a dial, plus is its plunger pushed in; of a bore gauge, a larger diameter.
    """

    pressure: float | None
    values: tuple[float, ...]


@dataclass(frozen=True)
class RingReadings:
    """All readings of one ring.

    ``angles`` of the places from the middle of jaw 1, towards jaw 2; ``division`` of the gauge; ``gauge``: "dial",
    or a bore gauge of two or three points.
    """

    traces: tuple[RingTrace, ...]
    angles: tuple[float, ...]
    division: float
    gauge: Gauge = "dial"


@dataclass(frozen=True)
class ClampedForce:
    """Forces at one pressure: of each jaw and of all, each as low, likely, high at 95 %. [MPa, N]

    ``error``: half of that range of all jaws together, relative; ``lobes`` of the read surface [mm].
    """

    pressure: float
    by_jaw: tuple[tuple[float, float, float], ...]
    total: tuple[float, float, float]
    error: float
    lobes: float


@dataclass(frozen=True)
class RingAnswer:
    """What the ring says.

    ``slope``: grip of all jaws per pressure [N/MPa] and ``threshold``: pressure lost before they grip [MPa], both low,
    likely, high, None from fewer than two pressures; ``apart``: can the places tell the jaws apart; ``uneven``: the
    jaw that differs most from the mean beyond doubt, and its share of it, None without; ``noise``: scatter of a reading
    [mm]; ``common``: what scales all forces alike, 95 %, relative; ``free``: was the free shape read.
    """

    clamped: tuple[ClampedForce, ...]
    slope: tuple[float, float, float] | None
    threshold: tuple[float, float, float] | None
    apart: bool
    uneven: tuple[int, float] | None
    noise: float
    common: float
    free: bool


def read_ring(gauge: RingGauge, readings: RingReadings, most_grip: float | None = None) -> RingAnswer:
    """The forces behind the readings; ``most_grip``: of all jaws by the chuck's plate [N], for what cannot be.

    Raises: ``InputError`` for readings that are none: too few places, signs reversed, another count of jaws, another
    ring, no pressure.
    """
    _check(gauge, readings)
    model = _Model(gauge, readings)
    found = model.solve()
    _refuse_impossible(gauge, readings, model, found, most_grip)
    return model.answer(found)


def _check(gauge: RingGauge, readings: RingReadings) -> None:
    count, clamped = len(readings.angles), [t for t in readings.traces if t.pressure is not None]
    if not clamped:
        raise InputError("no readings of the clamped ring: read it free, and clamped at one to three pressures")
    if sum(t.pressure is None for t in readings.traces) > 1:
        raise InputError("the ring was read free twice: give one free round")
    for trace in readings.traces:
        if len(trace.values) != count:
            where = "free" if trace.pressure is None else f"at {trace.pressure:g} MPa"
            raise InputError(f"{len(trace.values)} readings {where}, but {count} places")
        if trace.pressure is not None and trace.pressure <= 0:
            raise InputError("a clamped ring has a pressure above 0")
    pressures = [t.pressure for t in clamped]
    if len(set(pressures)) < len(pressures):
        raise InputError("two rounds at the same pressure: average them, or name the pressure each was read at")
    need = 2 if readings.gauge != "dial" else 2 * gauge.jaws
    if count < need:
        raise InputError(f"{count} places; {gauge.jaws} jaws need {need} or more: at the jaws and between them")
    if len(clamped) == len(readings.traces) and len(clamped) < 2:
        raise InputError("read the ring free too, or at a second pressure: its own shape is not known")
    seen = _seen(readings, np.cos(gauge.jaws * _GRID))
    if np.ptp(seen) < 0.1:
        what = {
            "two-point": f"a two-point gauge cannot see the lobes of {gauge.jaws} jaws: where one point goes in, the "
            "other goes out; use a dial or a three-point gauge",
            "three-point": f"a three-point gauge cannot see the lobes of {gauge.jaws} jaws: use a dial",
            "dial": f"all {count} places stand alike between {gauge.jaws} jaws: read at the jaws and between them",
        }
        raise InputError(what[readings.gauge])  # fmt: skip


def _seen(readings: RingReadings, shape: Array, start: float = 0.0) -> Array:
    """What the gauge shows of a radial shape given on the grid, at each place, all found ``start`` too far."""
    places = np.array(readings.angles) + start
    grid, closed = np.append(_GRID, 2 * pi), np.append(shape, shape[0])

    def at(angles: Array) -> Array:
        return np.asarray(np.interp(np.mod(angles, 2 * pi), grid, closed))

    return sum((weight * at(places + turn) for turn, weight in _POINTS[readings.gauge]), np.zeros(len(places)))


_POINTS: dict[str, tuple[tuple[float, float], ...]] = {
    "dial": ((0.0, 1.0),),
    "two-point": ((0.0, 1.0), (pi, 1.0)),
    "three-point": ((0.0, 2 / 3), (2 * pi / 3, 2 / 3), (-2 * pi / 3, 2 / 3)),
}
"""Where a gauge touches, from its place, and how much of the radius there it shows; a bore gauge shows a diameter."""


@dataclass(frozen=True)
class _Found:
    """Posterior of the forces: mean and covariance over (traces x jaws), the scatter of a reading, the residuals.

    ``turned``: how much each start was found too far, on top of what was allowed for, and ``unsure`` how well [rad].
    """

    forces: Array
    covariance: Array
    noise: float
    residual: Array
    turned: Array
    unsure: Array


class _Model:
    """The linear model of all traces."""

    def __init__(self, gauge: RingGauge, readings: RingReadings) -> None:
        self.gauge, self.readings = gauge, readings
        self.clamped = [t for t in readings.traces if t.pressure is not None]
        self.free = len(self.clamped) < len(readings.traces)
        self.in_jaws = RingInJaws(gauge.ring, gauge.jaws, gauge.half_angle if gauge.contact == "jaws" else 0.0)
        self.share, self.share_error = _share(gauge, self.in_jaws)
        self.turns = [2 * pi * j / gauge.jaws for j in range(gauge.jaws)]
        self.patterns = _in_balance(self.turns, rubbing=gauge.contact != "rollers")
        self.starts, self.unsure = np.zeros(len(self.clamped)), np.full(len(self.clamped), START_RAD)
        # A bore that comes in pushes a dial's plunger in.
        self.sign = -1.0 if readings.gauge == "dial" and gauge.ring.side == "outside" else 1.0
        waves = waves_of(gauge.ring)
        pressed = [self.share * waves.under_radial(_GRID - turn) for turn in self.turns]
        round_ = [waves.under_round(_GRID - turn, gauge.half_angle) for turn in self.turns]
        self.shapes, self.even = (*pressed, *round_), np.sum(pressed, axis=0)

    def solve(self) -> _Found:
        """Forces and covariance; a few times, since what a turned start does goes with the force."""
        found = self._solve(1.0, self._noise())
        for _ in range(3):
            mean = max(abs(float(found.forces.mean())), 1.0)
            self.starts = np.clip(self.starts + found.turned, -MOST_TURNED_RAD, MOST_TURNED_RAD)
            self.unsure = found.unsure
            found = self._solve(mean, max(self._noise(), self._scatter(found)))
        return found

    def _noise(self) -> float:
        division = self.readings.division
        return division * sqrt(1 / 12 + REPEAT**2)

    def _scatter(self, found: _Found) -> float:
        """Scatter that the readings show beside the model, where there are enough of them to say."""
        spare = found.residual.size - self._unknowns()
        return sqrt(float((found.residual**2).sum()) / spare) if spare >= 4 else 0.0

    def _unknowns(self) -> int:
        count = len(self.readings.angles)
        per_trace = 3 if self.readings.gauge == "dial" else 1
        return len(self.readings.traces) * per_trace + len(self.clamped) + (count - per_trace if self.free else 0)

    def _solve(self, mean: float, noise: float) -> _Found:
        columns, prior, forces, turned = self._columns(mean)
        values = self.sign * np.concatenate([t.values for t in self.readings.traces])
        information = columns.T @ columns / noise**2 + np.diag(1 / prior**2)
        # What was allowed for of a start still counts against how well a start is found.
        known = np.zeros(len(prior))
        known[turned] = -self.starts
        covariance = np.linalg.inv(information)
        unknown = covariance @ (columns.T @ values / noise**2 + known / prior**2)
        return _Found(
            forces @ unknown, forces @ covariance @ forces.T, noise, values - columns @ unknown, unknown[turned],
            np.sqrt(np.diag(covariance)[turned]),
        )  # fmt: skip

    def _columns(self, mean: float) -> tuple[Array, Array, Array, list[int]]:
        """What each unknown does to the readings, its spread before, the rows that make jaw forces of them, and which
        of them are turned starts."""
        readings, jaws = self.readings, self.gauge.jaws
        count, traces = len(readings.angles), readings.traces
        places = np.array(readings.angles)
        blocks: list[Array] = []
        prior: list[float] = []
        force_rows: list[tuple[int, int, Array]] = []

        def add(trace: int | None, shape: Array, spread: float) -> int:
            column = np.zeros(count * len(traces))
            for t in range(len(traces)) if trace is None else [trace]:
                column[t * count : (t + 1) * count] = shape
            blocks.append(column)
            prior.append(spread)
            return len(prior) - 1

        if readings.gauge != "dial":
            add(None, np.ones(count), 1e3)
        for t in range(len(traces)):
            # A dial is set anew for every round; a bore gauge was set once, on its setting ring.
            add(t, np.ones(count), 1e3 if readings.gauge == "dial" else readings.division)
            if readings.gauge == "dial":
                add(t, np.cos(places), 1e2)
                add(t, np.sin(places), 1e2)
        for shape, spread in self._free_shape():
            add(None, shape, spread)
        turned: list[int] = []
        for c, t in enumerate(i for i, one in enumerate(traces) if one.pressure is not None):
            answers = self._answers(float(self.starts[c]))
            even = np.concatenate([np.full(jaws, 1 / jaws), np.zeros(jaws)])
            force_rows.append((add(t, answers @ even, 1e8), c, np.full(jaws, 1 / jaws)))
            for pattern, share in self.patterns:
                force_rows.append((add(t, answers @ pattern, share * mean), c, pattern[:jaws]))
            turned.append(add(t, self._turned(mean, float(self.starts[c])), START_RAD))
            # A start that the places cannot see makes all lobes look smaller, by the square of what it is off.
            smaller = (self.gauge.jaws * float(self.unsure[c])) ** 2
            add(t, mean * _seen(self.readings, self.even, float(self.starts[c])), smaller)
        rows = np.zeros((len(self.clamped) * jaws, len(prior)))
        for column, c, pattern in force_rows:
            rows[c * jaws : (c + 1) * jaws, column] = pattern
        return np.array(blocks).T, np.array(prior), rows, turned

    def _free_shape(self) -> list[tuple[Array, float]]:
        """The ring's own shape, the same in every trace: at each place, and how large it may be."""
        count = len(self.readings.angles)
        if self.free:
            return [(row, FREE_MM) for row in np.eye(count)]
        return [(_seen(self.readings, wave(n * _GRID)), self.gauge.roundness / 2)
                for n in range(2, max(self.gauge.jaws + 1, 7)) for wave in (np.cos, np.sin)]  # fmt: skip

    def _answers(self, start: float) -> Array:
        """Reading at each place for 1 N of each jaw, then for 1 N round the ring at each, (places, 2 jaws)."""
        return np.array([_seen(self.readings, shape, start) for shape in self.shapes]).T

    def _turned(self, mean: float, start: float) -> Array:
        """What a start found 1 rad too far does to the readings under a mean force."""
        return _seen(self.readings, mean * np.gradient(self.even, _GRID[1]), start)

    def answer(self, found: _Found) -> RingAnswer:
        """Forces with their ends, the line through them, the jaws."""
        jaws, common = self.gauge.jaws, self._common()
        clamped = []
        for c, trace in enumerate(self.clamped):
            some = slice(c * jaws, (c + 1) * jaws)
            forces, covariance = found.forces[some], found.covariance[some, some]
            each = tuple(
                _ends(float(f), sqrt(float(v) + (common * float(f)) ** 2))
                for f, v in zip(forces, np.diag(covariance), strict=True)
            )
            total = float(forces.sum())
            spread = sqrt(float(covariance.sum()) + (common * total) ** 2)
            lobes = self.in_jaws.lobes(total / jaws) * self.share
            assert trace.pressure is not None
            clamped.append(
                ClampedForce(trace.pressure, each, _ends(total, spread), SURE * spread / abs(total), abs(lobes))
            )
        slope, threshold = self._line(found, common)
        apart, uneven = self._jaws(found)
        return RingAnswer(tuple(clamped), slope, threshold, apart, uneven, found.noise, SURE * common, self.free)

    def _common(self) -> float:
        """What scales all forces alike, relative, standard deviation."""
        wall = self.gauge.ring.outer - self.gauge.ring.inner
        return sqrt(YOUNG_ERROR**2 + (3 * SIZE_MM / wall) ** 2 + self.share_error**2)

    def _line(self, found: _Found, common: float) -> tuple[tuple[float, float, float] | None, ...]:
        """Grip of all jaws against pressure, by least squares with the covariance."""
        count, jaws = len(self.clamped), self.gauge.jaws
        if count < 2:
            return None, None
        pressures = np.array([t.pressure for t in self.clamped], float)
        sums = np.kron(np.eye(count), np.ones((1, jaws)))
        total, spread = sums @ found.forces, sums @ found.covariance @ sums.T
        design = np.column_stack([pressures, np.ones(count)])
        weight = np.linalg.inv(spread)
        covariance = np.linalg.inv(design.T @ weight @ design)
        slope, offset = (float(v) for v in covariance @ design.T @ weight @ total)
        if slope <= 0:
            raise InputError("the grip does not rise with the pressure: the rounds are mixed up, or the chuck is stuck")
        lost = -offset / slope
        # d(-b/a) = b/a2 da - db/a
        direction = np.array([offset / slope**2, -1 / slope])
        lost_spread = sqrt(float(direction @ covariance @ direction))
        ends = _ends(slope, sqrt(float(covariance[0, 0]) + (common * slope) ** 2))
        low, likely, high = _ends(lost, lost_spread)
        return ends, (max(low, 0.0), max(likely, 0.0), max(high, 0.0))

    def _jaws(self, found: _Found) -> tuple[bool, tuple[int, float] | None]:
        """Can the jaws be told apart, and does one differ beyond doubt? At the highest pressure."""
        jaws = self.gauge.jaws
        last = int(np.argmax([t.pressure or 0.0 for t in self.clamped]))
        some = slice(last * jaws, (last + 1) * jaws)
        forces = found.forces[some]
        centred = np.eye(jaws) - 1 / jaws
        spread = np.sqrt(np.diag(centred @ found.covariance[some, some] @ centred))
        before = self._before(centred, abs(float(forces.mean())))
        apart = bool(before.max() > 0) and bool((spread <= TOLD * before).all())
        off = centred @ forces
        worst = int(np.argmax(np.abs(off) / np.maximum(spread, 1e-9)))
        if not apart or abs(off[worst]) < SURE * 1.3 * spread[worst]:
            return apart, None
        return apart, (worst, float(forces[worst] / forces.mean()))

    def _before(self, centred: Array, mean: float) -> Array:
        """How far the forces of the jaws might differ before anything was read. [N]"""
        jaws = self.gauge.jaws
        total = np.zeros((jaws, jaws))
        for pattern, share in self.patterns:
            total += (share * mean) ** 2 * np.outer(pattern[:jaws], pattern[:jaws])
        return np.asarray(np.sqrt(np.maximum(np.diag(centred @ total @ centred), 0.0)))


def _in_balance(turns: Sequence[float], *, rubbing: bool) -> list[tuple[Array, float]]:
    """Patterns of radial forces, then forces round the ring, (2 jaws,), in balance and without a mean.

    With each how far it may be there before anything is read, over the mean force, standard deviation.  ``rubbing``:
    is there any force round the ring?
    """
    jaws = len(turns)
    c, s = np.cos(turns), np.sin(turns)
    balance = np.array([[*c, *(-s)], [*s, *c], [*np.zeros(jaws), *np.ones(jaws)], [*np.ones(jaws), *np.zeros(jaws)]])
    if not rubbing:
        balance = np.vstack([balance, np.hstack([np.zeros((jaws, jaws)), np.eye(jaws)])])
    found = []
    for pattern in null_space(balance).T:
        largest = float(np.abs(pattern[:jaws]).max())
        if largest < 1e-9:
            continue
        unit = pattern / largest
        round_ = float(np.abs(unit[jaws:]).max())
        found.append((unit, DIFFER if round_ < 1e-9 else min(DIFFER, FRICTION / 2 / round_)))
    return found


def _share(gauge: RingGauge, in_jaws: RingInJaws) -> tuple[float, float]:
    """Lobes over those of forces along lines, and how far that is open, relative, standard deviation."""
    if gauge.contact == "rollers":
        return 1.0, ROLLING
    if gauge.contact == "pads":
        # A pad presses somewhere between its edges and its middle.
        low = in_jaws.edge_share(gauge.half_angle)
        return (1 + low) / 2, sqrt(ROLLING**2 + (1 - low) ** 2 / 12)
    force = gauge.most_force or 1e4
    shares = [in_jaws.share_of_line(force * part, bored, friction)
              for part in (0.3, 1.0) for bored in gauge.bored for friction in (0.0, FRICTION)]  # fmt: skip
    low, high = min(*shares, in_jaws.even_share()), max(*shares, in_jaws.even_share())
    middle = (low + high) / 2
    # Nobody knows where between the ends.
    return middle, (high - low) / sqrt(12) / middle


def _ends(likely: float, spread: float) -> tuple[float, float, float]:
    return (likely - SURE * spread, likely, likely + SURE * spread)


def _refuse_impossible(
    gauge: RingGauge, readings: RingReadings, model: _Model, found: _Found, most_grip: float | None
) -> None:
    jaws = gauge.jaws
    totals = found.forces.reshape(-1, jaws).sum(axis=1)
    spreads = np.sqrt([found.covariance[i : i + jaws, i : i + jaws].sum() for i in range(0, len(found.forces), jaws)])
    lobes = _other_lobes(model, found)
    if lobes is not None:
        raise InputError(
            f"the readings have {lobes} lobes, not {jaws}: the chuck has another number of jaws, the places are "
            "counted wrong, or there is dirt under the ring"
        )
    if (totals < -2 * spreads).any():
        raise InputError(
            "the ring opens where the jaws press: the signs are reversed (plus is the plunger pushed in), the "
            "places do not start at a jaw, or free and clamped are swapped"
        )
    if (totals < 2 * spreads).any():
        raise InputError(
            "the ring hardly moved: the readings say no force. Take a finer dial, more pressure or a thinner ring"
        )
    if gauge.most_force is not None and totals.max() / jaws > 1.1 * gauge.most_force:
        raise InputError(
            f"{totals.max() / jaws / 1e3:.3g} kN of one jaw is more than the {gauge.most_force / 1e3:.3g} kN this ring "
            "may carry: another ring, or its largest pressure was passed. Check it for a set before it is used again"
        )
    if most_grip is not None and totals.max() - 2 * spreads.max() > 1.15 * most_grip:
        raise InputError(
            f"{totals.max() / 1e3:.3g} kN of grip is more than the {most_grip / 1e3:.3g} kN the chuck's plate allows: "
            "readings of another ring, another unit, or places counted wrong"
        )


def _other_lobes(model: _Model, found: _Found) -> int | None:
    """Lobes that the forces cannot have made, far larger than those they made; None without."""
    readings = model.readings
    count = len(readings.angles)
    highest = min((count - 1) // 2, 8)
    if readings.gauge != "dial" or highest < 3:
        return None
    by_trace = found.residual.reshape(len(readings.traces), count)
    order = sorted(range(len(by_trace)), key=lambda i: readings.traces[i].pressure or 0.0)
    left = by_trace[order[-1]] - by_trace[order[0]]
    places = np.array(readings.angles)
    columns = [np.ones(count)] + [w(n * places) for n in range(1, highest + 1) for w in (np.cos, np.sin)]
    fitted = np.linalg.lstsq(np.array(columns).T, left, rcond=None)[0]
    sizes = {n: float(np.hypot(*fitted[2 * n - 1 : 2 * n + 1])) for n in range(2, highest + 1)}
    made = model.in_jaws.lobes(abs(float(found.forces[-model.gauge.jaws :].mean()))) / 2
    largest = max(sizes, key=lambda n: sizes[n])
    clear = sizes[largest] > 10 * model.readings.division * sqrt(1 / 12 + REPEAT**2)
    return largest if clear and sizes[largest] > made else None
