"""A setup with all that the records know of its chuck and its jaws: every plan and every start rests on it."""

from __future__ import annotations

from datetime import datetime

from heldtrue.planning.setup import Setup
from heldtrue.records import Store
from heldtrue.shop.against_records import against
from heldtrue.shop.chuck_log import with_chuck_log
from heldtrue.shop.friction_log import with_friction
from heldtrue.shop.learned import with_learned_base
from heldtrue.shop.learned_force import with_learned_force
from heldtrue.shop.shelf import with_standing


def with_records(setup: Setup, store: Store, now: datetime, by: str = "") -> tuple[Setup, tuple[str, ...]]:
    """The setup with grip log and grease of its chuck, cut and base of its jaws, friction and cutting force as read.

    What the records say against it goes with it: no plan of it is proven, nothing starts; ``by``: who stands there.
    Also in words what was taken in; what the setup states itself is left alone.
    """
    contrary = against(setup, store, now, by)
    setup, of_chuck = with_chuck_log(setup, store, now)
    setup, of_jaws = with_standing(setup, store)
    setup, of_base = with_learned_base(setup, store)
    setup, of_friction = with_friction(setup, store, now)
    setup, of_force = with_learned_force(setup, store)
    return setup.told(contrary), (*of_chuck, *of_jaws, *of_base, *of_friction, *of_force)
