"""What a whole plan rests on that nobody has looked at: with one of these it is never proven, and nothing may start."""

from __future__ import annotations

from heldtrue.planning.earlier_steps import depth_fits, pairs_of, steps_fit
from heldtrue.planning.not_round import thinner_than_drawn
from heldtrue.planning.ranges import SAME_BORE_MM
from heldtrue.planning.setup import Setup
from heldtrue.tooling.old_steps import UNKNOWN

CONTRARY, CHUCK_ASSUMED, SEAT_UNSAID = "against the records", "chuck assumed", "seat unsaid"
STEPS_UNSAID, OTHER_STEPS, OTHER_DEPTH = "steps of the last cut unsaid", "other steps", "other depth"
TWO_GRIPS, THINNER = "two grips", "thinner than drawn"
WORDS = {
    CHUCK_ASSUMED: "the plate figures of the chuck are assumed: nothing holds before its own plate is read",
    TWO_GRIPS: "the jaws grip on more than one diameter, and what each of them carries is not computed: bore all but "
    "one of them free of the part",
    THINNER: "a hexagon, socket or eccentric makes the part thinner than the section has it: it bends more than "
    "computed",
    STEPS_UNSAID: f"{UNKNOWN}: where they had, the part hangs on less than computed; look at them, and say which "
    "(jaws.last_cut.steps)",
    OTHER_STEPS: "the jaws were last cut with other steps than this bore has: cut them for this job",
    OTHER_DEPTH: "the jaws were last cut to another depth than this plan counts on: cut them for this job",
    SEAT_UNSAID: "whether there is a seat is not said: taken as none; say which",
}


def caveats_of(setup: Setup) -> tuple[str, ...]:
    """Codes of what nobody looked at, the gravest first; empty where everything of that kind is said."""
    found = [CONTRARY] if setup.contrary else []
    if setup.source("chuck.max_grip_force") == "assumed":
        found.append(CHUCK_ASSUMED)
    if setup.boring is not None and any(step.grips for step in setup.boring.steps or ()):
        found.append(TWO_GRIPS)
    found += _of_last_cut(setup)
    if "seat" not in setup.grip.model_fields_set:
        found.append(SEAT_UNSAID)
    if thinner_than_drawn(setup.part, setup.grip.z, setup.surfaces):
        found.append(THINNER)
    return tuple(found)


def _of_last_cut(setup: Setup) -> list[str]:
    """Of jaws that are to run as they were last cut, for no other bore: had that cut its steps and its depth?"""
    last, stated = setup.jaws.last_cut, setup.jaws.bore_diameter
    bore = setup.grip.diameter + sum(setup.grip.diameter_tolerance) / 2 if stated is None else stated
    if last is None or abs(last.diameter - bore) > SAME_BORE_MM:
        return []
    steps = pairs_of(last.steps)
    deep = [] if depth_fits(setup, last.depth) else [OTHER_DEPTH]
    if steps is None:
        return [STEPS_UNSAID, *deep]
    return deep if steps_fit(setup, steps) else [OTHER_STEPS, *deep]


def caveat_words(setup: Setup) -> tuple[str, ...]:
    """The same in words, what the records say against it first."""
    return (*(one.sentence for one in setup.contrary), *unsaid_words(setup))


def unsaid_words(setup: Setup) -> tuple[str, ...]:
    """What the setup itself leaves open, in words."""
    return tuple(WORDS[code] for code in caveats_of(setup) if code != CONTRARY)
