"""The process of the kernel: a jaw comes in, its files go into a folder, and an answer after all else is written.

It may die at any place: without an answer, nothing of it counts.
"""

from __future__ import annotations

import json
import pickle
import sys
from pathlib import Path

from heldtrue.drawing.exchange import ANSWER, STEP_NAME, STL_NAME, Asked, step_text, stl_bytes
from heldtrue.errors import HeldtrueError
from heldtrue.mechanics.cut_jaw import cut_solid, whole_set
from heldtrue.mechanics.facets import facets


def make(asked: Asked, folder: Path) -> None:
    """Both files, or why not, in a folder."""
    named = asked.name or "without a number"
    made: dict[str, float] = {}
    failed: dict[str, str] = {}
    try:
        solid = cut_solid(asked.jaw)
        made["volume"] = solid.mass
    except Exception as error:  # noqa: BLE001
        failed = dict.fromkeys((STEP_NAME, STL_NAME), _why(error))
    if not failed:
        try:
            triangles = facets(solid, asked.chord)
            made |= {"off": triangles.off, "triangles": len(triangles.triangles)}
            words = f"{named}, jaw 1: mm, within {asked.chord:g}, origin on axis at jaw front; heldtrue"
            (folder / STL_NAME).write_bytes(stl_bytes(triangles, words))
        except Exception as error:  # noqa: BLE001
            failed[STL_NAME] = _why(error)
        try:
            text = step_text(whole_set(asked.jaw, solid), f"jaw set {named}", asked.words, asked.day)
            (folder / STEP_NAME).write_text(text, encoding="ascii")
        except Exception as error:  # noqa: BLE001
            failed[STEP_NAME] = _why(error)
    (folder / ANSWER).write_text(json.dumps({"made": made, "failed": failed}), encoding="utf-8")


def _why(error: Exception) -> str:
    """What the kernel raises has no class of ours: whatever it is, the program for the machine does not hang on it."""
    return str(error) if isinstance(error, HeldtrueError) else f"the geometry kernel says {str(error).splitlines()[0]}"


if __name__ == "__main__":
    make(pickle.load(sys.stdin.buffer), Path(sys.argv[1]))
