"""heldtrue's mechanics beside CalculiX, a general-purpose 3-D finite element code, in one run.

    python bench/against_general_solver.py          all of it, up to ten minutes; rewrites results and page
    python bench/against_general_solver.py --quick  the two coarsest meshes, against stored answers; writes nothing

Both codes run on one thread.  Times are processor seconds of one solution, the least of three runs (of one, where it
takes longer than five seconds); other work on the machine disturbs those least.  Ratios compare runs of this same run.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from general_solver import ccx, contact, linear, tables, tets
from numpy.typing import NDArray

HERE = Path(__file__).parent
RESULTS = HERE / "results" / "against_general_solver.json"
PAGE = HERE.parent / "docs" / "benchmarks.md"
BEGIN, END = "<!-- against_general_solver: begin -->", "<!-- against_general_solver: end -->"

Array = NDArray[np.float64]
Row = dict[str, Any]
RUNS = 3
LONG_SECONDS = 5.0
CONTACT_LEVELS = (1, 2, 3, 4)
CONTACT_REFERENCE = (2, 3, 4)
OUR_ORDERS = {"respond": (3, 4, 5, 6, 8), "under": (3, 4, 5)}
OUR_CONTACTS = ((2, 1.0, 4), (2, 1.5, 4), (3, 1.0, 5))
"""Order of the jaw's elements, their fineness, order of the part's elements; the first is heldtrue's own choice."""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="two coarsest meshes, against the stored answers")
    quick = parser.parse_args().quick
    if not ccx.available():
        print(ccx.INSTALL, file=sys.stderr)
        return 2
    stored = json.loads(RESULTS.read_text()) if RESULTS.exists() else None
    if quick and stored is None:
        print(f"--quick compares with the answers in {RESULTS.name}, which is not there: run it once without.")
        return 2

    start = time.perf_counter()
    references = stored["references"] if quick else {}
    rows = [row for body in linear.BODIES.values() for row in linear_rows(body, references, quick)]
    rows += contact_rows(references, quick)
    growth = ours(what="growth", runs=RUNS)
    document = {
        "program": f"CalculiX {ccx.version()}",
        "machine": f"{platform.machine()}, {os.cpu_count()} processors",
        "minutes": round((time.perf_counter() - start) / 60, 1),
        "rows": rows,
        "ratios": tables.ratios(rows),
        "growth": growth,
        "references": references,
    }
    page = tables.page(document, quick=quick)
    print(page)
    if not quick:
        RESULTS.parent.mkdir(exist_ok=True)
        RESULTS.write_text(json.dumps(tables.rounded(document), indent=1, ensure_ascii=False) + "\n")
        write_page(page)
    return 0


def linear_rows(body: linear.Body, references: dict[str, Any], quick: bool) -> list[Row]:
    """A: every mesh of one body, and heldtrue at several orders."""
    runs: list[tuple[Row, Array]] = []
    for kind, lines in body.meshes.items():
        for level in lines.levels[:2] if quick else lines.levels:
            runs.append(linear_run(body, kind, level, "C3D20R"))
            if level == 3:
                runs.append(linear_run(body, kind, level, "C3D20"))
    runs += [tets_run(body, edge) for edge in (body.tets[:2] if quick else body.tets)]
    if not quick:
        references[body.key] = linear_reference(body, runs)
    for way, orders in OUR_ORDERS.items():
        for order in orders:
            told = ours(what="linear", body=body.key, way=way, order=order, runs=RUNS)
            runs.append((our_row(body.key, f"{way}, order {order}", told, default=order == 4), np.array(told["u"])))
    reference = np.array(references[body.key]["u"])
    return [{**row, "error_percent": linear.error_percent(u, reference)} for row, u in runs]


def linear_run(body: linear.Body, kind: str, level: int, element: str) -> tuple[Row, Array]:
    say(f"{body.key}: {kind} mesh {level}, {element}")
    mesh = linear.mesh_of(body, kind, level)
    run = best_run(linear.deck_of(body, mesh, element))
    row = their_row(body.key, f"{kind} {level}, {element}", run)
    return {**row, "mesh": kind, "level": level, "element": element}, linear.bore_radial(body, mesh, run.dat)


def tets_run(body: linear.Body, edge: float) -> tuple[Row, Array]:
    say(f"{body.key}: tetrahedra of {edge:g} mm")
    mesh = tets.mesh_of(body, edge)
    run = best_run(tets.deck_of(body, mesh))
    row = their_row(body.key, f"tetrahedra {edge:g} mm, C3D10", run)
    return {**row, "mesh": "tetrahedra", "element": "C3D10"}, tets.bore_radial(body, mesh, run.dat)


def linear_reference(body: linear.Body, runs: Sequence[tuple[Row, Array]]) -> dict[str, Any]:
    """The extrapolated answer, and how far extrapolation from coarser levels is from it."""
    kind, levels = body.reference
    found = {row["level"]: u for row, u in runs if row["mesh"] == kind and row["element"] == "C3D20R"}
    best, order = linear.extrapolated(tuple(found[m] for m in levels), levels)
    earlier = tuple(sorted(found)[-4:-1])
    second, _ = linear.extrapolated(tuple(found[m] for m in earlier), earlier)
    return {
        "u": best.tolist(),
        "order_of_convergence": order,
        "floor_percent": linear.error_percent(second, best),
        "finest_percent": linear.error_percent(found[levels[-1]], best),
    }


def contact_rows(references: dict[str, Any], quick: bool) -> list[Row]:
    """B: contact of part and jaw."""
    key = "contact of ring and jaw"
    runs: list[tuple[Row, contact.Pressed]] = []
    for level in CONTACT_LEVELS[:2] if quick else CONTACT_LEVELS:
        part, jaw = contact.part_mesh(level), contact.jaw_mesh(level)
        for method in (contact.PENALTY, contact.MORTAR):
            say(f"{key}: mesh {level}, {method.lower()}")
            run = best_run(contact.deck_of(part, jaw, "C3D20R", method))
            name = "mortar" if method == contact.MORTAR else "penalty"
            row = their_row(key, f"{name} {level}, {run.iterations} systems", run)
            runs.append(({**row, "mesh": name, "level": level}, contact.read(part, jaw, run)))
    if not quick:
        references[key] = contact_reference(runs)
    for jaw_order, fineness, part_order in OUR_CONTACTS:
        task = {"jaw_order": jaw_order, "fineness": fineness, "part_order": part_order, "advance": contact.ADVANCE}
        told = ours(what="contact", runs=RUNS, **task)
        default = (jaw_order, fineness, part_order) == OUR_CONTACTS[0]
        label = f"jaw order {jaw_order}, fineness {fineness:g}; part order {part_order}"
        row = our_row(key, label, told, default=default) | {
            k: told[k] for k in ("part_seconds", "known_seconds", "peak")
        }
        runs.append((row, contact.Pressed(told["force_at_advance"], np.array(told["u"]), np.array(told["pressure"]))))
    return [{**row, **contact_errors(pressed, references[key], row)} for row, pressed in runs]


def contact_reference(runs: Sequence[tuple[Row, contact.Pressed]]) -> dict[str, Any]:
    found = {row["level"]: pressed for row, pressed in runs if row["mesh"] == "mortar"}

    def limit(values: Callable[[contact.Pressed], Array]) -> tuple[Array, float]:
        return linear.extrapolated(tuple(values(found[m]) for m in CONTACT_REFERENCE), CONTACT_REFERENCE)

    u, order = limit(lambda p: p.u)
    finest = found[CONTACT_REFERENCE[-1]]
    return {
        "u": u.tolist(),
        "order_of_convergence": order,
        "finest_percent": linear.error_percent(finest.u, u),
        "force_at_advance": float(limit(lambda p: np.array([p.force]))[0][0]),
        # jumps between levels at the jaw's edges are too irregular to extrapolate
        "pressure": finest.pressure.tolist(),
    }


def contact_errors(pressed: contact.Pressed, reference: dict[str, Any], row: Row) -> Row:
    """Bore, valley, force at the same advance [%], and the worst box's pressure by the finest mesh [% of mean]."""
    theirs = np.array(reference["u"])
    pressure = np.array(reference["pressure"])
    away = np.abs(pressed.pressure - pressure).max() / contact.mean_pressure()
    valley, their_valley = np.ptp(pressed.u, axis=1), np.ptp(theirs, axis=1)
    return {
        "error_percent": linear.error_percent(pressed.u, theirs),
        "peak_to_valley_um": (1e3 * valley).tolist(),
        "peak_to_valley_percent": float(100 * np.abs(valley / their_valley - 1).max()),
        "force_percent": 100 * (pressed.force / reference["force_at_advance"] - 1),
        # what the penalty method prints at nodes is a lumped value, not the pressure
        "pressure_percent": None if row.get("mesh") == "penalty" else float(100 * away),
        "pressure": None if row.get("mesh") == "penalty" else pressed.pressure.tolist(),
    }


def best_run(deck: str) -> ccx.Run:
    """The run with the least processor time of RUNS; of one, if it is long."""
    runs = [ccx.run(deck)]
    while runs[0].cpu_seconds < LONG_SECONDS and len(runs) < RUNS:
        runs.append(ccx.run(deck))
    return min(runs, key=lambda run: run.cpu_seconds)


def their_row(body: str, label: str, run: ccx.Run) -> Row:
    return {
        "body": body,
        "code": "CalculiX",
        "what": label,
        "unknowns": run.unknowns,
        "cpu_seconds": run.cpu_seconds,
        "seconds": run.seconds,
        "solver_seconds": run.solver_seconds,
        "megabytes": run.megabytes,
        "process_megabytes": run.megabytes,
    }


def our_row(body: str, label: str, told: Row, *, default: bool) -> Row:
    kept = ("cpu_seconds", "seconds", "megabytes", "process_megabytes")
    row = {"body": body, "code": "heldtrue", "what": label, "unknowns": told.get("unknowns"), "default": default}
    return row | {k: told[k] for k in kept}


def ours(**task: Any) -> Any:
    """One of heldtrue's tasks, in a process of its own."""
    say("heldtrue: " + ", ".join(str(v) for v in task.values()))
    environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-m", "general_solver.ours"]
    done = subprocess.run(
        command, input=json.dumps(task), cwd=HERE, env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise SystemExit(done.stderr)
    return json.loads(done.stdout)


def write_page(page: str) -> None:
    """Put the tables between the markers of the page."""
    text = PAGE.read_text()
    before, rest = text.split(BEGIN)
    _, after = rest.split(END)
    PAGE.write_text(f"{before}{BEGIN}\n\n{page}\n\n{END}{after}")


def say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


if __name__ == "__main__":
    raise SystemExit(main())
