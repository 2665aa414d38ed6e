"""Loops of faces made to run the right way round, where a writer turned those of some faces over.

Two faces of a solid walk the edge between them in opposite ways.  A kernel that keeps a left-handed surface is known to
write such a face with its loops turned over: met in files of fillets written by the kernel at hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from heldtrue.part_file.faces import Face


def consistent(faces: Sequence[Face]) -> list[Face]:
    """The faces with the loops of the fewer ones turned over, so that all agree; as they are where they cannot."""
    uses: dict[int, list[tuple[int, bool]]] = {}
    for k, face in enumerate(faces):
        for loop in face.loops:
            for edge, forward in loop:
                uses.setdefault(edge.id, []).append((k, forward))
    near: dict[int, list[tuple[int, bool]]] = {}
    for both in uses.values():
        if len(both) == 2 and both[0][0] != both[1][0]:
            (one, a), (two, b) = both
            near.setdefault(one, []).append((two, a == b))
            near.setdefault(two, []).append((one, a == b))
    turned: dict[int, bool] = {}
    flipped: set[int] = set()
    for first in range(len(faces)):
        if first in turned:
            continue
        turned[first], shell, todo = False, [first], [first]
        agrees = True
        while todo:
            here = todo.pop()
            for other, clash in near.get(here, ()):
                wanted = turned[here] != clash
                if other not in turned:
                    turned[other] = wanted
                    shell.append(other)
                    todo.append(other)
                agrees = agrees and turned[other] == wanted
        over = [k for k in shell if turned[k]]
        if agrees:
            flipped.update(over if 2 * len(over) <= len(shell) else [k for k in shell if not turned[k]])
    return [_turned(face) if k in flipped else face for k, face in enumerate(faces)]


def _turned(face: Face) -> Face:
    loops = tuple(tuple((edge, not forward) for edge, forward in reversed(loop)) for loop in face.loops)
    return replace(face, loops=loops)
