"""Sentences about ways to hold: for terminal, page and JSON."""

from __future__ import annotations

from heldtrue.planning.phrases import ceiling_text, floor_text, lead_words, measure_words
from heldtrue.planning.result import PASSES
from heldtrue.planning.way_space import BLOCKED, NO_CYLINDER, NOT_YET, SHORT, TOOL_THERE, TURNED_HERE, WayToTry
from heldtrue.planning.ways import (
    AMPLE,
    BEATEN,
    CANNOT_BE,
    LEFT_OUT,
    NOT_HELD,
    NOT_ROUND,
    Drop,
    RankedWay,
)
from heldtrue.quantities import UnitSystem, bare_unit, from_core, spell_quantity

COST_WORDS = {
    "as stated": "the jaws as stated", "re-fit": "set {} as it was cut", "skim": "set {}, skimmed",
    "re-cut": "set {}, cut again", "new jaws": "jaws to be cut", "chuck of the shop": "that chuck, and jaws to be cut",
    "another chuck": "a chuck that the shop lacks",
}  # fmt: skip


def surface_words(side: str, diameter: float, units: UnitSystem) -> str:
    """A gripped surface."""
    return f"{side} Ø{spell_quantity(diameter, 'length', units)}"


def way_name(way: WayToTry, units: UnitSystem) -> str:
    """A way to hold: what is gripped, from where to where, with which jaws."""
    unit = bare_unit("length", units)
    diameter, low, high = (f"{from_core(x, 'length', unit):.5g}" for x in (way.place.diameter, *way.place.z))
    stated = " (as stated)" if way.is_stated else f", chuck {way.chuck}" if way.chuck else ""
    return f"{way.place.side} Ø{diameter}, z {low} to {high} {unit}, {way.jaws} {way.style} jaws{stated}"


def cost_words(way: RankedWay) -> str:
    """What a way costs."""
    return COST_WORDS[way.cost].format(way.jaw_set)


def share_words(share: float) -> str:
    """A margin as a share, short."""
    if share >= AMPLE:
        return "ample"
    return f"{share:.0%}" if share > -AMPLE else "far short"


def why_words(way: RankedWay, units: UnitSystem) -> str:
    """The weakest point of a way."""
    return lead_words(way.plan, units)


def what_first(way: RankedWay) -> str:
    """What to measure before anything else; empty where the way passes."""
    return "" if way.plan.verdict == PASSES else measure_words(way.plan.answer.measure_first)


def drop_name(drop: Drop, units: UnitSystem) -> str:
    """The surface that dropped ways would grip, and the chuck if it is another one of the shop."""
    surface = surface_words(drop.side, drop.diameter, units)
    return f"{surface}, chuck {drop.chuck}" if drop.chuck else surface


def drop_words(drop: Drop, units: UnitSystem, gauge: str) -> str:
    """Why ways were dropped, in one line without their number."""
    best = "" if drop.at_best is None else f"{drop.at_best.jaws} {drop.at_best.style} jaws come nearest, "
    if drop.reason == NOT_HELD:
        needs, top = floor_text(drop.need, gauge), ceiling_text(drop.limit, gauge)
        return f"no pressure is proven to hold it: {best}'{drop.what}' needs {needs}, the plates allow {top}"
    if drop.reason == NOT_ROUND:
        return (f"it cannot come off round: {best}at the least pressure that holds it '{drop.what}' is out by at least "
                f"{drop.need:.3g} times what holding may use")  # fmt: skip
    return {
        TURNED_HERE: f"it is cut in this operation ('{drop.what}')",
        TOOL_THERE: f"the tool of '{drop.what}' runs where the jaws would stand",
        NOT_YET: "the blank does not have it yet",
        NO_CYLINDER: "it is not round: a hexagon, a socket or an eccentric",
        BLOCKED: f"the jaws cannot get there: Ø{spell_quantity(drop.limit, 'length', units)} is in the way",
        SHORT: "too little of it is left to grip",
        CANNOT_BE: drop.what,
        BEATEN: "another way is better in everything, even if all went as well as it can",
        LEFT_OUT: "not worked out in full: " + ("it needs a chuck that the shop lacks" if _of_another_chuck(drop) else
                                                "others looked more promising"),
    }[drop.reason]  # fmt: skip


def _of_another_chuck(drop: Drop) -> bool:
    return drop.at_best is not None and drop.at_best.needs_chuck > 0
