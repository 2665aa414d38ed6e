"""The surfaces of the part that is being typed, by name: chosen for grip, cuts and tolerances, not typed again."""

from __future__ import annotations

import json
from functools import lru_cache
from typing import Any

from heldtrue.errors import HeldtrueError
from heldtrue.part_file.surfaces import turned_surfaces
from heldtrue.part_file.turned_part import NotRound, TurnedSurface
from heldtrue.planning.drawn_part import surfaces_by_name
from heldtrue.planning.entries import Corner
from heldtrue.quantities import UnitSystem, parse_quantity
from heldtrue.web.fields import Table, bare, get


def named_surfaces(table: Table) -> tuple[TurnedSurface, ...]:
    """Every cylinder and face of the profile, without what is not round; none while the corners are no section. [mm]"""
    system: UnitSystem = "inch" if get(table, "units") == "inch" else "metric"
    rows, others = (bare(get(table, path)) or () for path in ("part.profile", "part.not_round"))
    return _named(json.dumps([rows, others], default=str), system)


@lru_cache(maxsize=32)  # every field of every cut asks
def _named(typed: str, system: UnitSystem) -> tuple[TurnedSurface, ...]:
    def length(value: Any) -> float:
        return parse_quantity(bare(value), "length", system)

    try:
        rows, others = json.loads(typed)
        corners = []
        for row in rows:
            edge = row[2] if len(row) > 2 and isinstance(row[2], dict) else {}
            broken = {key: length(edge[key]) for key in ("radius", "chamfer") if edge.get(key) is not None}
            corners.append(Corner(diameter=length(row[0]), z=length(row[1]), **broken))
        ends = [[[length(end) for end in bare(one[key])] for key in ("diameters", "z")] for one in others]
        not_round = tuple(
            NotRound("", bare(one["side"]), (low, high), (begin, end))
            for one, ((low, high), (begin, end)) in zip(others, ends, strict=True)
        )
        return turned_surfaces(surfaces_by_name(corners, system), not_round)
    except (HeldtrueError, LookupError, TypeError, ValueError):  # half typed: the fields say what is wrong
        return ()
