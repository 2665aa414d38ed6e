"""The cut jaws as files for CAD: every jaw of the set in its place as STEP, jaw 1 alone as STL.

The kernel runs in a process of its own, with an end: where it stops or never comes back, the program for the machine
stands all the same, and the answer says what is missing.
"""

from __future__ import annotations

import json
import pickle
import subprocess
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from heldtrue.drawing.exchange import ANSWER, STEP_NAME, STL_NAME, Asked
from heldtrue.errors import GeometryError
from heldtrue.own_process import run_module
from heldtrue.planning.boring import BorePlan
from heldtrue.planning.jaw_solid import CHORD_MM, Solids, cut_jaw_of, left_out, shows

NOT_WRITTEN = "not written:"
LONGEST_S = 120.0
"""The kernel takes about a second; what takes this long never comes back."""


@dataclass(frozen=True)
class MadeSolids:
    """The files of the jaws by name, and what is told of them."""

    told: Solids
    files: dict[str, bytes]


def make_solids(
    plan: BorePlan, chord: float = CHORD_MM, printed: date | None = None, *, longest: float = LONGEST_S
) -> MadeSolids:
    """The jaws of a plan that has its program, and the files of them that could be made.

    ``chord``: how far triangles may lie from the jaw [mm]; ``longest``: how long the kernel may take [s].
    """
    shown, missing = shows(plan), left_out(plan)
    files: dict[str, bytes] = {}
    try:
        jaw = cut_jaw_of(plan)
        day = printed.isoformat() if printed else ""
        asked = Asked(jaw, chord, plan.setup.jaws.number or "", _head(plan, shown, missing), day)
        made, whys, files = _in_a_process(asked, longest)
    except GeometryError as error:
        why = f"{STEP_NAME} and {STL_NAME} {NOT_WRITTEN} {error}"
        return MadeSolids(Solids((), chord, 0.0, 0, 0.0, shown, missing, (why,)), {})
    holds = {
        STEP_NAME: f"all {jaw.jaws} jaws in their places, a solid each: jaw 1, jaw 2 and on",
        STL_NAME: "jaw 1 alone, in the same place; the others are the same turned about the axis",
    }
    told = Solids(
        tuple((name, holds[name]) for name in files), chord, made.get("off", 0.0), int(made.get("triangles", 0)),
        made.get("volume", 0.0), shown, missing, tuple(f"{name} {NOT_WRITTEN} {why}" for name, why in whys.items()),
    )  # fmt: skip
    return MadeSolids(told, files)


def _head(plan: BorePlan, shown: tuple[str, ...], missing: tuple[str, ...]) -> tuple[str, ...]:
    title = f"jaw set {plan.setup.jaws.number or 'without a number'}, as cut for {plan.setup.part.number}"
    return (title, *shown, *(f"not in it: {one}" for one in missing))


def _in_a_process(asked: Asked, longest: float) -> tuple[dict[str, float], dict[str, str], dict[str, bytes]]:
    """Figures of what the kernel made in its own process, why a file is missing, and the files.

    Raises: ``GeometryError`` where it made nothing.
    """
    with TemporaryDirectory() as place:
        try:
            ended = run_module("heldtrue.drawing.solid_process", place, longest=longest, given=pickle.dumps(asked))
        except subprocess.TimeoutExpired:
            raise GeometryError(f"the geometry kernel was stopped after {longest:g} s") from None
        except OSError as error:
            raise GeometryError(f"the geometry kernel could not be started: {error.strerror}") from error
        folder = Path(place)
        if not (folder / ANSWER).exists():
            raise GeometryError(f"the geometry kernel broke off (exit status {ended.returncode})")
        try:
            answer = json.loads((folder / ANSWER).read_text(encoding="utf-8"))
            names = [name for name in (STEP_NAME, STL_NAME) if name not in answer["failed"]]
            return answer["made"], answer["failed"], {name: (folder / name).read_bytes() for name in names}
        except (OSError, ValueError, KeyError) as error:
            raise GeometryError("the geometry kernel left an answer that cannot be read") from error
