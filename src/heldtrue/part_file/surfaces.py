"""The cylinders and flat faces of a half section, each with a name that a setup can refer to."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from heldtrue.part_file.outline import SAME_POINT_MM, Line, Outline
from heldtrue.part_file.turned_part import NotRound, Side, Tolerances, TurnedPart, TurnedSurface
from heldtrue.quantities import UnitSystem, from_core

Range = tuple[float, float]


@dataclass(frozen=True)
class _Stretch:
    side: Side
    diameters: Range
    z: Range


def surfaces_of(outline: Outline, system: UnitSystem = "metric") -> tuple[TurnedSurface, ...]:
    """Every cylinder and flat face, in the order of the outline; diameters and z in mm, names in ``system``.

    Tapers, arcs and a line on the axis are none. Pieces of one straight run are one surface.
    """
    found = _stretches(outline)
    names = [_short_name(one, system) for one in found]
    several = {name for name, count in Counter(names).items() if count > 1}
    return tuple(
        TurnedSurface(_long_name(name, one, system) if name in several else name, one.side, one.diameters, one.z)
        for name, one in zip(names, found, strict=True)
    )


def seated(
    part: TurnedPart, low_end: bool, system: UnitSystem = "metric", seat_at: float = 0.0
) -> tuple[Outline, tuple[TurnedSurface, ...]]:
    """The part as it sits: its outline, and its surfaces there with what the drawing asks of them, in the file's order.

    ``low_end``: the end of low z sits on the jaws, or the other; ``seat_at``: that end to the face that stands at
    z = 0. [mm]
    """
    outline = part.outline.seated(low_end).moved(-seat_at)
    low, high = part.outline.z
    sign, along = (1.0, -low) if low_end else (-1.0, high)
    known = turned_surfaces(surfaces_of(outline, system), not_round_seated(part, low_end, seat_at))
    found = with_tolerances(known, part.surfaces, sign, along - seat_at)
    return outline, found if low_end else found[::-1]


def not_round_seated(part: TurnedPart, low_end: bool, seat_at: float = 0.0) -> tuple[NotRound, ...]:
    """What of the section is not round, as it sits. [mm]"""
    low, high = part.outline.z
    sign, along = (1.0, -low) if low_end else (-1.0, high)
    found = []
    for one in part.not_round:
        begin, end = sorted(sign * z + along - seat_at for z in one.z)
        found.append(replace(one, z=(begin, end)))
    return tuple(found)


def turned_surfaces(surfaces: tuple[TurnedSurface, ...], not_round: tuple[NotRound, ...]) -> tuple[TurnedSurface, ...]:
    """Those surfaces that turn: none can be chosen that only stands for a hexagon, socket or eccentric."""

    def stands_for(one: TurnedSurface, other: NotRound) -> bool:
        diameter = other.diameters[1 if other.side == "outside" else 0]
        meet = min(one.z[1], other.z[1]) - max(one.z[0], other.z[0]) > SAME_POINT_MM
        return one.side == other.side and abs(one.diameters[0] - diameter) < 1e-3 and meet

    return tuple(one for one in surfaces if not any(stands_for(one, other) for other in not_round))


def with_tolerances(
    surfaces: tuple[TurnedSurface, ...], drawn: tuple[TurnedSurface, ...], sign: float, along: float
) -> tuple[TurnedSurface, ...]:
    """``surfaces`` of a moved outline with the tolerances of the ``drawn`` ones; z there was sign * z + along here."""

    def place(one: TurnedSurface) -> tuple[Side, Range, Range]:
        low, high = sorted(sign * z + along for z in one.z)
        return one.side, one.diameters, (low, high)

    def near(a: Range, b: Range) -> bool:
        return max(abs(a[0] - b[0]), abs(a[1] - b[1])) <= 10 * SAME_POINT_MM

    known = [(*place(one), one.tolerances) for one in drawn if one.tolerances != Tolerances()]
    return tuple(
        next(
            (
                replace(one, tolerances=tolerances)
                for side, diameters, z, tolerances in known
                if side == one.side and near(diameters, one.diameters) and near(z, one.z)
            ),
            one,
        )
        for one in surfaces
    )


def _stretches(outline: Outline) -> list[_Stretch]:
    found: list[_Stretch] = []
    for piece in outline.pieces:
        if (one := _stretch(piece)) is not None:
            found.append(one)
    joined: list[_Stretch] = []
    for one in found:
        if joined and (whole := _joined(joined[-1], one)) is not None:
            joined[-1] = whole
        else:
            joined.append(one)
    if len(joined) > 1 and (whole := _joined(joined[-1], joined[0])) is not None:
        joined[0] = whole
        joined.pop()
    return joined


def _stretch(piece: object) -> _Stretch | None:
    if not isinstance(piece, Line):
        return None
    (r0, z0), (r1, z1) = piece.start, piece.end
    if abs(r0 - r1) <= SAME_POINT_MM < abs(z0 - z1) and r0 > SAME_POINT_MM:
        side: Side = "outside" if z1 > z0 else "inside"
        return _Stretch(side, (r0 + r1, r0 + r1), (min(z0, z1), max(z0, z1)))
    if abs(z0 - z1) <= SAME_POINT_MM < abs(r0 - r1):
        middle = (z0 + z1) / 2
        return _Stretch("face", (2 * min(r0, r1), 2 * max(r0, r1)), (middle, middle))
    return None


def _joined(one: _Stretch, other: _Stretch) -> _Stretch | None:
    """Both as one, where they are one straight run."""
    if one.side != other.side:
        return None
    same, run = ("z", "diameters") if one.side == "face" else ("diameters", "z")
    (a, b), (c, d) = getattr(one, same), getattr(other, same)
    low, high = sorted((getattr(one, run), getattr(other, run)))
    if max(abs(a - c), abs(b - d)) > SAME_POINT_MM or abs(low[1] - high[0]) > 2 * SAME_POINT_MM:
        return None
    whole = (low[0], high[1])
    return replace(one, diameters=whole) if one.side == "face" else replace(one, z=whole)


def _short_name(one: _Stretch, system: UnitSystem) -> str:
    if one.side == "face":
        return f"face z {_number(one.z[0], system)}"
    return f"{'bore' if one.side == 'inside' else 'outside'} Ø{_number(one.diameters[0], system)}"


def _long_name(short: str, one: _Stretch, system: UnitSystem) -> str:
    low, high = (_number(value, system) for value in (one.diameters if one.side == "face" else one.z))
    return f"{short}, Ø{low} to Ø{high}" if one.side == "face" else f"{short}, z {low} to {high}"


def _number(value: float, system: UnitSystem) -> str:
    """To the last digit of a drawing: 1 um, or a tenth of a thou."""
    typed = f"{from_core(value, 'length', 'in'):.4f}" if system == "inch" else f"{value:.3f}"
    typed = typed.rstrip("0").rstrip(".")
    return "0" if typed == "-0" else typed
