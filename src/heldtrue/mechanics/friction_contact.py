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

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
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
NO_STATE = 9
"""What no cell ever does: before the first guess."""
SETTLED = 1e-10
"""Residual at which the guess of states is taken as right; far below the limit so that equal answers come out equal."""
NEARLY = 1e-5
"""How near to nothing, or to its bound, something counts as there: an interior point stops just short of both."""
NEWTON_ROUNDS = 15
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


@dataclass(frozen=True)
class Load:
    """What a part and a jaw are pressed together with.

    ``force`` of one jaw [N]; ``gap``: of the undeformed shapes (m, s) [mm]; ``friction``: coefficient [-].
    """

    force: float
    gap: Array
    friction: float

    @cached_property
    def place(self) -> Array:
        """What decides which cells do what: the gap for the force [mm/kN], and the friction."""
        return np.concatenate([(1e3 / self.force) * self.gap.ravel(), [self.friction]])


class Pressing:
    """A part and a jaw to be pressed together along the jaw, with Coulomb friction round the part.

    ``compliance``: of the part, from ``sheared_compliance``; ``jaw``: C_jaw over the cells' pressures, (c, c) [mm/MPa].
    """

    def __init__(self, face: JawFace, compliance: Array, jaw: Array) -> None:
        self.face = face
        side = 1.0 if face.stations.side == "outside" else -1.0
        along, across = (np.tile(of_sector, len(face.areas)) for of_sector in (face.along, face.across))
        area = face.areas.ravel()
        bent, self.give = _bent_only(jaw, area, along)
        both = compliance.copy()
        both[: len(area), : len(area)] += bent
        self.bodies = _Bodies(both, area, np.concatenate([along, side * across])[:, None])

    def program(self, load: Load) -> _Program:
        """The conditions under one load."""
        if not (load.force > 0 and np.isfinite(load.force)):
            raise ValueError(f"the jaw force must be positive, got {load.force} N")
        return _Program(self.bodies, np.asarray(load.gap, float).ravel(), np.array([load.force]), load.friction)

    def contact(self, load: Load, c: Frictional) -> Contact:
        """What was solved, as a contact."""
        shape, force = self.face.areas.shape, load.force
        return Contact(
            self.face,
            c.pressure.reshape(shape),
            c.gap.reshape(shape),
            float(c.moved[0]) + self.give * force,
            force,
            c.residual,
            c.shear.reshape(shape),
        )


def press_each(pairs: Sequence[tuple[Pressing, Load]], near: Sequence[tuple[Load, Contact]] = ()) -> list[Contact]:
    """Contacts of parts and jaws with the same cells, solved together: a dozen cost little more than two alone.

    ``near``: loads and contacts known already; the nearest to each load saves rounds and changes nothing else.
    Raises: ``ValueError`` for a force that is not positive or a negative friction; ``SolverError`` if no answer meets
    all conditions within 1e-6.
    """
    programs = [pressing.program(load) for pressing, load in pairs]
    states = _states_near([load for _, load in pairs], near) if near else None
    return [pressing.contact(load, found) for (pressing, load), found in zip(pairs, _solved(programs, states),
                                                                            strict=True)]  # fmt: skip


def _states_near(loads: Sequence[Load], near: Sequence[tuple[Load, Contact]]) -> States:
    """What the cells do in the contact whose gap, for its force, and friction are nearest to those of each load."""
    known = np.array([load.place for load, _ in near])
    nearest = [near[int(np.abs(known - load.place).max(axis=1).argmin())] for load in loads]
    pressure = np.array([contact.pressure.ravel() for _, contact in nearest])
    shear = np.array([np.zeros(contact.pressure.size) if contact.shear is None else contact.shear.ravel()
                      for _, contact in nearest])  # fmt: skip
    # A slipping cell stands on its bound within rounding: this keeps it slipping.
    return _states(pressure, (1 + NEARLY) * shear, np.array([[load.friction] for load, _ in nearest]))


def press_with_friction(
    face: JawFace,
    compliance: Array,
    jaw: Array,
    force: float,
    gap: Array,
    friction: float,
) -> Contact:
    """One part and one jaw pressed together alone; see ``Pressing``, ``Load`` and ``press_each``."""
    return press_each([(Pressing(face, compliance, jaw), Load(force, gap, friction))])[0]


def solve_friction(
    compliance: Array,
    areas: Array,
    gap: Array,
    moves: Array,
    loads: Array,
    friction: float,
) -> Frictional:
    """Coulomb contact of any elastic body with a rigid one that moves in k ways.

    ``compliance``: displacement of the c cells into the body, then along the traction, for 1 MPa of pressure, then
    traction, shape (2 c, 2 c), symmetric once its rows are multiplied by ``areas`` (c,) [mm/MPa, mm2]; ``gap`` before
    pressing (c,) [mm]; ``moves``: what each move of the rigid body brings every cell, into the body, then along the
    traction, (2 c, k), the first move a pressing one; ``loads``: what it is moved with, (k,) [N].
    Raises: ``ValueError`` for a negative friction; ``SolverError`` if no answer meets all conditions within 1e-6.
    """
    return _solved([_Program(_Bodies(compliance, areas, moves), gap, loads, friction)], None)[0]


def _solved(programs: Sequence[_Program], states: States | None) -> list[Frictional]:
    """The answers of all programs. Raises: ``SolverError``."""
    if states is None:
        states = np.full((len(programs), programs[0].cells), STICK, np.int8)
    found = [
        settled or program.followed() or program.tresca()
        for program, settled in zip(programs, _newton(programs, states), strict=True)
    ]
    x, moved = (np.array(one) for one in zip(*found, strict=True))
    problems = _Problems.of(programs)
    gap, slip = problems.moved(x, moved)
    error = problems.error(x, gap, slip)
    if not error.max() <= RESIDUAL_LIMIT:
        raise SolverError(f"the contact with friction did not converge: residual {error.max():.2g}")
    return [program.answer(*one) for program, *one in zip(programs, x, moved, gap, slip, error, strict=True)]


class _Bodies:
    """Two bodies, scaled so that a mean pressure is 1 and the squeeze it causes is 1: the same for every load."""

    def __init__(self, compliance: Array, areas: Array, moves: Array) -> None:
        self.cells, self.moves = len(areas), moves
        self.area = float(areas.sum())
        weight = np.tile(areas / self.area, 2)
        self.squeeze = float(weight[: self.cells] @ np.diag(compliance)[: self.cells])
        """Squeeze under a mean pressure of 1 MPa. [mm/MPa]"""
        self.facing = float(areas @ np.abs(moves[: self.cells, 0]))
        """Area that the first move presses on. [mm2]"""
        self.compliance = compliance / self.squeeze
        self.weight = weight
        self.weighted_moves = weight[:, None] * moves
        stiff = weight[:, None] * self.compliance
        self.stiff = (stiff + stiff.T) / 2
        self.give = np.diag(self.compliance)


class _Program:
    """The conditions of two bodies under one load, in the scale of the bodies."""

    def __init__(self, bodies: _Bodies, gap: Array, loads: Array, friction: float) -> None:
        if not (friction >= 0 and np.isfinite(friction)):
            raise ValueError(f"friction must be a number and not negative, got {friction}")
        self.bodies, self.cells, self.friction = bodies, bodies.cells, friction
        self.pressure = abs(float(loads[0])) / bodies.facing
        self.squeeze = bodies.squeeze * self.pressure
        self.gap = gap / self.squeeze
        self.loads = loads / (bodies.area * self.pressure)
        self.start = bodies.weight[: self.cells] * self.gap

    def answer(self, x: Array, moved: Array, gap: Array, slip: Array, error: float) -> Frictional:
        """Back in MPa and mm."""
        p, q, mpa, mm = x[: self.cells], x[self.cells :], self.pressure, self.squeeze
        return Frictional(p * mpa, q * mpa, gap * mm, slip * mm, moved * mm, float(error))

    def newton(self, states: States) -> tuple[Array, Array] | None:
        """The exact answer if the guess of states settles, else None."""
        return _newton([self], states[None])[0]

    def frictionless(self) -> States:
        """The cells that touch without friction, all slipping; every cell where more than one move presses."""
        if self.bodies.moves.shape[1] > 1:
            return np.full(self.cells, SLIP_ON, np.int8)
        normal = slice(0, self.cells)
        touching = np.ones(self.cells, bool)
        p, _ = quadratic_program(
            self.bodies.stiff[normal, normal], self.start, self.bodies.weighted_moves[normal, 0], touching
        )
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
                problems = _Problems.of([self])
                x, moved = (one[None] for one in found)
                states = problems.states_of(x, *problems.moved(x, moved))[0]
        finally:
            self.friction = whole
        return found

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
        rows = np.vstack([self.bodies.weighted_moves.T, sides])
        solution = clarabel.DefaultSolver(
            sparse.csc_matrix(np.triu(self.bodies.stiff)),
            np.concatenate([self.start, np.zeros(self.cells)]),
            sparse.csc_matrix(rows),
            np.concatenate([self.loads, np.zeros(self.cells), bound, bound]),
            [clarabel.ZeroConeT(len(self.loads)), clarabel.NonnegativeConeT(3 * self.cells)],
            settings,
        ).solve()
        return np.asarray(solution.x)


@dataclass(frozen=True)
class _Problems:
    """Programs of the same cells and moves side by side; ``which`` of the different bodies each has, (b,).

    Every array has the problems first: ``compliance`` and ``stiff`` (bodies, 2 c, 2 c), ``give`` (bodies, 2 c), ``gap``
    and ``start`` (b, c), ``loads`` (b, k), ``friction`` (b, 1), ``moves`` and ``weighted`` (2 c, k).
    """

    which: NDArray[np.intp]
    compliance: Array
    stiff: Array
    give: Array
    gap: Array
    start: Array
    loads: Array
    friction: Array
    moves: Array
    weighted: Array

    @classmethod
    def of(cls, programs: Sequence[_Program]) -> _Problems:
        """Side by side."""
        bodies = list(dict.fromkeys(program.bodies for program in programs))
        return cls(
            np.array([bodies.index(program.bodies) for program in programs]),
            np.array([one.compliance for one in bodies]),
            np.array([one.stiff for one in bodies]),
            np.array([one.give for one in bodies]),
            np.array([program.gap for program in programs]),
            np.array([program.start for program in programs]),
            np.array([program.loads for program in programs]),
            np.array([[program.friction] for program in programs]),
            bodies[0].moves,
            bodies[0].weighted_moves,
        )

    def only(self, rows: NDArray[np.intp]) -> _Problems:
        """Some of the problems."""
        own = {name: getattr(self, name)[rows] for name in ("which", "gap", "start", "loads", "friction")}
        return replace(self, **own)

    def moved(self, x: Array, moved: Array) -> tuple[Array, Array]:
        """Gap and slip of every cell, (b, c) each."""
        shift = np.empty_like(x)
        for body in range(len(self.compliance)):
            mine = self.which == body
            shift[mine] = x[mine] @ self.compliance[body].T
        shift -= moved @ self.moves.T
        cells = self.gap.shape[1]
        return self.gap + shift[:, :cells], shift[:, cells:]

    def error(self, x: Array, gap: Array, slip: Array) -> Array:
        """Largest error of balance, complementarity, cone and slip direction, (b,).

        q = clip(q - slip, -mu p, mu p) says the last two at once: inside the cone no slip, on it slip against q.
        """
        cells = gap.shape[1]
        p, q = x[:, :cells], x[:, cells:]
        bound = self.friction * np.maximum(p, 0.0)
        normal = np.abs(np.minimum(p, gap)).max(axis=1)
        round_ = np.abs(q - np.clip(q - slip, -bound, bound)).max(axis=1)
        balance = np.abs(x @ self.weighted - self.loads).max(axis=1) / np.abs(self.loads).max(axis=1)
        return np.asarray(np.maximum(np.maximum(normal, round_), balance))

    def states_of(self, x: Array, gap: Array, slip: Array) -> States:
        """What each cell would rather do, by its pressure less its gap and its traction less its slip, (b, c)."""
        cells, give = gap.shape[1], self.give[self.which]
        pressed = x[:, :cells] - gap / give[:, :cells]
        dragged = x[:, cells:] - slip / give[:, cells:]
        states = _states(pressed, dragged, self.friction)
        # Nothing can carry the load then: stuck cells pulled each other off, so let all of them slip.
        nothing = (states == OPEN).all(axis=1)
        states[nothing] = np.where(dragged[nothing] < 0, SLIP_BACK, SLIP_ON)
        return states

    def solve(self, states: States) -> tuple[Array, Array]:
        """Pressures and tractions (b, 2 c), and moves (b, k), when it is known what each cell does.

        The unknowns of each problem stand first, in as many rows as the problem with most has; what is left of the
        rows says that nothing is nothing.  Raises: ``LinAlgError``.
        """
        count, cells = states.shape
        ways = self.moves.shape[1]
        unknown = np.hstack([states != OPEN, states == STICK])
        most = int(unknown.sum(axis=1).max())
        order = np.argsort(~unknown, axis=1, kind="stable")[:, :most]
        there = np.take_along_axis(unknown, order, axis=1)
        is_pressure = order < cells
        # A slipping cell's traction goes with its pressure: its column joins the pressure's.
        own = np.take_along_axis(states, np.where(is_pressure, order, 0), axis=1)
        share = np.where(is_pressure & there & (own != STICK), own * self.friction, 0.0)
        follower = np.where(is_pressure, order + cells, order)
        system = np.zeros((count, most + ways, most + ways))
        # Taken by one number for row and column: the columns of a symmetric matrix, which are its rows.
        wide = 2 * cells
        first = (self.which * wide**2)[:, None, None] + order[:, None, :]
        columns = self.stiff.take(first + (order * wide)[:, :, None])
        if share.any():
            columns += self.stiff.take(first + (follower * wide)[:, :, None]) * share[..., None]
        system[:, :most, :most] = columns.transpose(0, 2, 1)
        if not there.all():
            inner = system[:, :most, :most]
            inner *= there[:, :, None] & there[:, None, :]
            inner[:, np.arange(most), np.arange(most)] += ~there
        moves = self.weighted[order]
        system[:, :most, most:] = np.where(there[..., None], -moves, 0.0)
        system[:, most:, :most] = np.where(
            there[..., None], moves + self.weighted[follower] * share[..., None], 0.0
        ).transpose(0, 2, 1)
        right = np.zeros((count, most + ways, 1))
        start = np.take_along_axis(self.start, np.where(is_pressure, order, 0), axis=1)
        right[:, :most, 0] = np.where(is_pressure & there, -start, 0.0)
        right[:, most:, 0] = self.loads
        solved = np.linalg.solve(system, right)[..., 0]
        x = np.zeros((count, 2 * cells))
        np.put_along_axis(x, order, solved[:, :most], axis=1)
        slipping = (states != OPEN) & (states != STICK)
        x[:, cells:] += np.where(slipping, states * self.friction * x[:, :cells], 0.0)
        return x, solved[:, most:]


def _newton(programs: Sequence[_Program], states: States) -> list[tuple[Array, Array] | None]:
    """The exact answer of each program whose guess of states (b, c) settles, None of the others."""
    found: list[tuple[Array, Array] | None] = [None] * len(programs)
    problems, left = _Problems.of(programs), np.arange(len(programs), dtype=np.intp)
    before = np.full_like(states, NO_STATE)
    for _ in range(NEWTON_ROUNDS):
        try:
            x, moved = problems.solve(states)
        except np.linalg.LinAlgError:
            # One of them has no answer: each alone.
            if len(left) > 1:
                for row, guess in zip(left.tolist(), states, strict=True):
                    found[row] = programs[row].newton(guess)
            break
        gap, slip = problems.moved(x, moved)
        error = problems.error(x, gap, slip)
        last, before, states = before, states, problems.states_of(x, gap, slip)
        # Where the guess stands, what is left are digits lost where the gap is far more than the squeeze.
        settled = (error <= SETTLED) | ((error <= RESIDUAL_LIMIT) & (states == before).all(axis=1))
        for place in np.flatnonzero(settled):
            found[left[place]] = x[place], moved[place]
        # A guess that comes back goes round in circles.
        open_ = np.flatnonzero(~settled & ~(states == last).all(axis=1))
        if not len(open_):
            break
        if len(open_) < len(left):
            problems, left, states, before = problems.only(open_), left[open_], states[open_], before[open_]
    return found


def _states(pressed: Array, dragged: Array, friction: float | Array) -> States:
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
