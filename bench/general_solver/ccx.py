"""Write a deck for CalculiX, run it in a folder of its own, read what it printed.

One thread.  Time is taken three ways: the whole process, the part between "factoring" and "stress calculation" in
its own log (the equation solver alone), and the processor time, which other work on the machine disturbs least.
Peak memory is that of the child alone, measured by a small launcher: a child that leaves a large process counts its
parent's memory as its own.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
INSTALL = "CalculiX is not installed. On Debian or Ubuntu: apt-get install calculix-ccx"
PROGRAM = "ccx"


class RunError(Exception):
    """The solver did not finish; holds the end of its log."""


@dataclass(frozen=True)
class Run:
    """``seconds`` of the process, ``solver_seconds`` of the equation solver inside it, ``cpu_seconds``, peak memory
    ``megabytes``, ``unknowns``, ``iterations`` (equation systems solved), and the texts of the .dat and .frd files."""

    seconds: float
    solver_seconds: float
    cpu_seconds: float
    megabytes: float
    unknowns: int
    iterations: int
    dat: str
    frd: str
    log: str


def available() -> bool:
    return shutil.which(PROGRAM) is not None


def version() -> str:
    said = subprocess.run([PROGRAM, "-v"], capture_output=True, text=True, check=False).stdout
    return said.strip().removeprefix("This is Version").strip()


def run(deck: str, *, limit: float = 900.0) -> Run:
    """Run one deck; keeps nothing on disk."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "job.inp").write_text(deck)
        launcher = Path(__file__).with_name("launch.py")
        command = [sys.executable, "-I", "-S", str(launcher), PROGRAM, "job"]
        environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        done = subprocess.run(
            command, cwd=folder, env=environment, capture_output=True, text=True, timeout=limit, check=False
        )
        if done.returncode:
            raise RunError(done.stdout[-2000:] + done.stderr[-2000:])
        told = json.loads((folder / "told.json").read_text())
        read = {end: _text(folder / f"job.{end}") for end in ("dat", "frd")}
    if told["code"] or "*ERROR" in told["log"]:
        raise RunError(told["log"][-2000:])
    return Run(
        told["seconds"],
        told["solver_seconds"],
        told["cpu_seconds"],
        told["megabytes"],
        told["unknowns"],
        told["iterations"],
        read["dat"],
        read["frd"],
        told["log"],
    )


def _text(path: Path) -> str:
    return path.read_text() if path.exists() else ""


def node_lines(points: Array, first: int = 1) -> Iterable[str]:
    return (f"{first + i},{x:.12g},{y:.12g},{z:.12g}" for i, (x, y, z) in enumerate(points.tolist()))


def element_lines(kind: str, elements: NDArray[np.int64], first: int, name: str, node_offset: int = 1) -> list[str]:
    """An *ELEMENT block; node indices from 0 become numbers from ``node_offset``."""
    if not len(elements):
        return []
    lines = [f"*ELEMENT, TYPE={kind}, ELSET={name}"]
    for i, nodes in enumerate((elements + node_offset).tolist()):
        whole = [first + i, *nodes]
        cut = 16
        lines.append(",".join(map(str, whole[:cut])) + ("," if len(whole) > cut else ""))
        if len(whole) > cut:
            lines.append(",".join(map(str, whole[cut:])))
    return lines


def set_lines(name: str, numbers: Sequence[int], kind: str = "NSET") -> list[str]:
    lines = [f"*{kind}, {kind}={name}"]
    numbers = list(numbers)
    return lines + [",".join(map(str, numbers[i : i + 12])) for i in range(0, len(numbers), 12)]


def printed(dat: str, title: str) -> dict[int, tuple[float, ...]]:
    """The last table of the .dat file whose heading starts with ``title``: node number to its values."""
    lines = dat.splitlines()
    starts = [i for i, line in enumerate(lines) if line.strip().lower().startswith(title)]
    if not starts:
        raise RunError(f"nothing called «{title}» was printed")
    table = {}
    for line in lines[starts[-1] + 2 :]:
        cells = line.split()
        if not cells or not cells[0].isdigit():
            break
        table[int(cells[0])] = tuple(float(c) for c in cells[1:])
    return table


def nodal_field(frd: str, name: str, column: int) -> dict[int, float]:
    """One column of the last nodal field of that name in the .frd file, by node number."""
    blocks = re.split(rf"\n -4  {name} .*\n", frd)
    if len(blocks) < 2:
        raise RunError(f"no nodal field «{name}» was written")
    start = 13 + 12 * column
    table = {}
    for line in blocks[-1].splitlines():
        if line.startswith(" -1"):
            table[int(line[3:13])] = float(line[start : start + 12])
        elif line.startswith(" -3"):
            break
    return table
