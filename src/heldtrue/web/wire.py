"""Connections: no address may hold more than its share of them, and nobody may take for ever to ask."""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

MOST_OF_ONE = 300
"""Connections of one address at once: a tablet with ten pages open has some twenty."""
HEAD_WITHIN = 20.0
"""How long the head of a request may take to come in, s."""
MOST_OPEN = 4096
"""Files and connections this process asks the system for; many systems give 1024 unless asked."""

_open: dict[str, list[asyncio.Transport]] = {}


class Wire(H11Protocol):
    """A connection as the library has it, with an end for those who hold it and ask nothing."""

    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Take it, unless its address has its share."""
        address = str((transport.get_extra_info("peername") or ("",))[0])
        super().connection_made(transport)
        # Not by weak references: a transport under TLS takes none.
        for one in [one for one, kept in _open.items() if all(transport.is_closing() for transport in kept)]:
            del _open[one]
        there = [one for one in _open.get(address, ()) if not one.is_closing()]
        if len(there) >= MOST_OF_ONE:
            transport.abort()
            return
        _open[address] = [*there, transport]
        self._expect()

    def data_received(self, data: bytes) -> None:
        """What came; a head that begins must come to its end."""
        super().data_received(data)
        if self._late is None and self._is_waiting():
            self._expect()

    def connection_lost(self, exc: Exception | None) -> None:
        """It has gone."""
        if self._late is not None:
            self._late.cancel()
        super().connection_lost(exc)

    def _expect(self) -> None:
        self._late = asyncio.get_running_loop().call_later(HEAD_WITHIN, self._too_late)

    def _too_late(self) -> None:
        self._late = None
        # A socket has another protocol by now, and goes on.
        if self._is_waiting() and self.transport.get_protocol() is self:
            self.transport.abort()

    def _is_waiting(self) -> bool:
        """Is there no whole head of a request that is not answered yet?"""
        return self.cycle is None or self.cycle.response_complete


def more_files() -> None:
    """Ask the system for as many connections as it gives, where it asks to be asked."""
    try:
        import resource
    except ImportError:  # a system without such a limit
        return
    least, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = MOST_OPEN if most == resource.RLIM_INFINITY else min(MOST_OPEN, most)
    if least != resource.RLIM_INFINITY and least < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, most))
