"""How the last re-plan left a setup, for the gate before its start: it may only refuse more than the judge does."""

from __future__ import annotations

from datetime import datetime

from heldtrue.planning.setup import Setup
from heldtrue.records import SetupRecord, Store
from heldtrue.records.rests import SetupInShort
from heldtrue.shop.enter import known_card
from heldtrue.shop.replanning.compare import Turned
from heldtrue.shop.replanning.settle import Moment, seen_of, settle, turned_of
from heldtrue.shop.replanning.state import content_of

LOOK = "look at it (heldtrue replan --seen, or the page Catalogue), then start"


def stopping(store: Store, setup: Setup) -> tuple[str, ...]:
    """Why a setup may not start until somebody has looked at what re-planning found of it; empty where it may.

    A setup is known by its content, whatever number it is started under.
    """
    found = (turned_now(store, id) for id in store.setups_like(content_of(setup)))
    return tuple(words_of(one) for one in found if one is not None and one.stops)


def words_of(one: Turned) -> str:
    """What turned and what to do, in one sentence."""
    said = f"setup {one.setup} was re-planned: it was '{one.was}' and now '{one.now}'"
    return f"{said}{f', {one.reason}' if one.reason else ''}; {LOOK}"


def turned_now(store: Store, id: str) -> Turned | None:
    """What the newest re-plan of a setup turned; None where nothing."""
    rows = store.replanned([id], every=True)
    return turned_of(rows[-1], rows, seen_of(store, [id]).get(id)) if rows else None


def not_looked_at(store: Store, setup: Setup, now: datetime) -> bool:
    """Has what a setup in the records rests on changed since it was re-planned, so that only a plan can say more?"""
    for id in store.setups_like(content_of(setup)):
        card, rows = known_card(store, SetupRecord, id), store.replanned([id])
        if card is None or not rows or rows[0].version != card.version:
            continue
        names = {"chuck": card.chuck or "", "machine": card.machine or "", "part": card.part or "",
                 "jaw_set": card.jaw_set or ""}  # fmt: skip
        if not settle(Moment(store, now), [SetupInShort(id, card.version, card.title, card.revision, names)]).stands:
            return True
    return False
