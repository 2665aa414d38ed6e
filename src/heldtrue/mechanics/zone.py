"""Minimum zones: the exact exchange of contact points, and the proofs that no smaller zone exists.

A zone leaves here only with its proof (``is_global``, ``all_crossings``, ``settle_plane``); without it a
``SolverError`` is raised.  The methods are derived here unless a source is named.  Lengths mm.
"""

from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import GeometryError, InputError, SolverError

Array: TypeAlias = NDArray[np.float64]
Method: TypeAlias = Literal["least-squares", "minimum-zone"]

EXACT = 1e-12
"""Zones and contacts are the same when they differ by less than this share of the size."""


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
    slack = EXACT * float(np.abs(values).max())
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
        tied = np.flatnonzero(ratio <= ratio.min() + EXACT)
        leave = tied[(2 * rows[tied] + (sign[tied] < 0.0)).argmin()]
        rows[leave], sign[leave] = enter, side
    raise SolverError(f"the minimum zone of {count} points did not settle on its contact points")


def _first_rows(basis: Array, values: Array) -> Array:
    """p rows far from dependent on each other, and the row furthest from the fit through them."""
    left, rows = basis.copy(), []
    for _ in range(basis.shape[1]):
        size = np.einsum("ij,ij->i", left, left)
        rows.append(int(size.argmax()))
        if size[rows[-1]] <= EXACT**2 * basis.shape[1]:
            raise GeometryError("the points do not fix the position of the ideal surface")
        along = left[rows[-1]] / np.sqrt(size[rows[-1]])
        left -= np.multiply.outer(left @ along, along)
    outside = np.abs(values - basis @ np.linalg.solve(basis[rows], values[rows]))
    outside[rows] = -1.0
    return np.array([*rows, int(outside.argmax())])


def best_fit(basis: Array, values: Array, method: Method) -> tuple[Array, Array]:
    """Coefficients and residual of the fit of ``values`` by ``basis``."""
    if len(values) <= basis.shape[1]:
        raise InputError(f"{len(values)} points are too few; at least {basis.shape[1] + 1} are needed")
    solution, _, rank, _ = np.linalg.lstsq(basis, values, rcond=1e-10)
    if rank < basis.shape[1]:
        raise GeometryError("the points do not fix the position of the ideal surface")
    fit: Array = np.asarray(solution, dtype=np.float64)
    residual = values - basis @ fit
    if known_method(method) == "minimum-zone" and np.abs(residual).max() > 1e-15 * np.abs(values).max():
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


def settle(points: Array, centre: Array) -> Array | None:
    """Centre at which the linearised minimum zone stands still, or None when the zone stops shrinking."""
    rows, widest = None, np.inf
    for _ in range(50):
        distance, unit = polar(points, centre)
        size, zone = float(distance.max()), float(np.ptp(distance))
        if zone <= EXACT * size:
            return centre
        if zone > widest + EXACT * size:
            return None
        try:
            step, rows = _band(np.column_stack((np.ones(len(points)), unit)), distance - distance.mean(), rows)
        except (SolverError, GeometryError):
            return None
        centre, widest = centre + step[1:], zone
        if np.hypot(step[1], step[2]) <= 1e-10 * size:
            return centre
    return None


def is_global(points: Array, centre: Array) -> bool:
    """Whether the zone at ``centre`` is proved to be the least of all centres.

    With r, R and w = R - r the radii and zone seen from here, g the growth and c the cosine of half the
    widest gap in angle between points, a centre at distance s has a zone of at least
      w + g s - s^2 / 2r   (contacts; a chord bounds each distance from below, (d^2 + r^2) / 2r from above),
      s (2c - s / 2r) - w  (the points ahead and behind, by the same bounds), and
      2 r c - R^2 / 2s     (likewise, bounding with (d^2 + s^2) / 2s).
    The first covers s <= 2 g r, the second from there to r, the third beyond r.
    """
    distance, unit = polar(points, centre)
    inner, outer = float(distance.min()), float(distance.max())
    zone, slack = outer - inner, EXACT * outer
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


def settle_plane(points: Array, frame: Array) -> Array:
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
        if zone <= EXACT * size:
            return frame
        if np.hypot(*slope) <= 1e-10 or zone >= narrowest:
            low, high = height <= height.min() + EXACT * size, height >= height.max() - EXACT * size
            spare = _growth(across, across) - zone
            held = _growth(across[low], across[high]) * spare >= zone**2
            if held or 2.0 * zone**2 <= 1e-6 * spare**2:
                return frame
            raise SolverError(f"a flat zone of {zone:.6g} mm over {len(points)} points is not proved the least")
        fit, _ = best_fit(np.column_stack((np.ones(len(points)), across / size)), height, "minimum-zone")
        slope, narrowest = fit[1:] / size, zone
        normal = frame[2] - slope @ frame[:2]
        frame = np.linalg.qr(np.column_stack((normal, frame[0], frame[1])))[0].T[[1, 2, 0]]
    raise SolverError(f"the flat zone of {len(points)} points did not settle on a plane")


def all_crossings(points: Array) -> Array:
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
    distance, unit = polar(points, centre)
    slack = 1e-9 * float(distance.max())
    if _growth(unit[distance <= distance.min() + slack], unit[distance >= distance.max() - slack]) < -1e-6:
        raise SolverError(f"the least ring found, {best:.6g} mm, is not held by contacts all round")
    return centre


def polar(points: Array, centre: Array) -> tuple[Array, Array]:
    """Distances (n,) from ``centre`` and unit directions (n, 2)."""
    arm = points - centre
    distance = np.maximum(np.hypot(arm[:, 0], arm[:, 1]), 1e-50)  # never zero: it divides
    return distance, arm / distance[:, None]


def known_method(method: Method) -> Method:
    """The method itself.  Raises: ``InputError`` for one that is not known."""
    if method not in ("least-squares", "minimum-zone"):
        raise InputError(f"method must be 'least-squares' or 'minimum-zone', not {method!r}")
    return method
