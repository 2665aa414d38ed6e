"""What the jaws clamp while they are cut: a ring of the shop's, or one to turn, and the groove that takes it.

The ring pushes the jaws as the part will: for an outside grip they close on it, for an inside grip they open into it.
It stands below the seat, on the end of the jaws that is not cut; where there is no room, in a groove in the jaw faces.
Radii and lengths in mm; heights count from the top of the master jaws.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import asin, inf
from typing import Literal

from heldtrue.sentences import joined, sentence
from heldtrue.tooling.blank import Blank, Say, Wanted, in_mm
from heldtrue.tooling.placing import MIDDLE_SHARE, Way, stroke_words
from heldtrue.tooling.ring_strength import Push, too_weak

CLEARANCE_MM = 4.0
"""Between the path of tool and holder and the ring: common practice, no source."""
CUSTOM_WIDTH_MM = 15.0
"""Width of a ring to turn, where there is room for it: common practice, no source."""
LEAST_WIDTH_MM = 6.0
"""A narrower ring does not sit straight between the jaws: common practice, no source."""
LEAST_WALL_MM = 8.0
"""Least wall of a ring that the jaws push from one side: common practice, no source."""
MOST_WALL_MM, WALL_STEP_MM = 60.0, 2.0
"""A ring to turn gets a thicker wall in these steps until it carries the jaws."""
RING_WORTH_CUTS = 3
"""A ring to turn is worth so many cuts of a set: common practice, no source."""
LEAST_PLUG_MM = 5.0
"""Least radius of a plug: common practice, no source."""
GROOVE_DEPTH_MM = 4.0
"""Depth of a groove in the jaw faces for a ring: common practice, no source."""
GROOVE_ROOM_MM = 1.0
"""Room of a ring in its groove on the side that does not push: common practice, no source."""
BEHIND_GROOVE_MM = 5.0
"""Least metal of the jaw behind a groove: common practice, no source."""
ABOVE_CHUCK_MM = 0.5
"""A ring stays off the face it stands before."""

SIZE_TOLERANCE_MM = 0.05
"""Tolerance of the diameter the jaws bear on, both ways: it moves them by half of it in their stroke; common practice,
no source."""
ROUND_MM = 0.01
"""How round the ring must be there, and its faces parallel: the jaws are bored as true as it is; common practice, no
source."""

TO_TURN = "to turn"

Kind = Literal["ring", "plug", "spider"]
Rejudge = Callable[[int, float], Way | None]
"""A tooth and a point of the stroke to the way it makes, None where it does not work."""


@dataclass(frozen=True)
class Ring:
    """A boring ring [mm]; ``inside`` 0 for a plug; a spider can be set to any diameter from inside to outside."""

    name: str
    kind: Kind
    outside: float
    inside: float
    width: float


@dataclass(frozen=True)
class Groove:
    """A groove in the jaw faces: ``diameters`` of its inner and outer wall, ``depth``. [mm]"""

    diameters: tuple[float, float]
    depth: float


@dataclass(frozen=True)
class RingChoice:
    """The ring to use, with the way the jaws then stand.

    ``ring``; ``from_shop``; ``set_to``: diameter the jaws bear on, the size to set a spider to; ``heights``: of the
    ring above the master jaws; ``groove``: to cut for it, None where it stands below the seat; ``to_grip``: axial
    distance from the middle of the ring to the middle of the grip; ``to_tool``: least distance to the path of the tool;
    ``way``: with the stroke this ring sets; ``words``; ``tried``: why the others do not do.
    """

    ring: Ring
    from_shop: bool
    set_to: float
    heights: tuple[float, float]
    groove: Groove | None
    to_grip: float
    to_tool: float
    way: Way
    words: str
    tried: tuple[str, ...]


@dataclass(frozen=True)
class Room:
    """Where a ring may stand.

    ``seat``: height of the lowest face that is cut; ``front``: height of the jaw faces; ``grip``: height of the middle
    of the grip; ``mouth``: radius the tool reaches at and before the faces, chamfer and its way in included;
    ``below_tip``: how far tool and holder reach below the tip; ``floor``: lowest height for a ring.
    """

    seat: float
    front: float
    grip: float
    mouth: float
    below_tip: float = 0.0
    floor: float = 0.0
    clearance: float = CLEARANCE_MM


def choose(
    rings: Sequence[Ring], ways: Sequence[Way], blank: Blank, wanted: Wanted, room: Room, travel: float,
    rejudge: Rejudge, say: Say = in_mm, push: Push | None = None,
) -> RingChoice | tuple[str, ...]:  # fmt: skip
    """The ring to use, or in words why there is none.

    In this order: a ring of the shop's below the seat, a ring to turn below the seat, a ring of the shop's in a groove,
    a ring to turn with its groove.  ``ways`` best first; a ring of the shop's may ask for another tooth, and where that
    costs more than ``RING_WORTH_CUTS`` of the set's life a ring to turn is better.  Of the shop's the one that leaves
    most cuts, then the stiffest, then the one nearest to mid-stroke.  ``push``: what the ring must carry, None where
    nobody knows.
    """
    if not ways:
        return ("without a place for the jaws there is no ring",)
    tried: list[str] = []
    found = _shop_below(rings, ways, wanted, room, travel, rejudge, tried, say, push)
    best, turned_tried = ways[0], list[str]()
    turned = _turned_below(best, wanted, room, turned_tried, say, push)
    if found is not None and turned is not None and turned[4].cuts_left > found[4].cuts_left + RING_WORTH_CUTS:
        tried.append(
            sentence(
                "{}: leaves {} cuts in the set, a ring to turn leaves {}",
                _called(found[0], say),
                found[4].cuts_words,
                turned[4].cuts_words,
            )
        )
        found = None
    if found is None:
        tried += turned_tried
        found = turned
    for ring in () if found else rings:
        found = found or _in_groove(ring, best, blank, wanted, room, tried, say, push)
    if found is None:
        found = _turned_groove(best, blank, wanted, room, tried, say, push)
    if found is None:
        return tuple(tried)
    ring, set_to, heights, groove, way = found
    shop = ring in tuple(rings)
    middle = sum(heights) / 2
    to_tool = room.seat - room.below_tip - heights[1] if groove is None else _beside(ring, wanted, room)
    choice = RingChoice(ring, shop, set_to, heights, groove, room.grip - middle, to_tool, way, "", tuple(tried))
    return _with_words(choice, wanted, bool(rings), say)


_Found = tuple[Ring, float, tuple[float, float], Groove | None, Way]


def stub_radius(way: Way, wanted: Wanted) -> float:
    """Radius that the end of the jaws which is not cut reaches below the seat, anywhere over its width. [mm]

    Flat ends that close on a ring touch it in their middle, flat ends that open into one with their corners.
    """
    return way.outline.least_radius if wanted.side == "outside" else way.outline.greatest_radius


def bears_at(way: Way, wanted: Wanted, radius: float) -> float | None:
    """Angle from a jaw's middle to where its end bears on a ring [rad]; None where it bears all round."""
    if way.outline.is_round:
        return None
    if wanted.side == "outside":
        return 0.0
    half = max(y for _, y in way.outline.corners)
    return asin(min(half / radius, 1.0))


def _space_below(room: Room) -> tuple[float, float]:
    return max(room.floor + ABOVE_CHUCK_MM, 0.0), room.seat - room.below_tip - room.clearance


def _shop_below(
    rings: Sequence[Ring], ways: Sequence[Way], wanted: Wanted, room: Room, travel: float, rejudge: Rejudge,
    tried: list[str], say: Say, push: Push | None,
) -> _Found | None:  # fmt: skip
    low, high = _space_below(room)
    outside = wanted.side == "outside"
    best: tuple[tuple[float, ...], _Found] | None = None
    for ring in rings:
        if not outside and (ring.kind != "ring" or ring.outside - ring.inside < 2 * LEAST_WALL_MM):
            tried.append(
                sentence(
                    "{}: jaws that open need a ring with a wall of {} or more", _called(ring, say), say(LEAST_WALL_MM)
                )
            )
            continue
        if ring.width > high - low:
            free = say(max(high - low, 0.0))
            tried.append(
                sentence("{}: {} wide, but only {} is free below the seat", _called(ring, say), say(ring.width), free)
            )
            continue
        if not outside and (clash := _too_large(ring, wanted, say)):
            tried.append(sentence("{}: {}", _called(ring, say), clash))
            continue
        stands, nearest, weak = None, None, ""
        for way in ways:
            low_size, high_size = (ring.inside, ring.outside) if ring.kind == "spider" else (ring.outside, ring.outside)
            if not outside:
                low_size = high_size = ring.inside
            size = min(max(2 * stub_radius(way, wanted), low_size), high_size)
            stroke = way.stroke + way.outline.to_sweep(size / 2, wanted.outward)
            if stroke == -inf:
                continue
            nearest = stroke if nearest is None or abs(stroke) < abs(nearest) else nearest
            if abs(stroke) > MIDDLE_SHARE * travel + 1e-9:
                continue
            judged = way if abs(stroke - way.stroke) < 1e-9 else rejudge(way.tooth, stroke)
            if judged is None:
                continue
            if too_weak_here := too_weak(
                ring.kind, push, bears_at(judged, wanted, size / 2), ring.inside, ring.outside, ring.width
            ):
                weak = too_weak_here
                continue
            key = (-judged.cuts_left, ring.kind == "spider", round(abs(stroke) / (travel / 12)), -(judged.web or 0.0))
            stands = (key, (ring, size, (high - ring.width, high), None, judged))
            if best is None or key < best[0]:
                best = stands
        if stands is None:
            far = (
                "too small for the corners of the jaws"
                if nearest is None
                else (sentence("sets the jaws {}", stroke_words(nearest, say)))
            )
            why = weak or far
            tried.append(sentence("{}: {}", _called(ring, say), why))
    return best[1] if best else None


def _turned_below(
    way: Way, wanted: Wanted, room: Room, tried: list[str], say: Say, push: Push | None
) -> _Found | None:  # fmt: skip
    low, high = _space_below(room)
    if high - low < LEAST_WIDTH_MM:
        tried.append(
            sentence(
                "a ring to turn: {} is free below the seat; {} is least", say(max(high - low, 0.0)), say(LEAST_WIDTH_MM)
            )
        )
        return None
    width = min(CUSTOM_WIDTH_MM, high - low)
    stub = stub_radius(way, wanted)
    if wanted.side == "outside" and stub < LEAST_PLUG_MM:
        tried.append(
            sentence("a plug to turn: only Ø{} is free between the jaws below the seat", say(2 * max(stub, 0.0)))
        )
        return None
    bears = bears_at(way, wanted, stub)
    ring = _wall_that_holds(stub, width, wanted.side == "outside", push, bears)
    why = "" if wanted.side == "outside" else _too_large(ring, wanted, say)
    if why := why or too_weak(ring.kind, push, bears, ring.inside, ring.outside, ring.width):
        tried.append(sentence("a ring to turn Ø{}: {}", say(ring.outside), why))
        return None
    return ring, 2 * stub, (high - width, high), None, way


def _wall_that_holds(stub: float, width: float, outside: bool, push: Push | None, bears: float | None) -> Ring:
    """A ring to turn that the jaws push at ``stub``: as thick as it must be, a plug where no hole is left of it."""
    wall = 1.5 * LEAST_WALL_MM
    while wall < MOST_WALL_MM:
        ring = (
            Ring(TO_TURN, "ring", 2 * stub, max(2 * (stub - wall), 0.0), width)
            if outside
            else Ring(TO_TURN, "ring", 2 * (stub + wall), 2 * stub, width)
        )
        if outside and stub < 2 * wall:
            return Ring(TO_TURN, "plug", 2 * stub, 0.0, width)
        if not too_weak("ring", push, bears, ring.inside, ring.outside, width):
            break
        wall += WALL_STEP_MM
    return ring


def _too_large(ring: Ring, wanted: Wanted, say: Say) -> str:
    """Why a ring round the jaws does not turn clear; empty where it does."""
    for name, swing in wanted.swings:
        if ring.outside / 2 > swing:
            return sentence("{} clears Ø{}", name, say(2 * swing))
    return ""


def _beside(ring: Ring, wanted: Wanted, room: Room) -> float:
    """Distance from a ring at the jaw faces to the tool there."""
    return ring.inside / 2 - room.mouth if wanted.side == "outside" else room.mouth - ring.outside / 2


def _in_groove(
    ring: Ring, way: Way, blank: Blank, wanted: Wanted, room: Room, tried: list[str], say: Say, push: Push | None
) -> _Found | None:
    """A ring in a groove of the jaw faces, pushed by the groove's far wall (outside grip) or near wall (inside)."""
    if ring.kind != "ring" or ring.outside - ring.inside < 2 * LEAST_WALL_MM or ring.width < GROOVE_DEPTH_MM + 1.0:
        return None
    if _beside(ring, wanted, room) < room.clearance:
        tried.append(
            sentence(
                "{} in a groove: {} beside the tool", _called(ring, say), say(max(_beside(ring, wanted, room), 0.0))
            )
        )
        return None
    if wanted.side == "outside":
        walls, pushes = (ring.inside - 2 * GROOVE_ROOM_MM, ring.outside), ring.outside
    else:
        walls, pushes = (ring.inside, ring.outside + 2 * GROOVE_ROOM_MM), ring.inside
    # The wall of a groove is turned to the ring: it bears over the width of the jaw, as if half way to its edges.
    bears = None if way.outline.is_round else way.outline.half_angle_at(pushes / 2) / 2
    reason = too_weak(ring.kind, push, bears, ring.inside, ring.outside, ring.width)
    reason = reason or _groove_in_metal(walls, way, blank, wanted, say)
    if reason:
        tried.append(sentence("{} in a groove: {}", _called(ring, say), reason))
        return None
    heights = (room.front - GROOVE_DEPTH_MM, room.front - GROOVE_DEPTH_MM + ring.width)
    return ring, pushes, heights, Groove(walls, GROOVE_DEPTH_MM), way


def _groove_in_metal(walls: tuple[float, float], way: Way, blank: Blank, wanted: Wanted, say: Say) -> str:
    """Why a groove does not go into the jaw faces; empty where it does."""
    near, far = walls[0] / 2, walls[1] / 2
    pushed = far if wanted.side == "outside" else near
    behind = way.outline.behind(pushed, wanted.outward)
    if behind < BEHIND_GROOVE_MM:
        return sentence("{} of jaw would be left behind it", say(max(behind, 0.0)))
    for number, hole in enumerate(blank.holes, 1):
        at, half = way.zero + hole, blank.pocket[0] / 2
        if near < at + half and far > at - half and blank.pocket[1] - blank.head < GROOVE_DEPTH_MM + 1.0:
            return f"it would run over the head of bolt {number}"
    return ""


def _turned_groove(
    way: Way, blank: Blank, wanted: Wanted, room: Room, tried: list[str], say: Say, push: Push | None
) -> _Found | None:
    """A ring to turn in a groove of the jaw faces, as near to the bore as the tool allows."""
    width, edge = GROOVE_DEPTH_MM + LEAST_WIDTH_MM, 2 * (room.mouth + wanted.outward * room.clearance)
    said: list[str] = []
    wall, found = LEAST_WALL_MM, None
    # As thick as it must be to carry the jaws, as long as the groove for it stays in the metal.
    while found is None and wall < MOST_WALL_MM:
        inside, outside = (edge, edge + 2 * wall) if wanted.outward > 0 else (edge - 2 * wall, edge)
        if inside < 4 * LEAST_PLUG_MM:
            said = said or [sentence("a ring to turn in a groove: no room inside Ø{}", say(2 * room.mouth))]
            break
        said = []
        found = _in_groove(Ring(TO_TURN, "ring", outside, inside, width), way, blank, wanted, room, said, say, push)
        wall += WALL_STEP_MM
    if found is None:
        tried += [*said, "longer or taller jaws, or bolts further from the bore, would make room for a ring"]
    return found


def _called(ring: Ring, say: Say) -> str:
    size = sentence("Ø{}", say(ring.outside))
    if ring.kind != "plug" and ring.inside:
        size = sentence("Ø{} / {}", say(ring.outside), say(ring.inside))
    name = "" if ring.name == TO_TURN else ring.name
    kind = "" if name.lower().startswith(ring.kind) else ring.kind
    return joined(" ", filter(None, [kind, name, size]))


def _with_words(choice: RingChoice, wanted: Wanted, has_rings: bool, say: Say) -> RingChoice:
    ring, groove = choice.ring, choice.groove
    corners = (
        " (their corners bear on it)" if bears_at(choice.way, wanted, choice.set_to / 2) and groove is None else ""
    )
    bears = sentence(
        "the jaws {} Ø{}{} within {} either way, round and its faces parallel within {}",
        "close on" if wanted.side == "outside" else "open into",
        say(choice.set_to),
        corners,
        say(SIZE_TOLERANCE_MM),
        say(ROUND_MM),
    )
    where = (
        sentence("its top {} above the master jaws", say(choice.heights[1]))
        if groove is None
        else sentence(
            "in a groove Ø{} to Ø{}, {} wide and {} deep in the jaw faces",
            say(groove.diameters[0]),
            say(groove.diameters[1]),
            say((groove.diameters[1] - groove.diameters[0]) / 2),
            say(groove.depth),
        )
    )
    if choice.from_shop:
        start = sentence("{} x {}", _called(ring, say), say(ring.width))
    else:
        inner = sentence(" / {}", say(ring.inside)) if ring.inside else ""
        none = "no ring of yours does: " if has_rings else "no rings are listed: "
        groove_word = " and a groove for it" if groove else ""
        start = sentence(
            "{}turn a {} Ø{}{} x {}{}", none, ring.kind, say(ring.outside), inner, say(ring.width), groove_word
        )
    words = sentence("{}; {}, {}, {} clear of the tool", start, bears, where, say(choice.to_tool))
    return RingChoice(choice.ring, choice.from_shop, choice.set_to, choice.heights, choice.groove, choice.to_grip,
                      choice.to_tool, choice.way, words, choice.tried)  # fmt: skip
