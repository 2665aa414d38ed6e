"""Ids of what happened: made where it is entered, in order of time, so that a repeated write is seen to be one."""

from __future__ import annotations

import secrets
import time
from threading import Lock

_RANDOM_BITS = 40
_lock = Lock()
_last = 0


def new_id() -> str:
    """An id nobody else makes: 22 hexadecimal digits, milliseconds first; later ones of this program sort later."""
    global _last  # noqa: PLW0603  the one thing two calls must share
    made = time.time_ns() // 1_000_000 << _RANDOM_BITS | secrets.randbits(_RANDOM_BITS)
    with _lock:
        if made >> _RANDOM_BITS <= _last >> _RANDOM_BITS:  # same millisecond, or the clock was set back
            made = _last + 1
        _last = made
    return f"{made:022x}"
