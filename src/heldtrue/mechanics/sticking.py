"""The other bound of the contact: part and jaw stick to each other wherever they touch.

Frictionless contact lets a wrapped ring slide in its jaws and so lets it bend most; full sticking, from the first touch
on, lets it slide not at all and is the stiffest it can be.  Coulomb friction lies between.  On the touching cells

    gap = g0 + C_pp p + C_pq q + C_jaw p - d cos t = 0,    slip = C_qp p + C_qq q - s (d - w) sin t = 0,
    sum (p cos t + s q sin t) A = force,

q the traction round the part, away from the jaw's middle, s = 1 for an outside and -1 for an inside grip, w how far the
jaw's face gives way on average.  The jaw counts as rigid round the part.  Bound by construction, not a friction law.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import SolverError
from heldtrue.mechanics.contact import TAIL_HARMONICS, Contact, JawFace
from heldtrue.mechanics.turned_body import HarmonicResponse

Array = NDArray[np.float64]

BOLD_ROUNDS, ROUNDS = 15, 300
"""First every cell that contradicts changes sides, then only the worst, which may be slow but does not circle."""


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
    """Press one jaw on the part with ``force`` [N] along the jaw, nothing sliding.

    ``sticking``: from ``sticking_compliance``; ``jaw``: C_jaw over the cells' pressures [mm/MPa]; ``gap`` (m, s) [mm].
    Raises: ``SolverError`` where it does not settle on which cells touch.
    """
    cells = face.areas.size
    area, start = face.areas.ravel(), gap.ravel()
    along, across = (np.tile(mean, len(face.areas)) for mean in (face.along, face.across))
    side = 1.0 if face.stations.side == "outside" else -1.0
    gives = (area * along) @ jaw / float(area @ along)
    compliance = sticking.copy()
    compliance[:cells, :cells] += jaw
    compliance[cells:, :cells] += side * np.outer(across, gives)
    moved = np.concatenate([along, side * across])
    pushed = np.concatenate([area * along, side * area * across])

    touching = np.ones(cells, bool)
    for round_ in range(ROUNDS):
        kept = np.flatnonzero(np.tile(touching, 2))
        system = np.zeros((len(kept) + 1, len(kept) + 1))
        system[:-1, :-1] = compliance[np.ix_(kept, kept)]
        system[:-1, -1], system[-1, :-1] = -moved[kept], pushed[kept]
        right = np.append(np.concatenate([-start, np.zeros(cells)])[kept], force)
        try:
            solved = np.linalg.solve(system, right)
        except np.linalg.LinAlgError as error:
            raise SolverError("the compliance of jaw and part is singular") from error
        load = np.zeros(2 * cells)
        load[kept] = solved[:-1]
        advance = float(solved[-1])
        opened = start + (compliance @ load)[:cells] - advance * along
        wrong = (touching & (load[:cells] < 0)) | (~touching & (opened < -1e-12))
        if not wrong.any():
            shape = face.areas.shape
            balance = abs(float(pushed @ load) / force - 1)
            return Contact(face, load[:cells].reshape(shape), opened.reshape(shape), advance, force, balance,
                           load[cells:].reshape(shape))  # fmt: skip
        if round_ >= BOLD_ROUNDS:
            scale = max(abs(force) / float(area.sum()), 1e-12)
            stress = np.where(touching, -load[:cells] / scale, -opened / max(abs(advance), 1e-12))
            worst = int(np.where(wrong, stress, -np.inf).argmax())
            wrong = np.arange(cells) == worst
        touching ^= wrong
        if not touching.any():
            break
    raise SolverError("the sticking contact of jaw and part did not settle on which cells touch")
