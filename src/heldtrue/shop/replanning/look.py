"""One setup planned in full with all that the records know of it: the work of one worker."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from functools import lru_cache
from math import isfinite
from threading import Lock
from time import monotonic, sleep
from typing import Any

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.planning.answer import gravity
from heldtrue.planning.caveats import caveat_words
from heldtrue.planning.kept_limits import limits_of, rounded
from heldtrue.planning.phrases import check_words, window_words
from heldtrue.planning.plan import judged
from heldtrue.planning.result import PASSES, Check, PressureAdvice
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.window import every_step, gauge_unit_of
from heldtrue.quantities import to_core
from heldtrue.records import RecordsError, Replanned, SetupRecord, Store, open_plan, open_setup, open_store
from heldtrue.records.errors import DamagedError
from heldtrue.records.replans import FAILED
from heldtrue.records.rests import SetupInShort
from heldtrue.shop.from_records import with_records
from heldtrue.shop.replanning.state import State, States, content_of, key_of, names_of, program

_ONE_AT_A_TIME = Lock()
"""The mesher takes one thread of a process; a worker of a cluster may have more."""
AWAY_S = 60.0
"""Records on a server may be away for so long in the middle of a re-plan, s."""
TRIES = 3
"""How often a setup is read again whose records somebody changed meanwhile."""


def look_from(where: str, id: str, at: datetime | None, code: str) -> Replanned:
    """``look`` in a process of its own, which opens the records at ``where`` once.

    Raises: ``InputError`` where this process runs another program than the one that asks (``code``); ``RecordsError``.
    """
    if code != program():
        from platform import node

        raise InputError(f"the worker on {node()} runs another heldtrue or other libraries than this program: "
                         "install the same on both")  # fmt: skip
    with _ONE_AT_A_TIME:
        return look(_opened(where), id, at)


@lru_cache(maxsize=1)
def _opened(where: str) -> Store:
    """The records that the program that asks has open: where their server is away, it will be back."""
    give_up = monotonic() + (AWAY_S if "://" in str(where) else 0.0)
    while True:
        try:
            return open_store(where, create=False, patience=AWAY_S)
        except RecordsError:
            if monotonic() > give_up:
                raise
            sleep(1.0)


def look(store: Store, id: str, at: datetime | None = None) -> Replanned:
    """What a plan of a setup says now, or the plan that was made of exactly the same before.

    ``at``: the moment it is planned for, now if left out.  A setup that cannot be planned is an outcome too, with the
    reason, and so is one whose records are damaged.  Raises: ``RecordsError`` where the records are away;
    ``InputError`` where the setup is not there.
    """
    for _ in range(TRIES):
        now = at or datetime.now(UTC)
        card = store.get(SetupRecord, id)
        names = {"chuck": card.chuck or "", "machine": card.machine or "", "part": card.part or "",
                 "jaw_set": card.jaw_set or ""}  # fmt: skip
        short = SetupInShort(card.id, card.version, card.title, card.revision, names)
        made = Replanned(setup=card.id, state="", rest="", version=card.version, content="", verdict=FAILED,
                         first_at=now, last_at=now)  # fmt: skip
        state = States(store, now).of([short])[id]
        try:
            setup = open_setup(card.document)
            names = names_of(setup)
            short = short._replace(names=names)
            state = States(store, now).of([short])[id]
            made = replace(made, content=content_of(setup), planned=_planned(card, setup))
            made = _planned_now(store, setup, made, now)
        except DamagedError as error:
            made = _failed(made, error)
        except RecordsError:
            raise  # says nothing of this setup, and would be kept as if it did
        except HeldtrueError as error:
            made = _failed(made, error)
        # What was read must be of one state, or it would be kept under another.
        if States(store, now).of([short])[id] == state:
            break
    return _in(made, state, names)


def _failed(made: Replanned, error: HeldtrueError) -> Replanned:
    """All that is wrong in one line: a list of setups has a line for each."""
    return replace(made, verdict=FAILED, reason="; ".join(str(error).splitlines()))


def _in(made: Replanned, state: State, names: dict[str, str]) -> Replanned:
    return replace(made, state=state.whole, rest=state.rest, names=names)


def _planned_now(store: Store, setup: Setup, made: Replanned, now: datetime) -> Replanned:
    told, _ = with_records(setup, store, now)
    key = key_of(told, setup.chuck)
    same = store.replanned_like(key)
    if same is not None:
        return replace(made, key=key, verdict=same.verdict, reason=same.reason, steps=same.steps, limits=same.limits)
    study = Study.of(told)
    advice, setting, checks, verdict = judged(study)
    pressures = {step.name: pressure for step, pressure in setting.steps}
    steps = {step.name: {"pressure": _known(pressures.get(step.name)), "floor": _known(step.floor),
                         "floor_by": step.floor_by, "ceiling": _known(step.ceiling), "ceiling_by": step.ceiling_by}
             for step in every_step(study, advice)}  # fmt: skip
    passes = verdict == PASSES
    limits = limits_of(study, setting, setup.chuck) if passes else None
    return replace(
        made,
        key=key,
        verdict=verdict,
        reason="" if passes else _why(told, advice, checks),
        steps=steps,
        limits=limits or "",
    )


def _why(setup: Setup, advice: PressureAdvice, checks: tuple[Check, ...]) -> str:
    """Why a plan does not pass, in one sentence."""
    unit = gauge_unit_of(setup)
    first = min(checks, key=gravity)
    if first.state != PASSES:
        return check_words(first, setup.units, unit)
    if not advice.has_window:
        return window_words(advice, unit)
    return next(iter(caveat_words(setup)), "")


def _known(value: float | None) -> float | None:
    return float(rounded(value)) if value is not None and isfinite(value) else None


def _planned(card: SetupRecord, setup: Setup) -> dict[str, Any]:
    """Verdict and pressures of the plan that is kept with a setup; empty without one, or where it cannot be read."""
    if not card.plan:
        return {}
    try:
        content = open_plan(card.plan)
        advice = content.get("pressure") or {}
        unit = str(advice.get("unit") or "bar")
        pressures = {str(step["name"]): to_core(float(step["recommended"]), "pressure", unit)
                     for step in advice.get("steps", []) if step.get("recommended") is not None}  # fmt: skip
        stated = setup.stated_pressure is not None  # then no pressure was recommended to anybody
        return {"verdict": str(content["verdict"]), "pressures": {} if stated else pressures}
    except (HeldtrueError, KeyError, TypeError, ValueError):
        return {}
