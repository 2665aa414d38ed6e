"""Re-plans by itself, while the app is there: after every entry in the records, and when the date changes something."""

from __future__ import annotations

import asyncio
import logging
from time import monotonic

from heldtrue.errors import HeldtrueError
from heldtrue.web import worker
from heldtrue.web.catalogue import SLICE
from heldtrue.web.desk import Desk, checked

log = logging.getLogger("heldtrue.web")
LOOK_EVERY = 20.0
"""How often it is asked whether somebody has entered something, s."""
ANYWAY_EVERY = 3600.0
"""Grease becomes overdue and readings grow old without an entry, s."""


async def keep_replanned(desk: Desk, *, every: float = LOOK_EVERY, anyway: float = ANYWAY_EVERY) -> None:
    """Re-plan whatever has changed, for as long as the app is there.

    A slice at a time by the workers for what takes long; a state that was re-planned is not planned again, so what an
    entry does not touch costs a look.
    """
    seen, at = -1, -anyway
    while True:
        await asyncio.sleep(every)
        try:
            last = await desk.remember(desk.store.last_entry)
            if last == seen and monotonic() - at < anyway:
                continue
            left = checked(await desk.pool.run("", worker.replan_for, desk.records, SLICE))
            if not left:
                seen, at = last, monotonic()
        except HeldtrueError as error:  # busy, or the records are away for a while: it is tried again
            log.warning("re-planning: %s", error)
