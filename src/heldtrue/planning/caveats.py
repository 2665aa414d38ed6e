"""What a whole plan rests on that nobody has looked at: with one of these it is never proven, and nothing may start."""

from __future__ import annotations

from heldtrue.planning.not_round import thinner_than_drawn
from heldtrue.planning.setup import Setup

CONTRARY, CHUCK_ASSUMED, SEAT_UNSAID = "against the records", "chuck assumed", "seat unsaid"
TWO_GRIPS, THINNER = "two grips", "thinner than drawn"
WORDS = {
    CHUCK_ASSUMED: "the plate figures of the chuck are assumed: nothing holds before its own plate is read",
    TWO_GRIPS: "the jaws grip on more than one diameter, and what each of them carries is not computed: bore all but "
    "one of them free of the part",
    THINNER: "a hexagon, socket or eccentric makes the part thinner than the section has it: it bends more than "
    "computed",
    SEAT_UNSAID: "whether there is a seat is not said: taken as none; say which",
}


def caveats_of(setup: Setup) -> tuple[str, ...]:
    """Codes of what nobody looked at, the gravest first; empty where everything of that kind is said."""
    found = [CONTRARY] if setup.contrary else []
    if setup.source("chuck.max_grip_force") == "assumed":
        found.append(CHUCK_ASSUMED)
    if setup.boring is not None and any(step.grips for step in setup.boring.steps or ()):
        found.append(TWO_GRIPS)
    if "seat" not in setup.grip.model_fields_set:
        found.append(SEAT_UNSAID)
    if thinner_than_drawn(setup.part, setup.grip.z, setup.surfaces):
        found.append(THINNER)
    return tuple(found)


def caveat_words(setup: Setup) -> tuple[str, ...]:
    """The same in words, what the records say against it first."""
    return (*(one.sentence for one in setup.contrary), *unsaid_words(setup))


def unsaid_words(setup: Setup) -> tuple[str, ...]:
    """What the setup itself leaves open, in words."""
    return tuple(WORDS[code] for code in caveats_of(setup) if code != CONTRARY)
