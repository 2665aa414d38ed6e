"""Form of a surface that should be round, cylindrical or flat: harmonics, zones, run-out, what gauges see.

Lengths mm, angles rad. A radial deviation is positive away from the axis, on outside and inside diameters
alike. An answer comes from the points given: nothing is said about the surface between them.

Minimum zones are found by an exact exchange of contact points and leave here only with a proof that no
smaller zone exists (``_is_global``, ``_all_crossings``, ``_settle_plane``); without it a ``SolverError`` is
raised. Definitions follow ISO 12181-1 (roundness), ISO 12180-1 (cylindricity), ISO 12781-1 (flatness) and
ISO 1101 (run-out); the methods are derived here unless a source is named.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from heldtrue.errors import GeometryError, InputError, SolverError

Array: TypeAlias = NDArray[np.float64]
Method: TypeAlias = Literal["least-squares", "minimum-zone"]

_EXACT = 1e-12  # zones and contacts are the same when they differ by less than this share of the size


@dataclass(frozen=True)
class Circle:
    """A circle: ``centre`` (x, y) [mm] and ``radius`` [mm]."""

    centre: tuple[float, float]
    radius: float


@dataclass(frozen=True)
class FormError:
    """Distances from a reference shape [mm]; ``peak`` and ``valley`` are both counted positive.

    Least squares: the reference is the fitted shape. Minimum zone: it lies half way between the two bounds,
    so that ``peak`` equals ``valley``.
    """

    peak_to_valley: float
    peak: float
    valley: float
    rms: float


@dataclass(frozen=True)
class Roundness(FormError):
    """Roundness [mm] and the reference circle: ``centre`` (x, y) [mm] and ``radius`` [mm]."""

    centre: tuple[float, float]
    radius: float


@dataclass(frozen=True)
class Cylindricity(FormError):
    """Cylindricity [mm] and the reference cylinder.

    Its axis passes through ``offset`` (x, y) [mm] at ``z_middle`` [mm] and leans by ``tilt`` (dx/dz, dy/dz)
    [rad]; ``radius_shift`` [mm] is its radius less the nominal one.
    """

    offset: tuple[float, float]
    tilt: tuple[float, float]
    z_middle: float
    radius_shift: float


@dataclass(frozen=True)
class Flatness(FormError):
    """Flatness [mm] and the reference plane normal . point = ``distance`` [mm]; normal: length 1, z >= 0."""

    normal: tuple[float, float, float]
    distance: float


@dataclass(frozen=True)
class Lobe:
    """One harmonic, amplitude cos(order angle - phase): amplitude [mm] >= 0, phase [rad] in [-pi, pi]."""

    order: int
    amplitude: float
    phase: float

    @property
    def first_peak(self) -> float:
        """Angle of the first high spot from angle 0 [rad], in [0, 2 pi / order)."""
        return (self.phase % (2.0 * np.pi)) / self.order


@dataclass(frozen=True)
class RunOut:
    """Total indicator reading [mm]: ``sections`` one at a time (circular), ``total`` over all at once."""

    sections: tuple[float, ...]
    total: float


@dataclass(frozen=True)
class SizeShift:
    """Change of size [mm] with the shape set aside: ``radial`` and ``diametral`` = 2 radial."""

    radial: float
    diametral: float


# --- round -------------------------------------------------------------------------------------------------


def least_squares_circle(points: ArrayLike) -> Circle:
    """Circle with the least sum of squared distances to points (n, 2) [mm], n >= 3 (ISO 12181-1, LSCI).

    Newton's method on the centre, from the algebraic fit, to a last step under 1e-12 radius.
    Raises: ``InputError`` for too few or non-finite points, ``GeometryError`` when they lie on a line,
    ``SolverError`` when no circle is found (typically a very short arc).
    """
    local, origin = _plane_points(points, least=3)
    centre = _algebraic_centre(local)
    distance, unit = _polar(local, centre)
    for _ in range(100):
        error = distance - distance.mean()
        spread = unit - unit.mean(axis=0)
        bend = error / distance
        hessian = spread.T @ spread + bend.sum() * np.eye(2) - (unit * bend[:, None]).T @ unit
        if np.linalg.eigvalsh(hessian)[0] <= 0.0:  # too far out for Newton: Gauss-Newton goes downhill
            hessian = spread.T @ spread
        step = np.linalg.solve(hessian, unit.T @ error)
        cost, radius, share = float(error @ error), float(distance.mean()), 1.0
        while True:
            distance, unit = _polar(local, centre + share * step)
            trial = float(((distance - distance.mean()) ** 2).sum())
            if trial <= cost * (1.0 + 1e-9) + len(local) * (1e-15 * radius) ** 2 or share < 1e-6:
                break
            share *= 0.5
        centre = centre + share * step
        if share == 1.0 and np.hypot(*step) <= _EXACT * radius:
            return Circle(_pair(centre + origin), float(distance.mean()))
    raise SolverError(f"no least-squares circle found for {len(local)} points; is the arc too short?")


def roundness_least_squares(points: ArrayLike) -> Roundness:
    """Roundness of points (n, 2) [mm], n >= 4, about the least-squares circle (ISO 12181-1).

    Raises: as ``least_squares_circle``.
    """
    local, origin = _plane_points(points, least=4)
    circle = least_squares_circle(local)
    distance, _ = _polar(local, np.array(circle.centre))
    return Roundness(*_statistics(distance - circle.radius), _pair(circle.centre + origin), circle.radius)


def roundness_minimum_zone(points: ArrayLike) -> Roundness:
    """Roundness of points (n, 2) [mm], n >= 4: the least gap of two concentric circles (ISO 12181-1, MZCI).

    Linearised about the centre reached so far, the zone is a best uniform fit of cos and sin to the radii,
    which the exchange of contact points solves exactly; repeated, it converges quadratically to two inner and
    two outer contacts in turn. If that zone cannot be proved the least (far from a circle, part of an
    arc), all crossings that can hold the least zone are listed and compared, in time n^3.
    Exact to 1e-12 radius. Raises: ``InputError`` for too few or non-finite points, ``GeometryError`` when a
    straight band is narrower than every ring, ``SolverError`` when the zone is not proved the least.
    """
    local, origin = _plane_points(points, least=4)
    centre = _settle(local, _algebraic_centre(local))
    if centre is None or not _is_global(local, centre):
        centre = _all_crossings(local)
    distance, _ = _polar(local, centre)
    radius = 0.5 * float(distance.max() + distance.min())
    return Roundness(*_statistics(distance - radius), _pair(centre + origin), radius)


def roundness_of_deviation(
    angle: ArrayLike, deviation: ArrayLike, nominal_radius: float, method: Method = "minimum-zone"
) -> Roundness:
    """Roundness of a section: radial deviation (n,) [mm] at angle (n,) [rad] on ``nominal_radius`` [mm].

    The points are put at nominal_radius + deviation and treated exactly. (The usual limacon approximation
    would err by up to e^2 / 2R, e being the distance of the fitted centre from the axis: 0.0001 mm
    for e = 0.1 mm on R = 50 mm, a thousandth of e.) ``centre`` is relative to the axis.
    Raises: as ``roundness_minimum_zone`` or ``least_squares_circle``; ``InputError`` for a radius <= 0.
    """
    angle, deviation = _profile(angle, deviation)
    radius = nominal_radius + deviation
    if not np.all(radius > 0.0):
        raise InputError(f"radius {nominal_radius} mm plus deviation must stay above zero all round")
    points = np.column_stack((radius * np.cos(angle), radius * np.sin(angle)))
    solve = {"least-squares": roundness_least_squares, "minimum-zone": roundness_minimum_zone}
    return solve[_known(method)](points)


# --- harmonics and gauges ----------------------------------------------------------------------------------


def harmonics(angle: ArrayLike, deviation: ArrayLike, orders: Sequence[int]) -> tuple[Lobe, ...]:
    """One ``Lobe`` per order >= 1 of deviation (n,) [mm] at angle (n,) [rad], equally spaced or not.

    Least squares on a mean and all ``orders`` together; an order present but not asked for leaks into the
    answer, unless the spacing is equal and no order beyond n / 2 is present.
    Raises: ``InputError`` for bad arrays or orders, or angles that cannot tell the orders apart.
    """
    angle, deviation = _profile(angle, deviation)
    order = np.array([int(n) for n in orders])
    if order.size == 0 or order.min() < 1 or len({*orders} & {*order.tolist()}) != order.size:
        raise InputError(f"orders must be different whole numbers from 1 up, not {list(orders)}")
    turn = np.multiply.outer(angle, order)
    basis = np.column_stack((np.ones_like(angle), np.cos(turn), np.sin(turn)))
    coefficient, _, rank, _ = np.linalg.lstsq(basis, deviation, rcond=1e-8)
    if rank < basis.shape[1]:
        raise InputError(f"{angle.size} readings at these angles cannot tell orders {list(orders)} apart")
    cosine, sine = coefficient[1 : order.size + 1], coefficient[order.size + 1 :]
    found = zip(order, np.hypot(cosine, sine), np.arctan2(sine, cosine), strict=True)
    return tuple(Lobe(int(n), float(amplitude), float(phase)) for n, amplitude, phase in found)


def lobes(angle: ArrayLike, deviation: ArrayLike, share: float = 0.05, highest: int = 50) -> tuple[Lobe, ...]:
    """Lobes of deviation (n,) [mm] at angle (n,) [rad], largest first.

    Orders 2 up to ``highest`` undulations per revolution, or (n - 1) // 2 where that is less; kept are those
    of at least ``share`` of the largest. Eccentricity (order 1) is fitted and left out.
    Raises: as ``harmonics``; ``InputError`` for fewer than 5 readings or a share outside [0, 1].
    """
    angle, deviation = _profile(angle, deviation)
    top = min(highest, (angle.size - 1) // 2)
    if top < 2 or not 0.0 <= share <= 1.0:
        raise InputError(f"lobes need 5 readings, not {angle.size}; highest >= 2; a share in [0, 1]")
    found = sorted(harmonics(angle, deviation, range(1, top + 1))[1:], key=lambda lobe: -lobe.amplitude)
    least = max(share * found[0].amplitude, 1e-14 * float(np.abs(deviation).max()))  # never rounding noise
    return tuple(lobe for lobe in found if lobe.amplitude > 0.0 and lobe.amplitude >= least)


def runout(deviation: ArrayLike) -> RunOut:
    """Total indicator reading of deviation (n,) or (sections, n) [mm]: largest less smallest, axis as given.

    Not re-centred: eccentricity counts. Raises: ``InputError`` for an empty, non-finite or 3-D array.
    """
    rows = np.atleast_2d(_finite(deviation, "deviation"))
    if rows.ndim != 2:
        raise InputError(f"run-out needs deviation (n,) or (sections, n), not {rows.shape}")
    return RunOut(tuple(float(x) for x in np.ptp(rows, axis=1)), float(np.ptp(rows)))


def size_shift(deviation: ArrayLike) -> SizeShift:
    """Mean radial deviation [mm] (harmonic 0), an offset and not a form error; any shape, in equal steps.

    Raises: ``InputError`` for an empty or non-finite array.
    """
    mean = float(_finite(deviation, "deviation").mean())
    return SizeShift(radial=mean, diametral=2.0 * mean)


def two_point_diameter_variation(angle: ArrayLike, deviation: ArrayLike) -> float:
    """Largest less smallest diameter [mm] as a micrometer or two-point bore gauge finds it. Odd lobing: zero.

    angle (n,) [rad], deviation (n,) [mm]. Diameters are taken at the given angles only, so each needs
    its opposite within 1e-6 rad (an even number of equal steps has them).
    Raises: ``InputError`` when an angle has no opposite, or for bad arrays.
    """
    angle, deviation = _profile(angle, deviation)
    apart = np.abs(np.angle(np.exp(1j * (angle[:, None] - angle - np.pi))))
    opposite = apart.argmin(axis=1)
    if apart.min(axis=1).max() > 1e-6:
        raise InputError(
            "a two-point diameter needs a reading opposite each reading: use an even number of equal steps"
        )
    return float(np.ptp(deviation + deviation[opposite]))


def vee_factor(order: int, vee_angle: float) -> float:
    """Reading per lobe amplitude when a part of ``order`` lobes turns in a vee block; signed.

    ``vee_angle``: included angle [rad], 0 < v <= pi; the indicator stands on the bisector, opposite the vee.
    The run-out seen is 2 |factor| amplitude; pi is a flat anvil, a two-point measurement.
    Notes (geometry): the vee touches at +/- (pi/2 + v/2) from the indicator. There A cos(n t) lifts the
    centre by A cos(n (pi/2 + v/2)) / sin(v/2), which adds to A: 1 + cos(n (pi/2 + v/2)) / sin(v/2).
    Raises: ``InputError`` for an order below 1 or an angle outside (0, pi].
    """
    if order < 1 or not 0.0 < vee_angle <= np.pi:
        raise InputError(f"a vee needs lobes >= 1 and an angle in (0, pi] rad, not {order} and {vee_angle}")
    return float(1.0 + np.cos(order * 0.5 * (np.pi + vee_angle)) / np.sin(0.5 * vee_angle))


# --- cylinder and plane ------------------------------------------------------------------------------------


def cylindricity(angle: ArrayLike, z: ArrayLike, deviation: ArrayLike, method: Method = "minimum-zone") -> Cylindricity:
    """Cylindricity (ISO 12180-1): radial deviation (m, n) [mm] at angle (n,) [rad] and z (m,) [mm].

    The cylinder may shift, lean and grow: r + (a + p z) cos t + (b + q z) sin t, linear in the unknowns; the
    minimum zone is exact for that. True distances differ by about e^2 / 2R + R lean^2 / 2, e being the
    largest distance between fitted and given axis: 0.0001 mm for e = 0.1 mm on R = 50 mm.
    Raises: ``InputError`` for shapes that do not match or under two sections, ``GeometryError`` when the
    sections and angles do not fix an axis, ``SolverError`` when the zone does not settle.
    """
    angle, z, deviation = (_finite(v, k) for v, k in ((angle, "angle"), (z, "z"), (deviation, "deviation")))
    if z.ndim != 1 or z.size < 2 or angle.ndim != 1 or deviation.shape != (z.size, angle.size):
        raise InputError(
            f"deviation {deviation.shape} must be (sections >= 2, angles): z {z.shape}, angle {angle.shape}"
        )
    middle, half = 0.5 * (z.max() + z.min()), 0.5 * float(np.ptp(z)) or 1.0
    cosine, sine = np.tile(np.cos(angle), z.size), np.tile(np.sin(angle), z.size)
    height = np.repeat((z - middle) / half, angle.size)
    basis = np.column_stack((np.ones_like(height), cosine, sine, height * cosine, height * sine))
    fit, residual = _fit(basis, deviation.ravel(), method)
    tilt = (float(fit[3]) / half, float(fit[4]) / half)
    return Cylindricity(*_statistics(residual), _pair(fit[1:3]), tilt, float(middle), float(fit[0]))


def flatness(points: ArrayLike, method: Method = "minimum-zone") -> Flatness:
    """Flatness (ISO 12781-1) of points (n, 3) [mm], n >= 4: distances are square to the reference plane.

    Minimum zone: in a frame that stands on the plane so far, the least zone along its normal is exact; the
    frame follows until it stands still, and ``_settle_plane`` proves that no plane has a smaller zone.
    Raises: ``InputError`` for too few or non-finite points, ``GeometryError`` when they lie on a line,
    ``SolverError`` when the zone is not proved the least (points nowhere near flat).
    """
    cloud = _finite(points, "points")
    if cloud.ndim != 2 or cloud.shape[1] != 3 or len(cloud) < 4:
        raise InputError(f"flatness needs at least 4 points (n, 3), not an array {cloud.shape}")
    origin = cloud.mean(axis=0)
    local = cloud - origin
    _, extent, frame = np.linalg.svd(local, full_matrices=False)
    if extent[1] <= _EXACT * extent[0]:
        raise GeometryError(f"the {len(local)} points lie on a line, which has no plane")
    offset = 0.0
    if _known(method) == "minimum-zone":
        frame = _settle_plane(local, frame)
        height = local @ frame[2]
        offset = 0.5 * float(height.max() + height.min())
    sign = 1.0 if frame[2, 2] >= 0.0 else -1.0
    x, y, z = (float(v) for v in sign * frame[2])
    error, distance = sign * (local @ frame[2] - offset), sign * offset + float(origin @ (x, y, z))
    return Flatness(*_statistics(error), (x, y, z), distance)


def flatness_of_face(
    radius: ArrayLike, angle: ArrayLike, axial: ArrayLike, method: Method = "minimum-zone"
) -> Flatness:
    """Flatness of a face: axial deviation [mm] at radius [mm] and angle [rad], arrays that broadcast.

    A grid: radius (m, 1), angle (n,), axial (m, n). Raises: as ``flatness``; ``InputError`` for shapes
    that do not broadcast.
    """
    try:
        r, t, u = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (radius, angle, axial)))
    except ValueError:
        raise InputError("radius, angle and axial deviation of a face must broadcast to one shape") from None
    return flatness(np.column_stack((np.ravel(r * np.cos(t)), np.ravel(r * np.sin(t)), np.ravel(u))), method)


# --- the exchange of contact points, and the proofs --------------------------------------------------------


def _band(basis: Array, values: Array, start: Array | None = None) -> tuple[Array, Array]:
    """Coefficients x with the least max |values - basis x|, and the p + 1 rows that hold it; exact.

    Stiefel's exchange, the simplex method on the dual: p + 1 rows whose weights balance hold a band of
    half-width h; the row furthest outside enters and h grows until no row is outside, which proves it.
    Bland's rule after 60 exchanges, so that ties cannot turn in a circle.
    Source: E. Stiefel, Numerische Mathematik 1 (1959) 1-28.
    """
    count, p = basis.shape
    rows = _first_rows(basis, values) if start is None else start.copy()
    balance = np.linalg.svd(basis[rows].T)[2][-1]
    sign = np.where(balance < 0.0, -1.0, 1.0)
    slack = _EXACT * float(np.abs(values).max())
    last = np.zeros(p + 1)
    last[p] = 1.0
    for exchange in range(20 * count):
        held = np.column_stack((sign[:, None] * basis[rows], np.ones(p + 1)))
        try:
            solution = np.linalg.solve(held, sign * values[rows])
            residual = values - basis @ solution[:p]
            outside = np.abs(residual)
            enter = int(outside.argmax())
            if outside[enter] <= solution[p] + slack:
                return solution[:p], rows
            if exchange >= 60:
                enter = int(np.flatnonzero(outside > solution[p] + slack)[0])
            side = 1.0 if residual[enter] > 0.0 else -1.0
            incoming = np.append(side * basis[enter], 1.0)
            change, weight = np.linalg.solve(held.T, np.column_stack((incoming, last))).T
        except np.linalg.LinAlgError:
            break
        ratio = np.where(change > 1e-11, np.maximum(weight, 0.0) / np.where(change > 1e-11, change, 1.0), np.inf)
        tied = np.flatnonzero(ratio <= ratio.min() + _EXACT)
        leave = tied[(2 * rows[tied] + (sign[tied] < 0.0)).argmin()]
        rows[leave], sign[leave] = enter, side
    raise SolverError(f"the minimum zone of {count} points did not settle on its contact points")


def _first_rows(basis: Array, values: Array) -> Array:
    """p rows far from dependent on each other, and the row furthest from the fit through them."""
    left, rows = basis.copy(), []
    for _ in range(basis.shape[1]):
        size = np.einsum("ij,ij->i", left, left)
        rows.append(int(size.argmax()))
        if size[rows[-1]] <= _EXACT**2 * basis.shape[1]:
            raise GeometryError("the points do not fix the position of the ideal surface")
        along = left[rows[-1]] / np.sqrt(size[rows[-1]])
        left -= np.multiply.outer(left @ along, along)
    outside = np.abs(values - basis @ np.linalg.solve(basis[rows], values[rows]))
    outside[rows] = -1.0
    return np.array([*rows, int(outside.argmax())])


def _fit(basis: Array, values: Array, method: Method) -> tuple[Array, Array]:
    """Coefficients and residual of the fit of ``values`` by ``basis``."""
    if len(values) <= basis.shape[1]:
        raise InputError(f"{len(values)} points are too few; at least {basis.shape[1] + 1} are needed")
    solution, _, rank, _ = np.linalg.lstsq(basis, values, rcond=1e-10)
    if rank < basis.shape[1]:
        raise GeometryError("the points do not fix the position of the ideal surface")
    fit: Array = np.asarray(solution, dtype=np.float64)
    residual = values - basis @ fit
    if _known(method) == "minimum-zone" and np.abs(residual).max() > 1e-15 * np.abs(values).max():
        fit = fit + _band(basis, residual)[0]
    return fit, values - basis @ fit


def _growth(low: Array, high: Array) -> float:
    """Least of max(low . e) - min(high . e) over directions e, for points (k, 2): > 0 when their hulls cross.

    It is the rate at which a zone held by these contacts grows, per unit of move in the worst direction; with
    low = high it is the least width. The least is square to a side of one hull; of many points, those
    furthest out in 32 directions bound it from below.
    """
    turn = np.arange(32) * (np.pi / 16.0)
    compass = np.array([np.cos(turn), np.sin(turn)])
    low, high = (p if len(p) <= 32 else p[np.unique((p @ compass).argmax(axis=0))] for p in (low, high))
    side = np.concatenate([p[i] - p[j] for p in (low, high) for i, j in [np.triu_indices(len(p), 1)]])
    length = np.hypot(side[:, 0], side[:, 1])
    if not np.any(length > 0.0):
        return 0.0
    normal = np.column_stack((-side[:, 1], side[:, 0]))[length > 0.0] / length[length > 0.0, None]
    normal = np.concatenate((normal, -normal)).T
    return float(((low @ normal).max(axis=0) - (high @ normal).min(axis=0)).min())


def _settle(points: Array, centre: Array) -> Array | None:
    """Centre at which the linearised minimum zone stands still, or None when the zone stops shrinking."""
    rows, widest = None, np.inf
    for _ in range(50):
        distance, unit = _polar(points, centre)
        size, zone = float(distance.max()), float(np.ptp(distance))
        if zone <= _EXACT * size:
            return centre
        if zone > widest + _EXACT * size:
            return None
        try:
            step, rows = _band(np.column_stack((np.ones(len(points)), unit)), distance - distance.mean(), rows)
        except (SolverError, GeometryError):
            return None
        centre, widest = centre + step[1:], zone
        if np.hypot(step[1], step[2]) <= 1e-10 * size:
            return centre
    return None


def _is_global(points: Array, centre: Array) -> bool:
    """Whether the zone at ``centre`` is proved to be the least of all centres.

    With r, R and w = R - r the radii and zone seen from here, g the growth and c the cosine of half the
    widest gap in angle between points, a centre at distance s has a zone of at least
      w + g s - s^2 / 2r   (contacts; a chord bounds each distance from below, (d^2 + r^2) / 2r from above),
      s (2c - s / 2r) - w  (the points ahead and behind, by the same bounds), and
      2 r c - R^2 / 2s     (likewise, bounding with (d^2 + s^2) / 2s).
    The first covers s <= 2 g r, the second from there to r, the third beyond r.
    """
    distance, unit = _polar(points, centre)
    inner, outer = float(distance.min()), float(distance.max())
    zone, slack = outer - inner, _EXACT * outer
    if zone <= slack:
        return True
    growth = _growth(unit[distance <= inner + slack], unit[distance >= outer - slack])
    heading = np.sort(np.arctan2(unit[:, 1], unit[:, 0]))
    c = float(np.cos(0.5 * np.diff(heading, append=heading[0] + 2.0 * np.pi).max()))
    near = min(2.0 * growth * inner, inner)
    return (
        growth > 0.0
        and c > 0.0
        and near * (2.0 * c - near / (2.0 * inner)) > 2.0 * zone
        and inner * (2.0 * c - 0.5) > 2.0 * zone
        and 2.0 * inner * c - outer**2 / (2.0 * inner) > zone
    )


def _settle_plane(points: Array, frame: Array) -> Array:
    """Frame (3, 3) whose third row is the normal of the least flat zone of points (n, 3) about their mean.

    With w the zone, g its growth and W the least width of the points in the plane, a slope s makes it at
    least (w + g s) / sqrt(1 + s^2), which is >= w for s <= 2 g / w, and at least (W s - w) / sqrt(1 + s^2),
    which is >= w for s >= 2 w / (W - w). So g (W - w) >= w^2 proves that no plane has a smaller zone. With
    g = 0 (three contacts in line) a smaller one could differ by a share 2 (w / (W - w))^2, let pass to 1e-6.
    """
    size = float(np.abs(points).max())
    slope, narrowest = np.full(2, np.inf), np.inf
    for _ in range(50):
        across, height = points @ frame[:2].T, points @ frame[2]
        zone = float(np.ptp(height))
        if zone <= _EXACT * size:
            return frame
        if np.hypot(*slope) <= 1e-10 or zone >= narrowest:
            low, high = height <= height.min() + _EXACT * size, height >= height.max() - _EXACT * size
            spare = _growth(across, across) - zone
            held = _growth(across[low], across[high]) * spare >= zone**2
            if held or 2.0 * zone**2 <= 1e-6 * spare**2:
                return frame
            raise SolverError(f"a flat zone of {zone:.6g} mm over {len(points)} points is not proved the least")
        fit, _ = _fit(np.column_stack((np.ones(len(points)), across / size)), height, "minimum-zone")
        slope, narrowest = fit[1:] / size, zone
        normal = frame[2] - slope @ frame[:2]
        frame = np.linalg.qr(np.column_stack((normal, frame[0], frame[1])))[0].T[[1, 2, 0]]
    raise SolverError(f"the flat zone of {len(points)} points did not settle on a plane")


def _all_crossings(points: Array) -> Array:
    """Centre of the least of all zones, from the complete list of places that can hold it.

    At a least zone the chords of two inner and two outer contacts cross, so the centre lies where an edge of
    the nearest-point diagram meets one of the furthest-point diagram, or the ring has become a straight band.
    """
    square = np.einsum("ij,ij->i", points, points)
    edges: dict[float, list[Array]] = {1.0: [], -1.0: []}  # nearest, furthest: x = middle + s across
    band = np.inf
    for i in range(len(points) - 1):
        side = points[i + 1 :] - points[i]
        side = side[np.hypot(side[:, 0], side[:, 1]) > 0.0]
        middle, across = points[i] + 0.5 * side, np.column_stack((-side[:, 1], side[:, 0]))
        to = points - points[i]
        bound, rate = square - square[i] - 2.0 * middle @ to.T, 2.0 * across @ to.T
        if len(side):
            band = min(band, float((0.5 * np.ptp(rate, axis=1) / np.hypot(side[:, 0], side[:, 1])).min()))
        flat = np.abs(rate) <= 1e-14 * square.max()
        limit = bound / np.where(flat, 1.0, rate)
        for sense, kept in edges.items():
            top = np.where(~flat & (sense * rate > 0.0), limit, np.inf).min(axis=1)
            end = np.where(~flat & (sense * rate < 0.0), limit, -np.inf).max(axis=1)
            real = (end <= top + 1e-9 * (1.0 + np.abs(top))) & np.all(
                ~flat | (sense * bound >= -1e-9 * square.max()), axis=1
            )
            kept.append(np.column_stack((middle, across, end, top))[real])
    near, far = (np.concatenate(edges[sense]) for sense in (1.0, -1.0))
    best, centre = np.inf, np.zeros(2)
    for edge in far:
        det = near[:, 2] * edge[3] - near[:, 3] * edge[2]
        det = np.where(det == 0.0, np.nan, det)
        gap = near[:, :2] - edge[:2]
        s = (near[:, 2] * gap[:, 1] - near[:, 3] * gap[:, 0]) / det  # along the furthest-point edge
        t = (edge[2] * gap[:, 1] - edge[3] * gap[:, 0]) / det
        slack = 1e-6
        meet = (s >= edge[4] - slack) & (s <= edge[5] + slack) & (t >= near[:, 4] - slack) & (t <= near[:, 5] + slack)
        places = edge[:2] + s[meet, None] * edge[2:4]
        distance = np.hypot(places[:, :1] - points[:, 0], places[:, 1:] - points[:, 1])
        zone = np.ptp(distance, axis=1)
        if zone.size and zone.min() < best:
            best, centre = float(zone.min()), places[zone.argmin()]
    if band <= best:
        raise GeometryError(f"a straight band of {band:.6g} mm holds the points better than any ring: too short an arc")
    distance, unit = _polar(points, centre)
    slack = 1e-9 * float(distance.max())
    if _growth(unit[distance <= distance.min() + slack], unit[distance >= distance.max() - slack]) < -1e-6:
        raise SolverError(f"the least ring found, {best:.6g} mm, is not held by contacts all round")
    return centre


# --- small parts -------------------------------------------------------------------------------------------


def _polar(points: Array, centre: Array) -> tuple[Array, Array]:
    """Distances (n,) from ``centre`` and unit directions (n, 2)."""
    arm = points - centre
    distance = np.maximum(np.hypot(arm[:, 0], arm[:, 1]), 1e-50)  # never zero: it divides
    return distance, arm / distance[:, None]


def _algebraic_centre(points: Array) -> Array:
    """Centre of the fit of x^2 + y^2 = 2 a x + 2 b y + k, linear: a start for the exact fits."""
    basis = np.column_stack((2.0 * points, np.ones(len(points))))
    centre: Array = np.linalg.lstsq(basis, np.einsum("ij,ij->i", points, points), rcond=None)[0][:2]
    return centre


def _statistics(error: Array) -> tuple[float, float, float, float]:
    """Peak to valley, peak, valley and root mean square of signed distances."""
    peak, valley = float(error.max()), float(-error.min())
    return peak + valley, peak, valley, float(np.sqrt(np.mean(error**2)))


def _pair(values: Array) -> tuple[float, float]:
    return float(values[0]), float(values[1])


def _known(method: Method) -> Method:
    if method not in ("least-squares", "minimum-zone"):
        raise InputError(f"method must be 'least-squares' or 'minimum-zone', not {method!r}")
    return method


def _finite(values: ArrayLike, name: str) -> Array:
    array = np.asarray(values, dtype=float)
    if array.size == 0 or not np.all(np.isfinite(array)):
        raise InputError(f"{name} must hold at least one number, all of them finite")
    return array


def _profile(angle: ArrayLike, deviation: ArrayLike) -> tuple[Array, Array]:
    angle, deviation = _finite(angle, "angle"), _finite(deviation, "deviation")
    if angle.ndim != 1 or angle.shape != deviation.shape:
        raise InputError(f"angle and deviation must be two rows of one length, not {angle.shape}, {deviation.shape}")
    return angle, deviation


def _plane_points(points: ArrayLike, least: int) -> tuple[Array, Array]:
    """Points (n, 2) about their mean, and the mean."""
    cloud = _finite(points, "points")
    if cloud.ndim != 2 or cloud.shape[1] != 2 or len(cloud) < least:
        raise InputError(f"at least {least} points (n, 2) are needed, not an array {cloud.shape}")
    origin = cloud.mean(axis=0)
    local = cloud - origin
    extent = np.linalg.svd(local, compute_uv=False)
    if extent[1] <= _EXACT * extent[0]:
        raise GeometryError(f"the {len(local)} points lie on a line, which has no circle")
    return local, origin
