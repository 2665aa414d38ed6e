"""Which jaws of the shelf will do for a wanted setup, and what each costs.

By geometry of the record alone: whether the teeth, the stroke and the swing allow it is for the plan to say.
Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import ceil
from typing import Literal

from sqlalchemy import Connection, Select, select

from heldtrue.mechanics.materials import jaw_material_name
from heldtrue.records.kinds import record_of, table_of
from heldtrue.records.reading import STANDINGS, distinct, row_by_id, standing_from
from heldtrue.records.standing import Standing
from heldtrue.records.things import BlankRecord, ChuckRecord
from heldtrue.sentences import joined, sentence

SAME_MM = 0.02
"""Diameters and depths this near are the same: as ``tooling.recut`` compares them."""
MOST_TEETH = 8
"""Teeth a set is moved to spare metal, at the most: common practice, no source."""
NEAREST = 60
"""Sets looked at on each side of the wanted diameter: moved by teeth a farther one needs no less metal."""
Cost = Literal["re-fit", "skim", "re-cut"]
_RANK: dict[Cost, int] = {"re-fit": 0, "skim": 1, "re-cut": 2}


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What a setup asks of its jaws; an empty text or None asks nothing.

    ``diameter`` to be bored or turned, ``depth`` front to seat; ``chuck`` and ``machine`` it will run on;
    ``serration``: taken from the chuck's card where it is not given; ``least_skim`` per side; ``steps``: diameter,
    height above the seat and whether it grips of each further diameter, ``seat_reach``: diameter to which the seat face
    reaches, None without a seat.
    """

    side: Literal["outside", "inside"]
    diameter: float
    depth: float | None = None
    chuck: str | None = None
    machine: str | None = None
    serration: str = ""
    jaws: int = 3
    style: str = ""
    material: str = ""
    least_skim: float | None = None
    steps: tuple[tuple[float, float, bool], ...] = ()
    seat_reach: float | None = None


@dataclass(frozen=True)
class Match:
    """One set that will do.

    ``cost``: put on as it was cut, skimmed at the same diameter, or cut to it; ``metal`` taken off per side; ``teeth``
    every jaw moves, towards the axis positive; ``web_after``: metal left to the bolt pockets, None is not recorded;
    ``words``: what to know about it.
    """

    standing: Standing
    cost: Cost
    metal: float
    teeth: int
    web_after: float | None
    words: tuple[str, ...]


@dataclass(frozen=True)
class Found:
    """The sets that will do, cheapest first, the blanks a new set can be made of, and the answer in words."""

    matches: tuple[Match, ...]
    blanks: tuple[BlankRecord, ...]
    words: tuple[str, ...]


def find(connection: Connection, wanted: Wanted, limit: int) -> Found:
    """The cheapest ``limit`` sets and the blanks; see ``Store.find``."""
    wanted = _with_serration(connection, wanted)
    matches = [match for match in (judge(one, wanted) for one in _nearest(connection, wanted)) if match]
    matches.sort(key=_order)
    blanks = _blanks(connection, wanted)
    return Found(tuple(matches[:limit]), blanks, _answer(matches, blanks, wanted))


def judge(stands: Standing, wanted: Wanted) -> Match | None:
    """What it takes to use a set, None where it cannot be."""
    from heldtrue.tooling.blank import SKIM_MM, WEB_LIMIT_MM

    if stands.diameter is None or stands.side != wanted.side:
        return None
    least = SKIM_MM if wanted.least_skim is None else wanted.least_skim
    fits = stands.bore_steps is None or _steps_fit(stands.bore_steps, wanted)
    # Where its steps do not fit, the set counts as bored to the widest of them all along.
    bored = stands.diameter if fits else _widest(stands.diameter, stands.bore_steps or (), wanted)
    same = fits and abs(bored - wanted.diameter) <= SAME_MM
    obstacles = _obstacles(stands, wanted) if same else ()
    if same and not obstacles:
        return Match(stands, "re-fit", 0.0, 0, stands.web_left, ("put it on as it was cut", *_cares(stands)))
    metal, teeth = (least, 0) if same else _least_metal(bored, wanted, least, _pitch(stands))
    if metal < least - 1e-9 or abs(teeth) > MOST_TEETH or (stands.tooth and stands.tooth - teeth < 1):
        return None
    web = None if stands.web_left is None else stands.web_left - metal
    if web is not None and web < WEB_LIMIT_MM - 1e-9:
        return None
    words: tuple[str, ...]
    if same:
        words = (sentence("skim it at the same diameter: {}", joined(", ", obstacles)),)
    else:
        words = (
            sentence("cut it from Ø{:g [mm]} to Ø{:g [mm]}", bored, wanted.diameter),
            *_moved(teeth),
            *_recessed(stands),
        )
    unknown = ("its web is not recorded: measure it first",) if web is None else ()
    return Match(stands, "skim" if same else "re-cut", metal, teeth, web, (*words, *unknown, *_cares(stands)))


def _least_metal(diameter: float, wanted: Wanted, least: float, pitch: float | None) -> tuple[float, int]:
    """Metal per side, and the teeth the jaws move towards the axis so that it is the least that cleans the bore."""
    out = 1.0 if wanted.side == "outside" else -1.0
    metal = out * (wanted.diameter - diameter) / 2
    if pitch is None:
        return metal, 0
    towards_metal = ceil((least - metal) / pitch - 1e-9)  # teeth that add metal: inwards for an outside grip
    return metal + towards_metal * pitch, int(out) * towards_metal


def _steps_fit(stand: Sequence[tuple[float, float]], wanted: Wanted) -> bool:
    """Do the steps of a bore do for the wanted one, both of the same diameter?"""
    if not stand and not wanted.steps:
        return True
    from heldtrue.tooling.nest import Nest, Step
    from heldtrue.tooling.old_steps import run_as_they_are

    asked = Nest.of([Step(diameter / 2, z, grips) for diameter, z, grips in wanted.steps])
    there = [(diameter / 2, z) for diameter, z in stand]
    seat = None if wanted.seat_reach is None else wanted.seat_reach / 2
    return run_as_they_are(there, asked, wanted.diameter / 2, 1.0 if wanted.side == "outside" else -1.0, seat)


def _widest(diameter: float, steps: Sequence[tuple[float, float]], wanted: Wanted) -> float:
    """The diameter that goes furthest into the metal above the seat."""
    found = [diameter, *(step for step, z in steps if z > 0)]
    return max(found) if wanted.side == "outside" else min(found)


def _recessed(stands: Standing) -> tuple[str, ...]:
    """Behind its seat there may be no metal for another one."""
    deep = [sentence("to Ø{:g [mm]}, {:g mm} deep", step, -z) for step, z in stands.bore_steps or () if z < 0]
    seat = "behind its seat it is bored {}: look whether the new seat finds metal"
    return (sentence(seat, joined(", ", deep)),) if deep else ()


def _obstacles(stands: Standing, wanted: Wanted) -> tuple[str, ...]:
    """Why a set of the right diameter does not run as it is."""
    found = []
    if wanted.chuck is None or stands.chuck != wanted.chuck:
        found.append(f"it was cut on {stands.chuck or 'a chuck that is not recorded'}")
    if wanted.machine is not None and stands.machine is not None and stands.machine != wanted.machine:
        found.append(f"it was cut on machine {stands.machine}")
    if stands.tooth is None:
        found.append("its tooth is not recorded")
    if wanted.depth is not None and (stands.depth is None or abs(stands.depth - wanted.depth) > SAME_MM):
        found.append(
            "its depth is not recorded" if stands.depth is None else sentence("its depth is {:g mm}", stands.depth)
        )
    if stands.bore_steps is None:
        found.append("its steps are not recorded: look at it")
    if stands.condition == "skim first":
        found.append("it is marked to be skimmed first")
    return tuple(found)


def _cares(stands: Standing) -> tuple[str, ...]:
    """What keeps a set from being taken off the shelf now."""
    words = []
    if stands.holder:
        words.append(f"{stands.holder} has it")
    if stands.missing:
        words.append(f"jaw {', '.join(str(number) for number in stands.missing)} is missing")
    return tuple(words)


def _moved(teeth: int) -> tuple[str, ...]:
    if teeth == 0:
        return ()
    way = "towards the axis" if teeth > 0 else "away from the axis"
    return (f"every jaw {abs(teeth)} {'tooth' if abs(teeth) == 1 else 'teeth'} {way}",)


def _pitch(stands: Standing) -> float | None:
    from heldtrue.tooling.serration import SERRATIONS

    teeth = SERRATIONS.get(stands.serration)
    return teeth.pitch if teeth else None


def _order(match: Match) -> tuple[object, ...]:
    stands = match.standing
    hindered = bool(stands.missing) * 2 + bool(stands.holder)
    unknown = match.cost != "re-fit" and match.web_after is None
    return hindered, _RANK[match.cost], unknown, round(match.metal, 6), abs(match.teeth), stands.jaw_set


def _with_serration(connection: Connection, wanted: Wanted) -> Wanted:
    if wanted.serration or wanted.chuck is None:
        return wanted
    chuck = row_by_id(connection, table_of(ChuckRecord), wanted.chuck)
    return replace(wanted, serration=chuck["serration"]) if chuck else wanted


def nearest_queries(wanted: Wanted) -> tuple[Select[tuple[object, ...]], ...]:
    """The sets cut to that diameter on that chuck; those at and below the diameter, and those above, nearest first."""
    table = STANDINGS
    base = select(table).where(
        table.c.side == wanted.side, ~table.c.retired, table.c.condition != "scrap", table.c.jaws == wanted.jaws
    )
    for name in ("serration", "style", "material"):
        value = getattr(wanted, name)
        if value:
            base = base.where(table.c[name] == value)
    limit = wanted.diameter + SAME_MM
    same = base.where(table.c.diameter.between(wanted.diameter - SAME_MM, limit), table.c.chuck == wanted.chuck)
    return (
        same.limit(NEAREST),
        base.where(table.c.diameter <= limit).order_by(table.c.diameter.desc()).limit(NEAREST),
        base.where(table.c.diameter > limit).order_by(table.c.diameter).limit(NEAREST),
    )


def _nearest(connection: Connection, wanted: Wanted) -> Iterable[Standing]:
    queries = [query for one in _spellings(connection, wanted) for query in nearest_queries(one)]
    rows = {row["jaw_set"]: row for query in queries for row in connection.execute(query).mappings()}
    return (standing_from(row) for row in rows.values())


def _spellings(connection: Connection, wanted: Wanted) -> list[Wanted]:
    """The same wanted in each spelling of its material that the records have: one index walk for each."""
    if not wanted.material:
        return [wanted]
    sought = jaw_material_name(wanted.material)
    known = distinct(connection, STANDINGS.c.material)
    return [replace(wanted, material=one) for one in known if jaw_material_name(one) == sought]


def _blanks(connection: Connection, wanted: Wanted) -> tuple[BlankRecord, ...]:
    table = table_of(BlankRecord)
    rows = connection.execute(select(table).where(~table.c.retired)).mappings()
    fitting = [
        blank for blank in (record_of(BlankRecord, row) for row in rows)
        if (not wanted.serration or blank.serration == wanted.serration)
        and (not wanted.style or blank.style == wanted.style)
        and (not wanted.material or jaw_material_name(blank.material) == jaw_material_name(wanted.material))
        and (wanted.depth is None or blank.height is None or blank.height > wanted.depth)
    ]  # fmt: skip
    return tuple(sorted(fitting, key=lambda blank: (blank.in_stock == 0, blank.height or 0.0, blank.id)))


def _answer(matches: list[Match], blanks: tuple[BlankRecord, ...], wanted: Wanted) -> tuple[str, ...]:
    if matches:
        best = matches[0]
        return (sentence("take {}: {}", best.standing.jaw_set, joined("; ", best.words)),)
    none = sentence("no set can be brought to Ø{:g [mm]}", wanted.diameter)
    stocked = [blank for blank in blanks if blank.in_stock]
    if stocked:
        place = f", {stocked[0].place}" if stocked[0].place else ""
        return (none + f": take blank {stocked[0].id} ({stocked[0].in_stock} there{place})",)
    if blanks:
        return (none + f"; blank {blanks[0].id} would do, none is there",)
    asked = ", ".join(word for word in (wanted.serration, wanted.style, wanted.material) if word)
    return (none + f", and no blank with {asked or 'such teeth'} is known",)
