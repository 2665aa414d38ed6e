"""The groove that a ring needs in the jaw faces: with which blade, what it has to stand, and the job for its program.

The groove is cut first, the jaws on a piece of stock at the stroke that the ring sets later.  Without a blade in the
setup there is no program for it, and the step says what to turn. Core units.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from heldtrue.planning import boring_words
from heldtrue.planning.boring_checks import ForceCheck, Stand, judge_plunge
from heldtrue.planning.boring_cutting import FINISH_FEED
from heldtrue.planning.boring_forces import PassForce, plunge
from heldtrue.planning.boring_steps import Facts
from heldtrue.planning.hardware import say_in
from heldtrue.planning.setup import Setup
from heldtrue.program.groove import GrooveJob, GrooveTool, problems_of
from heldtrue.program.job import BoringJob, KeepOut
from heldtrue.sentences import in_both_units, sentence
from heldtrue.tooling.bore import BoreDesign
from heldtrue.tooling.ring import RingChoice

STOCK_BEHIND_MM = 2.0
"""How far the piece of stock stands behind the jaw fronts at least: common practice, no source."""
STOCK_WALL_MM = 60.0
"""How thick a piece round jaws that open into it is drawn."""


@dataclass(frozen=True)
class GrooveCut:
    """How the groove is cut: ``work`` for the program, None without a blade or where ``refusals`` say why; ``force`` of
    a plunge at its worst and its ``checks``; ``notes``."""

    work: GrooveJob | None
    force: PassForce | None = None
    checks: tuple[ForceCheck, ...] = ()
    refusals: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def groove_cut(facts: Facts, made: BoreDesign, bore: BoringJob, stand: Stand) -> GrooveCut:
    """The cut of the groove of a ring that needs one.

    ``bore``: the job of the bore, of which metal, bolts, machine and speed are taken.
    """
    setup, ring = facts.setup, facts.ring
    assert ring is not None
    assert ring.groove is not None
    stated = setup.boring.groove_tool if setup.boring else None
    if stated is None:
        return GrooveCut(None, notes=(
            "there is no program for the groove: no blade is stated (boring.groove_tool); turn it as the step says",
        ))  # fmt: skip
    tool = GrooveTool(
        stated.number, stated.name or "grooving blade", stated.width, stated.corner_radius, stated.reach,
        (stated.diameters[0], stated.diameters[1]), stated.offset,
    )  # fmt: skip
    feed = FINISH_FEED if stated.feed is None else stated.feed
    cutting = replace(bore.cutting, rough_feed=feed, finish_feed=feed, semi_allowance=0.0, spring_passes=0,
                      deburr=False)  # fmt: skip
    low, high = (diameter / 2 for diameter in ring.groove.diameters)
    things = [one for one in bore.keep_out if one.name != "ring"]
    job = replace(
        bore, grip="outside", metal=made.metal, face_off=0.0,
        finished=((low, 0.0), (low, -ring.groove.depth), (high, -ring.groove.depth), (high, 0.0)),
        tool=tool.as_bar(), cutting=cutting,
        keep_out=(*things, _stock(setup, ring, made)), comments=_comments(facts, ring), stops=_stops(setup),
        measure=(), size_at_stop="", probe=None,
    )  # fmt: skip
    work = GrooveJob(job, tool, (low, high), ring.groove.depth)
    force = plunge(stand.metal, tool.width, feed, 2 * high, cutting)
    checks = judge_plunge(stand, force)
    refusals = [sentence("the groove for the ring: {}", words) for words in problems_of(work)]
    refusals += in_both_units(lambda units: boring_words.plunge_refusals(force, checks, units), setup.units)
    notes = in_both_units(lambda units: boring_words.plunge_notes(checks, units), setup.units)
    return GrooveCut(None if refusals else work, force, checks, tuple(refusals), notes)


def _stock(setup: Setup, ring: RingChoice, made: BoreDesign) -> KeepOut:
    """The piece that the jaws hold while the groove is cut, where they reach it."""
    outline = ring.way.outline
    if setup.grip.side == "outside":
        low, high = 0.0, outline.least_radius
    else:
        low, high = outline.greatest_radius, outline.greatest_radius + STOCK_WALL_MM
    return KeepOut("the piece of stock", ((low, -made.height), (high, -made.height), (high, -STOCK_BEHIND_MM),
                                          (low, -STOCK_BEHIND_MM)))  # fmt: skip


def _comments(facts: Facts, ring: RingChoice) -> tuple[str, ...]:
    assert ring.groove is not None
    say, (low, high) = say_in(facts.setup), ring.groove.diameters
    return (
        *facts.set_up(),
        sentence("groove Ø{} to Ø{}, {} deep, z 0 on the jaw fronts", say(low), say(high), say(ring.groove.depth)),
        "the jaws hold a piece of stock, the ring comes later",
    )


def _stops(setup: Setup) -> tuple[str, ...]:
    return (
        sentence("the stock stands {} or more behind the fronts", say_in(setup)(STOCK_BEHIND_MM)),
        "check the stroke of the jaws and the gauge",
    )
