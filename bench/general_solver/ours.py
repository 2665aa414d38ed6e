"""heldtrue's side, in a process of its own: ``python -m general_solver.ours`` reads one task, writes one answer, JSON.

Times are of warm runs that mesh and solve afresh; memory is what the first run adds to a process that has only
imported the libraries.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable
from math import asin, inf, radians
from pathlib import Path
from typing import Any

import ngsolve as ng
import numpy as np
import shapely  # noqa: F401  (imported late by heldtrue: not part of what a solution needs)
from numpy.typing import NDArray
from scipy.interpolate import RectBivariateSpline
from scipy.optimize import brentq

from general_solver import contact, linear
from heldtrue.mechanics import turned_body
from heldtrue.mechanics.contact import Contact, JawFace, bore_gap, part_compliance, press
from heldtrue.mechanics.jaw_body import JawBase, JawBody, JawShape
from heldtrue.mechanics.turned_body import Patch, Stations, TurnedBody

Array = NDArray[np.float64]
STATIONS, SECTORS, HARMONICS = 8, 8, 31


def main() -> None:
    task = json.load(sys.stdin)
    work = {"linear": linear_task, "contact": contact_task, "growth": growth_task}[task.pop("what")]
    json.dump(work(**task), sys.stdout)


def linear_task(body: str, way: str, order: int, runs: int) -> dict[str, Any]:
    case = linear.BODIES[body]
    solve = {"under": _under, "respond": _respond}[way]
    answer, measured = timed(lambda: solve(case, order), runs)
    with Clock() as clock:
        solve(case, order)
    return {**measured, "u": answer.tolist(), "unknowns": clock.unknowns, "elements": clock.elements}


def _under(case: linear.Body, order: int) -> Array:
    body = TurnedBody(case.profile, *linear.STEEL, order=order)
    field = body.under(_patch(case))
    return field.displacement([(case.bore, z) for z in case.rows], np.radians(case.asked_deg))[:, :, 0]


def _respond(case: linear.Body, order: int) -> Array:
    body = TurnedBody(case.profile, *linear.STEEL, order=order)
    stations = _stations(case)
    response = body.respond(stations, linear.JAWS, [(case.bore, z) for z in case.rows], harmonics=HARMONICS)
    pressure = [_patch(case).pressure_harmonic(k) for k in range(HARMONICS)]
    everywhere = np.outer(pressure, np.ones(STATIONS))
    return response.displacement(everywhere, np.radians(case.asked_deg))[:, :, 0]


def _patch(case: linear.Body) -> Patch:
    return Patch("outside", case.radius, case.patch, radians(case.half_angle_deg), linear.JAWS, case.force)


def _stations(case: linear.Body) -> Stations:
    return Stations("outside", case.radius, tuple(np.linspace(*case.patch, STATIONS + 1).tolist()))


def contact_task(runs: int, jaw_order: int, fineness: float, part_order: int, advance: float) -> dict[str, Any]:
    face = JawFace(
        Stations("outside", contact.RADIUS, tuple(np.linspace(*contact.GRIP, STATIONS + 1).tolist())),
        asin(contact.HALF_WIDTH / contact.JAW_BORE),
        SECTORS,
        contact.JAWS,
    )
    gap = bore_gap(face, contact.RADIUS, contact.JAW_BORE)
    angles = np.radians(contact.ASKED_DEG)

    def part() -> Any:
        body = TurnedBody(contact.PROFILE, *contact.STEEL, order=part_order)
        return body.respond(face.stations, contact.JAWS, [(contact.BORE, z) for z in contact.ROWS], harmonics=HARMONICS)

    def jaw() -> Array:
        shape = JawShape(
            style="standard",
            side="outside",
            bore_radius=contact.JAW_BORE,
            half_angle=face.half_angle,
            width=2 * contact.HALF_WIDTH,
            length=contact.LENGTH,
            height=contact.JAW_HEIGHT,
            seat_height=contact.SEAT,
            ledge=contact.LEDGE,
            relief=contact.RELIEF,
        )
        base = JawBase(normal=1e8, shear=1e8, tilt=inf)
        return JawBody(shape, *contact.ALUMINIUM, base, order=jaw_order, fineness=fineness).compliance(face)

    def pressed(force: float, response: Any, compliance: Array) -> tuple[Contact, Array]:
        touched = press(face, part_compliance(response, face) + compliance, force, gap)
        return touched, response.displacement(touched.harmonics(response.orders), angles)[:, :, 0]

    def whole() -> tuple[Any, Array, Contact, Array]:
        response, compliance = part(), jaw()
        return response, compliance, *pressed(contact.FORCE, response, compliance)

    (response, compliance, touched, moved), measured = timed(whole, runs)
    known = timed(lambda: pressed(contact.FORCE, response, compliance), runs)[1]
    force = brentq(lambda f: pressed(f, response, compliance)[0].advance - advance, 2e3, 3e4, rtol=1e-6)
    return {
        **measured,
        "part_seconds": timed(part, runs)[1]["cpu_seconds"],
        "known_seconds": known["cpu_seconds"],
        "u": moved.tolist(),
        "force_at_advance": force,
        "pressure": _boxes(touched).tolist(),
        "peak": touched.peak_pressure,
    }


def _boxes(touched: Contact) -> Array:
    """Mean pressure over the boxes of ``contact.BOX_Z`` and ``BOX_Y``, shape (z, y). [MPa]"""
    face = touched.face
    heights = np.array(face.stations.edges)
    area = np.outer(np.diff(heights), np.diff(face.bounds))
    summed = np.zeros((len(heights), len(face.bounds)))
    summed[1:, 1:] = np.cumsum(np.cumsum(touched.pressure * area, axis=0), axis=1)
    # piecewise constant pressure: its double integral is bilinear, exact by a first-order spline
    integral = RectBivariateSpline(heights, face.bounds, summed, kx=1, ky=1)
    edges = np.arcsin(np.array(contact.BOX_Y) / contact.JAW_BORE)
    whole = integral(contact.BOX_Z, edges)
    forces = np.diff(np.diff(whole, axis=0), axis=1)
    return contact.in_balance(forces / np.outer(np.diff(contact.BOX_Z), np.diff(edges)))


def growth_task(runs: int) -> list[dict[str, Any]]:
    rows = []
    for height in (10.0, 20.0, 40.0, 80.0):
        rows.append(_growth(f"ring wall 10, length {height:g}", "length", runs, height=height))
    rows.append(_growth("ring wall 2, length 160", "length", runs, height=160.0, wall=2.0))
    for wall in (10.0, 5.0, 2.5, 1.25):
        rows.append(_growth(f"ring length 20, wall {wall:g}", "wall", runs, wall=wall))
    for count in (1, 2, 4, 8, 16):
        rows.append(_growth(f"{count} stations", "stations", runs, stations=count))
    for jaws in (2, 3, 4, 6):
        rows.append(_growth(f"{jaws} jaws, harmonics to {jaws * (HARMONICS - 1)}", "jaws", runs, jaws=jaws))
    for case in linear.BODIES.values():
        rows.append(_growth(case.key, "body", runs, profile=case.profile, radius=case.radius, z=case.patch))
    return rows


def _growth(
    label: str,
    varied: str,
    runs: int,
    *,
    height: float = 20.0,
    wall: float = 10.0,
    stations: int = STATIONS,
    jaws: int = 3,
    profile: tuple[tuple[float, float], ...] | None = None,
    radius: float = 55.0,
    z: tuple[float, float] | None = None,
) -> dict[str, Any]:
    """One body's response at the default order, and where its time goes."""
    profile = profile or ((radius - wall, 0), (radius, 0), (radius, height), (radius - wall, height))
    bands = Stations("outside", radius, tuple(np.linspace(*(z or (0.0, height)), stations + 1).tolist()))
    probe = [(max(profile[0][0], profile[-1][0]) or radius, 0.0)]
    body = TurnedBody(profile, *linear.STEEL)
    best: dict[str, Any] = {}
    for _ in range(runs + 1):
        with Clock() as clock:
            start = time.process_time()
            body.respond(bands, jaws, probe, harmonics=HARMONICS)
            seconds = time.process_time() - start
        if not best or seconds < best["seconds"]:
            best = {"seconds": seconds, **clock.spent, "elements": clock.elements, "unknowns": clock.unknowns}
    return {"label": label, "varied": varied, **best}


class Clock:
    """While it is entered, the processor time spent in heldtrue's set-up, factorisations and the rest of its solutions.

    ``elements`` of the section and ``unknowns`` of one harmonic are those of the last body solved.
    """

    def __init__(self) -> None:
        self.spent = {"set_up": 0.0, "factor": 0.0, "solve": 0.0}
        self.elements = self.unknowns = 0
        self._kept: dict[str, Any] = {}

    def __enter__(self) -> Clock:
        harmonics = turned_body.Harmonics
        for name, key in (("__init__", "set_up"), ("_factor", "factor"), ("solve", "solve")):
            self._kept[name] = getattr(harmonics, name)
            setattr(harmonics, name, self._timing(self._kept[name], key))
        return self

    def __exit__(self, *_: object) -> None:
        for name, kept in self._kept.items():
            setattr(turned_body.Harmonics, name, kept)
        self.spent["solve"] -= self.spent["factor"]

    def _timing(self, work: Callable[..., Any], key: str) -> Callable[..., Any]:
        def timing(solver: turned_body.Harmonics, *args: Any, **options: Any) -> Any:
            start = time.process_time()
            try:
                return work(solver, *args, **options)
            finally:
                self.spent[key] += time.process_time() - start
                self.elements, self.unknowns = solver.mesh.ne, 3 * solver.size

        return timing


def timed(work: Callable[[], Any], runs: int) -> tuple[Any, dict[str, float]]:
    """The answer, the least processor and wall time of warm runs, and the memory that the first one adds. [s, MB]"""
    before = _status("VmRSS")
    answer = work()
    measured = {"megabytes": _status("VmHWM") - before, "process_megabytes": _status("VmHWM")}
    walls, processor = [], []
    for _ in range(runs):
        wall, cpu = time.perf_counter(), time.process_time()
        work()
        walls.append(time.perf_counter() - wall)
        processor.append(time.process_time() - cpu)
    return answer, {"seconds": min(walls), "cpu_seconds": min(processor), **measured}


def _status(key: str) -> float:
    """A line of this process's memory account. [MB]"""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith(key):
            return float(line.split()[1]) / 1024
    return 0.0


if __name__ == "__main__":
    ng.ngsglobals.msg_level = 0
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    main()
