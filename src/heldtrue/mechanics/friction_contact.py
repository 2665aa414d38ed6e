"""Where jaw and part touch with Coulomb friction while clamping: pressures, tractions, and which cells slip.

As in ``contact``, half a jaw face of cells stands for the chuck.  Besides the pressures p >= 0 every cell carries a
traction q round the part, away from the jaw's middle.  With e = 1 for an outside and -1 for an inside grip,

    gap  = g0 + C_pp p + C_pq q - D cos t >= 0,     p . gap = 0,
    slip = C_qp p + C_qq q - e D sin t,             |q| <= mu p,   no slip where |q| < mu p, else slip against q,
    sum (p cos t + e q sin t) A = force of one jaw.

D is how far the jaw's face moves: what the jaw gives way as a whole does not drag the part round, and the jaw counts as
rigid round the part.  The load is put on in one step, so slip is the whole slip since the first touch.

For fixed bounds on q this is a convex program; with bounds mu p it is not, and no theorem promises one answer for a
large mu.  It is solved by guessing which cells are open, stick or slip, solving those exactly, and correcting the guess
(a semismooth Newton method: P. Alart, A. Curnier, Comput. Methods Appl. Mech. Eng. 92 (1991) 353-375, from memory).
Where that cycles, convex programs with the bounds of the last pressures make the guess (the Tresca fixed point).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import clarabel
import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from heldtrue.errors import SolverError
from heldtrue.mechanics.contact import RESIDUAL_LIMIT, TAIL_HARMONICS, Contact, JawFace, quadratic_program
from heldtrue.mechanics.turned_body import HarmonicResponse

Array = NDArray[np.float64]
States = NDArray[np.int8]

OPEN, SLIP_BACK, STICK, SLIP_ON = -2, -1, 0, 1
"""What a cell does.  Slipping cells are named by the sign of their traction."""
SETTLED = 1e-10
"""Residual at which the guess of states is taken as right; far below the limit so that equal answers come out equal."""
NEARLY = 1e-5
"""How near to nothing, or to its bound, something counts as there: an interior point stops just short of both."""
NEWTON_ROUNDS = 25
TRESCA_ROUNDS = 40
FRICTION_STEPS = (0.0, 0.1, 0.25, 0.5, 0.75, 1.0)


class Frictional(NamedTuple):
    """A solved contact: pressures, tractions, gaps and slips per cell (c,), the rigid moves (k,), the residual."""

    pressure: Array
    shear: Array
    gap: Array
    slip: Array
    moved: Array
    residual: float


def sheared_compliance(response: HarmonicResponse, face: JawFace) -> Array:
    """C over the cells' pressures, then their tractions, shape (2 c, 2 c) [mm/MPa].

    Raises: ``ValueError`` where ``response`` is not sheared.
    """
    if not response.sheared:
        raise ValueError("contact with friction needs the response to tractions as well")
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


def press_with_friction(
    face: JawFace,
    compliance: Array,
    jaw: Array,
    force: float,
    gap: Array,
    friction: float,
    guess: Contact | None = None,
) -> Contact:
    """Press one jaw on the part with ``force`` [N] along the jaw, with Coulomb friction round the part.

    ``compliance``: of the part, from ``sheared_compliance``; ``jaw``: C_jaw over the cells' pressures, (c, c) [mm/MPa];
    ``gap``: of the undeformed shapes (m, s) [mm]; ``friction``: coefficient [-], 0 gives what ``press`` gives;
    ``guess``: a contact thought to be near, which saves rounds and changes nothing else.
    Raises: ``ValueError`` for a force that is not positive or a negative friction; ``SolverError`` if no answer meets
    all conditions within 1e-6.
    """
    if not (force > 0 and np.isfinite(force)):
        raise ValueError(f"the jaw force must be positive, got {force} N")
    cells = face.areas.size
    area = face.areas.ravel()
    along = np.tile(face.along, len(face.areas))
    side = 1.0 if face.stations.side == "outside" else -1.0
    moves = np.concatenate([along, side * np.tile(face.across, len(face.areas))])[:, None]
    bent, give = _bent_only(jaw, area, along)
    both = compliance.copy()
    both[:cells, :cells] += bent
    states = None
    if guess is not None:
        shear = np.zeros_like(guess.pressure) if guess.shear is None else guess.shear
        # A slipping cell stands on its bound within rounding: this keeps it slipping.
        states = _states(guess.pressure.ravel(), (1 + NEARLY) * shear.ravel(), friction)
    c = solve_friction(both, area, np.asarray(gap, float).ravel(), moves, np.array([force]), friction, states)
    shape = face.areas.shape
    return Contact(
        face,
        c.pressure.reshape(shape),
        c.gap.reshape(shape),
        float(c.moved[0]) + give * force,
        force,
        c.residual,
        c.shear.reshape(shape),
    )


def solve_friction(
    compliance: Array,
    areas: Array,
    gap: Array,
    moves: Array,
    loads: Array,
    friction: float,
    guess: States | None = None,
) -> Frictional:
    """Coulomb contact of any elastic body with a rigid one that moves in k ways.

    ``compliance``: displacement of the c cells into the body, then along the traction, for 1 MPa of pressure, then
    traction, shape (2 c, 2 c), symmetric once its rows are multiplied by ``areas`` (c,) [mm/MPa, mm2]; ``gap`` before
    pressing (c,) [mm]; ``moves``: what each move of the rigid body brings every cell, into the body, then along the
    traction, (2 c, k), the first move a pressing one; ``loads``: what it is moved with, (k,) [N]; ``guess``: states.
    Raises: ``ValueError`` for a negative friction; ``SolverError`` if no answer meets all conditions within 1e-6.
    """
    if not (friction >= 0 and np.isfinite(friction)):
        raise ValueError(f"friction must be a number and not negative, got {friction}")
    program = _Program(compliance, areas, gap, moves, loads, friction)
    states = np.full(len(areas), STICK, np.int8) if guess is None else guess
    x, moved = program.newton(states) or program.followed() or program.tresca()
    found = program.answer(x, moved)
    if not found.residual <= RESIDUAL_LIMIT:
        raise SolverError(f"the contact with friction did not converge: residual {found.residual:.2g}")
    return found


@dataclass(frozen=True)
class _Scales:
    """One mean pressure [MPa] and the squeeze it causes [mm]."""

    pressure: float
    squeeze: float


class _Program:
    """The conditions, scaled so that a mean pressure is 1 and the squeeze it causes is 1."""

    def __init__(
        self, compliance: Array, areas: Array, gap: Array, moves: Array, loads: Array, friction: float
    ) -> None:
        self.cells = len(areas)
        self.friction = friction
        weight = np.tile(areas / areas.sum(), 2)
        pressure = abs(float(loads[0])) / float(areas @ np.abs(moves[: self.cells, 0]))
        squeeze = float(weight[: self.cells] @ np.diag(compliance)[: self.cells]) * pressure
        self.scales = _Scales(pressure, squeeze)
        self.compliance = compliance * (pressure / squeeze)
        self.gap = gap / squeeze
        self.moves = moves
        self.weighted_moves = weight[:, None] * moves
        self.loads = loads / (areas.sum() * pressure)
        stiff = weight[:, None] * self.compliance
        self.stiff = (stiff + stiff.T) / 2
        self.start = weight[: self.cells] * self.gap
        self.give = np.diag(self.compliance)

    def moved(self, x: Array, moved: Array) -> tuple[Array, Array]:
        """Gap and slip of every cell."""
        shift = self.compliance @ x - self.moves @ moved
        return self.gap + shift[: self.cells], shift[self.cells :]

    def answer(self, x: Array, moved: Array) -> Frictional:
        """Back in MPa and mm, with the largest error of any condition."""
        gap, slip = self.moved(x, moved)
        p, q = x[: self.cells], x[self.cells :]
        s = self.scales
        error = self.error(x, moved, gap, slip)
        return Frictional(p * s.pressure, q * s.pressure, gap * s.squeeze, slip * s.squeeze, moved * s.squeeze, error)

    def error(self, x: Array, moved: Array, gap: Array, slip: Array) -> float:
        """Largest error of balance, complementarity, cone and slip direction.

        q = clip(q - slip, -mu p, mu p) says the last two at once: inside the cone no slip, on it slip against q.
        """
        p, q = x[: self.cells], x[self.cells :]
        bound = self.friction * np.maximum(p, 0.0)
        normal = float(np.abs(np.minimum(p, gap)).max())
        round_ = float(np.abs(q - np.clip(q - slip, -bound, bound)).max())
        balance = float(np.abs(self.weighted_moves.T @ x - self.loads).max() / np.abs(self.loads).max())
        return max(normal, round_, balance)

    def newton(self, states: States) -> tuple[Array, Array] | None:
        """The exact answer if the guess of states settles, else None."""
        for _ in range(NEWTON_ROUNDS):
            try:
                x, moved = self._solve(states)
            except np.linalg.LinAlgError:
                return None
            gap, slip = self.moved(x, moved)
            error = self.error(x, moved, gap, slip)
            if error <= SETTLED:
                return x, moved
            before, states = states, self.states_of(x, gap, slip)
            if error <= RESIDUAL_LIMIT and (states == before).all():
                # The guess stands: what is left are digits lost where the gap is far more than the squeeze.
                return x, moved
            if (states == OPEN).all():
                dragged = x[self.cells :] - slip / self.give[self.cells :]
                # Nothing can carry the load then: stuck cells pulled each other off, so let all of them slip.
                states = np.where(dragged < 0, SLIP_BACK, SLIP_ON).astype(np.int8)
        return None

    def states_of(self, x: Array, gap: Array, slip: Array) -> States:
        """What each cell would rather do, by its pressure less its gap and its traction less its slip."""
        pressed = x[: self.cells] - gap / self.give[: self.cells]
        dragged = x[self.cells :] - slip / self.give[self.cells :]
        return _states(pressed, dragged, self.friction)

    def frictionless(self) -> States:
        """The cells that touch without friction, all slipping; every cell where more than one move presses."""
        if self.moves.shape[1] > 1:
            return np.full(self.cells, SLIP_ON, np.int8)
        normal = slice(0, self.cells)
        touching = np.ones(self.cells, bool)
        p, _ = quadratic_program(self.stiff[normal, normal], self.start, self.weighted_moves[normal, 0], touching)
        return np.where(p > 0, SLIP_ON, OPEN).astype(np.int8)

    def followed(self) -> tuple[Array, Array] | None:
        """The answer followed from no friction up to the whole of it, in steps; None where that loses its way."""
        whole, states, found = self.friction, self.frictionless(), None
        try:
            for share in FRICTION_STEPS:
                self.friction = share * whole
                found = self.newton(states)
                if found is None:
                    return None
                x, moved = found
                gap, slip = self.moved(x, moved)
                states = self.states_of(x, gap, slip)
        finally:
            self.friction = whole
        return found

    def _solve(self, states: States) -> tuple[Array, Array]:
        """Pressures, tractions and moves when it is known what each cell does."""
        touching = np.flatnonzero(states != OPEN)
        unknown = np.concatenate([touching, self.cells + np.flatnonzero(states == STICK)])
        count, ways = len(unknown), self.moves.shape[1]
        # A slipping cell's traction goes with its pressure: its column joins the pressure's.
        share = np.where(states[touching] == STICK, 0, states[touching]) * self.friction
        follows = np.eye(2 * self.cells)[:, unknown]
        follows[self.cells + touching, np.arange(len(touching))] += share
        system = np.zeros((count + ways, count + ways))
        system[:count, :count] = self.stiff[unknown] @ follows
        system[:count, count:] = -self.weighted_moves[unknown]
        system[count:, :count] = self.weighted_moves.T @ follows
        right = np.concatenate([np.zeros(count), self.loads])
        right[: len(touching)] = -self.start[touching]
        solved = np.linalg.solve(system, right)
        return follows @ solved[:count], solved[count:]

    def tresca(self) -> tuple[Array, Array]:
        """The answer by convex programs with fixed bounds on the tractions, the bounds following by halves."""
        bound = np.full(self.cells, self.friction)
        for _ in range(TRESCA_ROUNDS):
            x = self._bounded(bound)
            p = np.where(x[: self.cells] > NEARLY, x[: self.cells], 0.0)
            q = x[self.cells :]
            slips = np.where(np.abs(q) > (1 - NEARLY) * bound, np.sign(q), STICK)
            found = self.newton(np.where(p > 0, slips, OPEN).astype(np.int8))
            if found is not None:
                return found
            bound = (bound + self.friction * p) / 2
        raise SolverError("the contact with friction did not settle on which cells stick and which slip")

    def _bounded(self, bound: Array) -> Array:
        """min 1/2 x'Kx + start'p with p >= 0, |q| <= bound and the loads balanced."""
        settings = clarabel.DefaultSettings()
        settings.verbose = False
        settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = 1e-10
        none, one = np.zeros((self.cells, self.cells)), np.eye(self.cells)
        sides = np.block([[-one, none], [none, one], [none, -one]])
        rows = np.vstack([self.weighted_moves.T, sides])
        solution = clarabel.DefaultSolver(
            sparse.csc_matrix(np.triu(self.stiff)),
            np.concatenate([self.start, np.zeros(self.cells)]),
            sparse.csc_matrix(rows),
            np.concatenate([self.loads, np.zeros(self.cells), bound, bound]),
            [clarabel.ZeroConeT(len(self.loads)), clarabel.NonnegativeConeT(3 * self.cells)],
            settings,
        ).solve()
        return np.asarray(solution.x)


def _states(pressed: Array, dragged: Array, friction: float) -> States:
    """What each cell does by its pressure and its traction, the traction maybe beyond what friction carries."""
    slips = np.where(np.abs(dragged) < friction * pressed, STICK, np.where(dragged < 0, SLIP_BACK, SLIP_ON))
    return np.asarray(np.where(pressed > 0, slips, OPEN), np.int8)


def _bent_only(jaw: Array, area: Array, along: Array) -> tuple[Array, float]:
    """The jaw's compliance less its give as a whole, and that give [mm/N]: the most that leaves a compliance behind."""
    if not jaw.any():
        return jaw, 0.0
    weighted = area[:, None] * jaw
    weighted = (weighted + weighted.T) / 2
    push = area * along
    give = 1 / float(push @ np.linalg.solve(weighted, push))
    return np.asarray((weighted - give * np.outer(push, push)) / area[:, None]), give
