"""A search for ways in a worker, one step a question: the page shows what is there after each."""

from __future__ import annotations

import pickle
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Any

from heldtrue.planning.setup import Setup
from heldtrue.web.trouble import Trouble, told

if TYPE_CHECKING:
    from heldtrue.planning.ways import RankedWay, Search

MOST_PICTURES = 6
"""Ways that are shown with their section, the best: each takes a tenth of a second to draw."""


@dataclass(frozen=True)
class WayRow:
    """One way that was planned in full.

    ``hold``, ``form``: margins as shares; ``spans``: floor and ceiling of every pressure step [MPa]; ``changes``: what
    taking it over sets in the setup; ``section``: its picture, if any.
    """

    name: str
    verdict: str
    why: str
    first: str
    needs: str
    cost: str
    hold: float
    form: float
    hold_words: str
    form_words: str
    window: str
    spans: tuple[tuple[float, float], ...]
    changes: tuple[tuple[str, Any], ...]
    section: str


@dataclass(frozen=True)
class WaysStep:
    """What is known after a step.

    ``dropped``: (how many, surface, why); ``others``: ways that are not jaws alone, in lines; ``doing``: what comes
    next, empty at the end; ``search``: to be handed back for the next step.
    """

    best: tuple[WayRow, ...]
    beaten: tuple[WayRow, ...]
    dropped: tuple[tuple[str, str, str], ...]
    others: tuple[tuple[str, ...], ...]
    looked_at: int
    planned: int
    doing: str
    search: bytes


@told
def ways_step(records: str, stated: Setup, search: bytes, now: datetime) -> WaysStep | Trouble:
    """The next step of a search for a setup as it is stated; ``search``: as the step before left it, empty for a new
    one."""
    from heldtrue.planning.ways import MOST_PLANNED, Search, cost_of
    from heldtrue.records import open_store
    from heldtrue.shop.from_records import with_records
    from heldtrue.shop.other_chucks import on_other_chucks
    from heldtrue.shop.way_costs import costs_on

    with open_store(records) as store:
        if search:
            found: Search = pickle.loads(search)  # made here before, and it never leaves the server
        else:
            setup, chucks = with_records(stated, store, now)[0], on_other_chucks(stated, store, now)
            found = Search(setup, most=MOST_PLANNED, chucks=chucks)
            found.begin()
        found.cost = costs_on(store)
        ask = found.next_ask()
        if ask is not None:
            found.take([ask.work(one) for one in ask.items])
    found.cost = cost_of
    more = found.next_ask()
    return _shown(found, "" if more is None else found.doing)


def _shown(found: Search, doing: str) -> WaysStep:
    from heldtrue.planning.other_holding_words import other_words
    from heldtrue.planning.way_words import drop_name, drop_words
    from heldtrue.planning.window import gauge_unit_of

    setup, answer = found.setup, found.answer()
    row = partial(_row, setup)
    dropped = tuple((str(one.count), drop_name(one, setup.units),
                     drop_words(one, setup.units, gauge_unit_of(setup))) for one in answer.dropped)  # fmt: skip
    best = tuple(row(way, pictured=number < MOST_PICTURES) for number, way in enumerate(answer.best))
    others = tuple(other_words(way, setup.units) for way in answer.others)
    return WaysStep(best, tuple(row(way, pictured=False) for way in answer.beaten), dropped, others, answer.looked_at,
                    answer.planned, doing, pickle.dumps(found))  # fmt: skip


def _row(setup: Setup, way: RankedWay, *, pictured: bool) -> WayRow:
    from heldtrue.drawing.section import draw_section
    from heldtrue.planning import way_words as words
    from heldtrue.planning.phrases import needs_words, step_windows
    from heldtrue.web.results import changes_to

    units = setup.units
    spans = tuple((step.floor, step.ceiling) for step in way.plan.pressure.steps if step.recommended is not None)
    return WayRow(
        words.way_name(way.candidate, units), way.plan.verdict, words.why_words(way, units), words.what_first(way),
        needs_words(way.candidate), words.cost_words(way), way.hold, way.form, words.share_words(way.hold),
        words.share_words(way.form), step_windows(way.plan), spans, changes_to(way.setup, setup),
        draw_section(way.plan, units) if pictured else "",
    )  # fmt: skip
