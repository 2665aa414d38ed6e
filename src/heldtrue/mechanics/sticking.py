"""The other bound of the contact: part and jaw stick to each other where they touch.

Frictionless contact lets a wrapped ring slide in its jaws and so lets it bend most; sticking lets it slide not at all.
Coulomb friction lies between.  The cells that touch without friction, S, stick; with q the traction round the part,
away from the jaw's middle, and e = 1 for an outside, -1 for an inside grip,

    gap = g0 + C_pp p + C_pq q - D cos t >= 0,   p >= 0,   p . gap = 0        on all cells,
    slip = C_qp p + C_qq q - e D sin t = 0  on S,   q = 0 elsewhere,
    sum (p cos t + e q sin t) A = force.

D is how far the jaw's face moves: what the jaw gives way as a whole does not drag the part round.  Eliminating q and D
leaves a convex program in p alone.  The jaw counts as rigid round the part.  A bound, not a friction law.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from heldtrue.errors import SolverError
from heldtrue.mechanics.contact import TAIL_HARMONICS, Contact, JawFace, press
from heldtrue.mechanics.turned_body import HarmonicResponse

Array = NDArray[np.float64]


def sticking_compliance(response: HarmonicResponse, face: JawFace) -> Array:
    """C over the cells' pressures, then their tractions, shape (2 c, 2 c) [mm/MPa]; ``response`` must be sheared."""
    if not response.sheared:
        raise ValueError("a sticking contact needs the response to tractions as well")
    bands = len(face.stations.bands)
    orders = response.orders
    tail = tuple(orders[-1] + face.jaws * k for k in range(1, TAIL_HARMONICS))
    falling = orders[-1] / np.asarray(tail, float)
    means = (face.sector_means, face.sector_sine_means)
    waves = (face.pressure_harmonics, face.shear_harmonics)
    cells = bands * face.sectors
    found = np.empty((2, cells, 2, cells))
    for i in range(2):
        for j in range(2):
            block = response.compliance[:, i * bands : (i + 1) * bands, j * bands : (j + 1) * bands]
            solved = np.einsum("hij,ha,hb->iajb", block, means[i](orders), waves[j](orders), optimize=True)
            if i == j:
                ripple = np.einsum("h,ha,hb->ab", falling, means[i](tail), waves[j](tail), optimize=True)
                solved += np.einsum("i,ij,ab->iajb", np.diag(block[-1]), np.eye(bands), ripple)
            found[i, :, j, :] = solved.reshape(cells, cells)
    return found.reshape(2 * cells, 2 * cells)


def press_sticking(face: JawFace, sticking: Array, jaw: Array, force: float, gap: Array) -> Contact:
    """Press one jaw on the part with ``force`` [N] along the jaw, nothing sliding where frictionless cells would touch.

    ``sticking``: from ``sticking_compliance``; ``jaw``: C_jaw over the cells' pressures [mm/MPa]; ``gap`` (m, s) [mm].
    Raises: ``SolverError`` if the program does not converge.
    """
    cells = face.areas.size
    area = face.areas.ravel()
    along = area * np.tile(face.along, len(face.areas))
    side = 1.0 if face.stations.side == "outside" else -1.0
    across = side * area * np.tile(face.across, len(face.areas))
    sliding = press(face, sticking[:cells, :cells] + jaw, force, gap)
    stuck = np.flatnonzero(sliding.pressure.ravel() > 0)

    stiff = np.tile(area, 2)[:, None] * sticking
    stiff[:cells, :cells] += _bent_only(area[:, None] * jaw, along)
    stiff = (stiff + stiff.T) / 2
    cross = stiff[:cells, cells + stuck]
    round_ = cho_factor(stiff[np.ix_(cells + stuck, cells + stuck)])
    held = cho_solve(round_, np.column_stack([cross.T, across[stuck]]))
    normal = stiff[:cells, :cells] - cross @ held[:, :-1]
    reach = along - cross @ held[:, -1]
    drag = float(across[stuck] @ held[:, -1])

    start = area * gap.ravel()
    p = _not_negative(normal + np.outer(reach, reach) / drag, start - force / drag * reach)
    face_advance = (force - reach @ p) / drag
    q = np.zeros(cells)
    q[stuck] = -held[:, :-1] @ p + face_advance * held[:, -1]
    opened = (stiff[:cells, :cells] @ p + cross @ q[stuck] + start - face_advance * along) / area
    balance = abs(float(along @ p + across @ q) / force - 1)
    shape = face.areas.shape
    return Contact(face, p.reshape(shape), opened.reshape(shape), face_advance, force, balance, q.reshape(shape))


def _bent_only(jaw: Array, along: Array) -> Array:
    """The jaw's compliance less its give as a whole: the most of it that leaves a compliance behind."""
    if not jaw.any():
        return jaw
    symmetric = (jaw + jaw.T) / 2
    whole = 1 / float(along @ np.linalg.solve(symmetric, along))
    return np.asarray(symmetric - whole * np.outer(along, along))


def _not_negative(matrix: Array, linear: Array) -> Array:
    """min 1/2 p'Mp + l'p with p >= 0, M positive definite: least squares on its Cholesky factor (Lawson and Hanson)."""
    # scipy.optimize is slow to import, and only this bound needs it.
    from scipy.optimize import nnls

    scale = float(np.trace(matrix)) / len(matrix)
    factor = np.linalg.cholesky(matrix / scale)
    try:
        p, _ = nnls(factor.T, np.linalg.solve(factor, -linear / scale), maxiter=30 * len(matrix))
    except RuntimeError as error:
        raise SolverError(f"the sticking contact did not converge: {error}") from error
    return np.asarray(p)
