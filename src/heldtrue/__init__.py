"""heldtrue plans how a turned part is held in a lathe chuck: so that it cannot let go, runs true, comes off round.

>>> from heldtrue import Setup, plan
>>> result = plan(Setup.from_toml("examples/wear-ring.toml"))  # doctest: +SKIP
>>> result.verdict, result.pressure.recommended  # doctest: +SKIP
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from heldtrue.planning.boring import bore, recut
    from heldtrue.planning.compare import compare
    from heldtrue.planning.jaw_contact import contact
    from heldtrue.planning.plan import plan
    from heldtrue.planning.setup import Setup
    from heldtrue.planning.ways import ways

__all__ = ["Setup", "bore", "compare", "contact", "plan", "recut", "ways"]

_HOMES = {
    "Setup": "heldtrue.planning.setup",
    "bore": "heldtrue.planning.boring",
    "compare": "heldtrue.planning.compare",
    "contact": "heldtrue.planning.jaw_contact",
    "plan": "heldtrue.planning.plan",
    "recut": "heldtrue.planning.boring",
    "ways": "heldtrue.planning.ways",
}


def load_ipython_extension(ipython: Any) -> None:
    """``%load_ext heldtrue``: a notebook shows plans, ways and contacts with their pictures."""
    from heldtrue.notebook import turn_on

    turn_on(ipython)


def __getattr__(name: str) -> Any:
    """Import on first use: the command line's help must not wait for a finite element kernel."""
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'heldtrue' has no attribute '{name}'")
