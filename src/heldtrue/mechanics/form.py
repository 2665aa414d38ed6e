"""Form of a surface that should be round, cylindrical or flat: harmonics, zones, run-out, what gauges see.

Lengths mm, angles rad. A radial deviation is positive away from the axis, on outside and inside diameters
alike. An answer comes from the points given: nothing is said about the surface between them.

Minimum zones come from ``zone`` with a proof that no smaller one exists, or as a ``SolverError``. Definitions
follow ISO 12181-1 (roundness), ISO 12180-1 (cylindricity), ISO 12781-1 (flatness) and ISO 1101 (run-out); the
methods are derived here unless a source is named.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from heldtrue.errors import GeometryError, InputError, SolverError
from heldtrue.mechanics import zone
from heldtrue.mechanics.zone import Method

Array: TypeAlias = NDArray[np.float64]


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
    distance, unit = zone.polar(local, centre)
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
            distance, unit = zone.polar(local, centre + share * step)
            trial = float(((distance - distance.mean()) ** 2).sum())
            if trial <= cost * (1.0 + 1e-9) + len(local) * (1e-15 * radius) ** 2 or share < 1e-6:
                break
            share *= 0.5
        centre = centre + share * step
        if share == 1.0 and np.hypot(*step) <= zone.EXACT * radius:
            return Circle(_pair(centre + origin), float(distance.mean()))
    raise SolverError(f"no least-squares circle found for {len(local)} points; is the arc too short?")


def roundness_least_squares(points: ArrayLike) -> Roundness:
    """Roundness of points (n, 2) [mm], n >= 4, about the least-squares circle (ISO 12181-1).

    Raises: as ``least_squares_circle``.
    """
    local, origin = _plane_points(points, least=4)
    circle = least_squares_circle(local)
    distance, _ = zone.polar(local, np.array(circle.centre))
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
    centre = zone.settle(local, _algebraic_centre(local))
    if centre is None or not zone.is_global(local, centre):
        centre = zone.all_crossings(local)
    distance, _ = zone.polar(local, centre)
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
    return solve[zone.known_method(method)](points)


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
    fit, residual = zone.best_fit(basis, deviation.ravel(), method)
    tilt = (float(fit[3]) / half, float(fit[4]) / half)
    return Cylindricity(*_statistics(residual), _pair(fit[1:3]), tilt, float(middle), float(fit[0]))


def flatness(points: ArrayLike, method: Method = "minimum-zone") -> Flatness:
    """Flatness (ISO 12781-1) of points (n, 3) [mm], n >= 4: distances are square to the reference plane.

    Minimum zone: in a frame that stands on the plane so far, the least zone along its normal is exact; the
    frame follows until it stands still, and ``settle_plane`` proves that no plane has a smaller zone.
    Raises: ``InputError`` for too few or non-finite points, ``GeometryError`` when they lie on a line,
    ``SolverError`` when the zone is not proved the least (points nowhere near flat).
    """
    cloud = _finite(points, "points")
    if cloud.ndim != 2 or cloud.shape[1] != 3 or len(cloud) < 4:
        raise InputError(f"flatness needs at least 4 points (n, 3), not an array {cloud.shape}")
    origin = cloud.mean(axis=0)
    local = cloud - origin
    _, extent, frame = np.linalg.svd(local, full_matrices=False)
    if extent[1] <= zone.EXACT * extent[0]:
        raise GeometryError(f"the {len(local)} points lie on a line, which has no plane")
    offset = 0.0
    if zone.known_method(method) == "minimum-zone":
        frame = zone.settle_plane(local, frame)
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


# --- small parts -------------------------------------------------------------------------------------------


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
    if extent[1] <= zone.EXACT * extent[0]:
        raise GeometryError(f"the {len(local)} points lie on a line, which has no circle")
    return local, origin
