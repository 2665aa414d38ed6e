"""How often somebody may try a password."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from ipaddress import ip_address, ip_network
from time import monotonic

FREE_OF_ONE, FREE_OF_NAME, FREE_OF_ADDRESS = 5, 20, 20
"""Wrong passwords without a wait: of one name from one address, of one name, of one address."""
FIRST_WAIT, LONGEST_WAIT = 30.0, 900.0
"""The first wait and the longest [s]; each wrong password more doubles it."""
FORGOTTEN = 3600.0
"""Wrong passwords count no more after this long without another [s]."""
MOST_KEPT = 10_000
OWN_PREFIX = 64
"""Bits of an IPv6 address that its owner does not choose: addresses that share them are one."""

Key = tuple[str, str, str]
"""What is counted (both, name or address), the name, the address."""


@dataclass
class _Count:
    wrong: int = 0
    last: float = 0.0


class Attempts:
    """Counts wrong passwords by name, by address and by both. In memory: a restart forgets them."""

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self.clock = clock
        self._counts: OrderedDict[Key, _Count] = OrderedDict()

    def wait(self, name: str, address: str) -> float:
        """How long until the next try is looked at [s]; 0 for now."""
        return max(self._wait(key, free) for key, free in _keys(name, address))

    def wrong(self, name: str, address: str) -> None:
        """A password was wrong."""
        for key, _ in _keys(name, address):
            count = self._counts.pop(key, None)
            if count is None or self.clock() - count.last > FORGOTTEN:
                count = _Count()
            count.wrong, count.last = count.wrong + 1, self.clock()
            self._counts[key] = count
        while len(self._counts) > MOST_KEPT:
            self._counts.popitem(last=False)

    def right(self, name: str, address: str) -> None:
        """A password was right: this name from this address starts anew, and nothing else.

        Were the address to start anew too, somebody with a login of their own could guess at the others for ever.
        """
        (both, _), *_others = _keys(name, address)
        self._counts.pop(both, None)

    def _wait(self, key: Key, free: int) -> float:
        count = self._counts.get(key)
        if count is None or count.wrong < free or self.clock() - count.last > FORGOTTEN:
            return 0.0
        wait = min(FIRST_WAIT * 2.0 ** min(count.wrong - free, 10), LONGEST_WAIT)
        return max(count.last + wait - self.clock(), 0.0)


def _keys(name: str, address: str) -> tuple[tuple[Key, int], ...]:
    folded, place = " ".join(name.split()).casefold()[:200], _place(address)
    return (
        (("both", folded, place), FREE_OF_ONE),
        (("name", folded, ""), FREE_OF_NAME),
        (("address", "", place), FREE_OF_ADDRESS),
    )


def _place(address: str) -> str:
    """An address as one machine has it: whoever has one of IPv6 has 2^64 of them."""
    try:
        found = ip_address(address)
    except ValueError:
        return address
    if found.version == 4:
        return str(found)
    if found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(ip_network((found, OWN_PREFIX), strict=False))
