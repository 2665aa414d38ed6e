"""What the records say, as JSON documents: the commands print them with ``--json``, the API answers with them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from datetime import datetime
from math import isfinite
from typing import TYPE_CHECKING, Any

from heldtrue.records import (
    ChuckRecord,
    JawSet,
    RunRecord,
    SetupRecord,
    StartDecision,
    Store,
    remembered,
    since_last_run,
)
from heldtrue.records.things import Thing
from heldtrue.shop.chuck_log import chuck_state
from heldtrue.shop.enter import card_of
from heldtrue.shop.stock import in_stock

if TYPE_CHECKING:  # what they rest on takes long to load, and a list needs none of it
    from heldtrue.shop.gate import Start
    from heldtrue.shop.moving import Moved


def text_of(value: Any) -> str:
    """Records, or what is made of them, as JSON text."""
    return json.dumps(_plain(value), indent=2, ensure_ascii=False)


def sets_text(store: Store, retired: bool) -> str:
    """Every jaw set and how it stands."""
    return text_of([store.standing(card.id) for card in store.all(JawSet, retired=retired)])


def set_text(store: Store, jaw_set: str) -> str:
    """One jaw set: how it stands, and everything that happened to it."""
    return text_of(store.history(jaw_set))


def recalled_text(store: Store, what: str, now: datetime, southern: bool) -> str:
    """Jaw sets by what somebody remembers of them."""
    return text_of(store.search(remembered(what, now, southern=southern)))


def chucks_text(store: Store, now: datetime) -> str:
    """Every chuck and what its log says."""
    return text_of([chuck_state(store, card, now) for card in store.all(ChuckRecord)])


def chuck_text(store: Store, chuck: str, now: datetime) -> str:
    """One chuck and what its log says."""
    return text_of(chuck_state(store, card_of(store, ChuckRecord, chuck, "chuck"), now))


def setups_text(store: Store) -> str:
    """Every setup, with its last run and its last re-plan."""
    replanned = {one.setup: {"verdict": one.verdict, "at": one.last_at} for one in store.replanned()}
    return text_of([
        {"id": card.id, "title": card.title, "part": card.part, "revision": card.revision, "version": card.version,
         "last_run": store.last_run(card.id), "replanned": replanned.get(card.id)} for card in store.all(SetupRecord)
    ])  # fmt: skip


def setup_text(store: Store, id: str) -> str:
    """Every run and every start of a setup, and what has changed since the last run."""
    card = card_of(store, SetupRecord, id, "setup")
    return text_of({
        "setup": card.id, "version": card.version, "runs": store.events(RunRecord, setup=card.id),
        "starts": store.events(StartDecision, setup=card.id),
        "changes": [one.words for one in since_last_run(store, card.id)],
    })  # fmt: skip


def stock_text(store: Store) -> str:
    """Every machine, blank, ring and tool."""
    return cards_text(in_stock(store))


def cards_text(cards: Sequence[Thing]) -> str:
    """Some of what lies in stock."""
    return text_of([{"kind": type(one).__name__.removesuffix("Record").lower(), **_plain(one)} for one in cards])


def start_text(made: Start) -> str:
    """What the gate decided."""
    decision = made.decision
    return text_of({
        "may_start": decision.may, "overridden": made.overridden, "words": decision.words,
        "reasons": decision.reasons, "warnings": decision.warnings, "step": decision.step.name,
        "loads": decision.loads, "changes": [one.words for one in made.changes],
        "from_the_log": made.from_log, "recorded": made.row.id, "cautions": decision.cautions,
    })  # fmt: skip


def moved_text(made: Moved) -> str:
    """The same setup on another machine."""
    return text_of({
        "blocked": made.blocked, "draw_force": made.draw_force, "why": made.why,
        "pressure_here": made.pressure_here, "pressure_there": made.pressure_there,
        "differences": made.differences, "verdict": made.plan.verdict if made.plan else None,
    })  # fmt: skip


def _plain(value: Any) -> Any:
    """A record as plain values."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if isinstance(value, dict):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, bytes):
        return f"{len(value)} bytes"
    return None if isinstance(value, float) and not isfinite(value) else value
