"""Jaws that were solved before, kept on disk: half of a new plan is the jaw, and a shop uses the same ones again.

A file is named after everything its answer rests on: the jaw, its cells, its ring, the code that solves it and the
libraries below.  What was changed, cut short or cannot be read is solved again.  Without a folder nothing is kept.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from importlib import resources
from importlib.metadata import version
from pathlib import Path
from platform import machine

import numpy as np

from heldtrue import kept_answers
from heldtrue.mechanics.contact import JawFace
from heldtrue.mechanics.jaw_body import JawBody
from heldtrue.mechanics.jaw_response import JawResponse
from heldtrue.mechanics.jaw_shape import BoringRing, JawBase, JawShape

SOLVER = ("jaw_body.py", "jaw_response.py", "jaw_shape.py", "contact.py", "stations.py", "stress.py")
"""The code that an answer rests on."""
LIBRARIES = ("netgen-mesher", "netgen-occt", "ngsolve", "numpy", "scipy")
MOST_KEPT = 400
"""Jaws kept on disk, some 0.4 MB each; the ones not used for longest go first."""
DROPPED_AT_ONCE = 50
_SHAPES = {"firm": 2, "push": 2, "stress": 3, "middles": 2}


@dataclass(frozen=True)
class JawKind:
    """A jaw, its elastic constants [MPa, -], what it stands on, and the ring that clamps it while it is bored."""

    shape: JawShape
    young: float
    poisson: float
    base: JawBase
    ring: BoringRing


def solved_jaw(kind: JawKind, face: JawFace) -> JawResponse:
    """What a jaw answers to the cells of ``face``: read from disk where it was solved before.

    Raises: what ``JawBody`` does.
    """
    path = _path(kind, face)
    found = None if path is None else _read(path, kind, face)
    if found is None:
        body = JawBody(kind.shape, kind.young, kind.poisson, kind.base)
        found = body.under(face).response(kind.ring)
        if path is not None:
            _write(path, found)
    return found


def _path(kind: JawKind, face: JawFace) -> Path | None:
    place = kept_answers.folder("jaws")
    # Frozen data of numbers and words: what it shows is all that it holds, to the last digit.
    return None if place is None else place / kept_answers.name_of(_solver(), repr(kind), repr(face))


@lru_cache(maxsize=1)
def _solver() -> str:
    """The code and libraries that an answer comes from."""
    code = sha256()
    for name in SOLVER:
        code.update(resources.files("heldtrue.mechanics").joinpath(name).read_bytes())
    return " ".join([code.hexdigest(), machine(), *(f"{name} {version(name)}" for name in LIBRARIES)])


def _read(path: Path, kind: JawKind, face: JawFace) -> JawResponse | None:
    """A kept answer; None where there is none that is whole."""
    packed = kept_answers.read(path)
    if packed is None:
        return None
    try:
        with np.load(io.BytesIO(packed), allow_pickle=False) as arrays:
            parts = {name: arrays[name] for name in _SHAPES}
    except (OSError, ValueError, KeyError):
        return None
    kept_answers.used(path)
    return JawResponse(face, kind.shape.seat_height, kind.base.tilt, kind.ring, **parts)


def _write(path: Path, made: JawResponse) -> None:
    packed = io.BytesIO()
    np.savez(packed, **{name: getattr(made, name) for name in _SHAPES})
    kept_answers.write(path, packed.getvalue(), MOST_KEPT, DROPPED_AT_ONCE)
