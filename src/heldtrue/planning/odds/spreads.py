"""The spread of every input: which kind, what changes from part to part, and why.

The worst case needs ends alone; a probability needs more, and much of that is a choice.  Each choice stands here with
its reason, is shown by ``heldtrue assumptions`` and can be changed in the setup file.
"""

from __future__ import annotations

from math import inf

from heldtrue.errors import InputError
from heldtrue.mechanics.cutting import INTERRUPTED
from heldtrue.planning.entries import SpreadKind
from heldtrue.planning.inputs import Job
from heldtrue.planning.known import Known
from heldtrue.planning.odds.spread import Scope, Spread

ENDS_ONLY = "only its ends are known"
THREE_VALUES = "ends and a likely value are known"
KINDS: dict[str, tuple[SpreadKind, str]] = {
    "cutting data": ("lognormal", "many causes multiply; 95 % of tables lie between the ends"),
    "jaw base": ("loguniform", "seen from a third to eight times: no share of it is likelier than another"),
    "wear": ("uniform", "an edge wears evenly from its first part to its last"),
    "off centre": ("uniform", ENDS_ONLY),
    "part roundness": ("uniform", ENDS_ONLY),
}
"""Inputs whose kind does not follow from what is known of them."""
OF_A_PART = ("part size", "part roundness", "part mass", "off centre", "wear")
"""What changes from part to part; all else stays for one setup: friction is common to all jaws, grease to a shift."""
UNDECIDED = ("seat", "height share", "least pressure", "yield")
"""A yes or no, a rule, or what other inputs say: no spread; a yes or no stays at its worse answer."""
MEASURED_GRIP = "readings of a grip gauge: the ends hold 95 % of what they leave"


def spreads_of(job: Job) -> dict[str, Spread]:
    """The spread of every input of a job that has one, by name, in the order of the inputs."""
    return {name: spread_of(known, job) for name, known in job.known.items() if name not in UNDECIDED}


def spread_of(known: Known, job: Job) -> Spread:
    """The spread of one input."""
    scope: Scope = "part" if known.name in OF_A_PART else "setup"
    low, likely, high = known.low, known.likely, known.high
    chosen = job.assumptions.get(known.key)
    if chosen is not None and chosen.spread is not None:
        return _stated(chosen.spread, known, scope, chosen.reason)
    if known.name == "interruption":
        # Whether a cut is interrupted is a yes or no: taken as yes where nobody said.
        low = min(max(low, INTERRUPTED.least), high)
        return Spread("uniform", low, (low + high) / 2, high, scope, ENDS_ONLY)
    if known.name == "grip share" and known.source == "measured":
        return Spread("normal", low, likely, high, scope, MEASURED_GRIP, (0.0, inf))
    if known.name in KINDS:
        kind, reason = KINDS[known.name]
        return Spread(kind, low, (low + high) / 2 if kind == "uniform" else likely, high, scope, reason)
    if known.middle is None or not low < known.middle < high:
        return Spread("uniform", low, (low + high) / 2, high, scope, ENDS_ONLY)
    return Spread("triangular", low, likely, high, scope, THREE_VALUES)


def _stated(kind: SpreadKind, known: Known, scope: Scope, reason: str) -> Spread:
    """A spread that the setup states.  Raises: ``InputError`` naming the key, where its ends do not fit."""
    likely = (known.low + known.high) / 2 if kind == "uniform" else known.likely
    try:
        return Spread(kind, known.low, min(max(likely, known.low), known.high), known.high, scope, reason)
    except InputError as error:
        raise InputError(*(f"assumptions: {known.key}: spread: {problem}" for problem in error.problems)) from None
