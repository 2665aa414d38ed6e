"""Cutting a used set again: the least skim that cleans it, what is left after it, and when no cut is needed at all.

Lengths in mm; skims are per side.
"""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.sentences import sentence
from heldtrue.tooling.blank import SKIM_MM, Say, in_mm
from heldtrue.tooling.old_steps import UNKNOWN
from heldtrue.tooling.placing import Way

SEAT_SKIM_MM = 0.25
"""Skim of a used seat: common practice, no source."""
TOO_MUCH_MM = 0.15
"""A skim this much over the least one is worth setting the jaws anew for: common practice, no source."""
REFIT_RUNOUT_MM = (0.02, 0.05)
"""Run-out of a set taken off and put back as it was, clean: common practice, no source."""
SAME_MM = 0.02
"""Diameters this near are the same."""
OTHER_STEPS = "cut with other steps than this bore has"


@dataclass(frozen=True)
class Skim:
    """What one cut takes off a used set.

    ``per_side``: what the diameter found leaves to cut; ``least``: what cleans the bore, run-out found included;
    ``seat``: off the seat; ``cleans``: is the first as much as the second; ``spare``: metal cut that need not be;
    ``web`` and ``cuts_left`` after it; ``words``.
    """

    per_side: float
    least: float
    seat: float
    cleans: bool
    spare: float
    web: float | None
    cuts_left: int | None
    words: tuple[str, ...]


def skim(
    side: str, measured: float, target: float, way: Way | None, *, least: float = SKIM_MM, seat: float = SEAT_SKIM_MM,
    runout: float = 0.0, uneven: float = 0.0, tooth_step: float | None = None, say: Say = in_mm,
) -> Skim:  # fmt: skip
    """The skim from the diameter found to the diameter wanted.

    ``measured`` and ``target`` are diameters, the first where the tool touches the turning jaws first, with the jaws on
    the ring; ``runout``: of the used bore there, and ``uneven``: how much further it reaches where the jaws stand off
    the place they were cut at; the least skim must clean both; ``tooth_step``: what one tooth changes on diameter.
    """
    out = 1.0 if side == "outside" else -1.0
    per_side = out * (target - measured) / 2
    least = least + runout / 2 + uneven
    cleans = per_side >= least - 1e-9
    spare = max(per_side - least, 0.0)
    small, large = ("smaller", "larger") if out > 0 else ("larger", "smaller")
    words = []
    if not cleans:
        short = 2 * (least - per_side)
        tooth = ""
        if tooth_step is not None:
            way_in = "in" if out > 0 else "out"
            tooth = sentence(", or move every jaw one tooth {}: {} on diameter", way_in, say(tooth_step))
        found = (
            sentence("leaves {} per side", say(per_side))
            if per_side >= 0.0
            else sentence("is cut past Ø{} already, by {} per side", say(target), say(-per_side))
        )
        words.append(
            sentence(
                "it will not clean up: Ø{} {}, {} is needed; set the jaws {} {} on diameter with another ring{}",
                say(measured),
                found,
                say(least),
                say(short),
                small,
                tooth,
            )
        )
    elif spare > TOO_MUCH_MM:
        words.append(
            sentence(
                "it takes {} per side more than needed: set the jaws {} {} on diameter with another ring and "
                "that much of the set is saved",
                say(spare),
                say(2 * spare),
                large,
            )
        )
    else:
        words.append(sentence("skim {} per side; {} is the least that cleans it", say(per_side), say(least)))
    words.append(sentence("skim {} off the seat", say(seat)))
    if way is not None and way.web is not None:
        words.append(
            sentence(
                "after it {} of web is left to the bolt pockets, enough for {} more cuts", say(way.web), way.cuts_words
            )
        )
    web, cuts = (None, None) if way is None else (way.web, way.cuts_left)
    return Skim(per_side, least, seat, cleans, spare, web, cuts, tuple(words))


@dataclass(frozen=True)
class Standing:
    """How a set stands or stood; an empty text or None is not known.

    ``steps``: do those of its bore do for what is wanted; None: nobody knows them.
    """

    chuck: str
    machine: str
    tooth: int | None
    in_order: bool | None
    diameter: float | None
    steps: bool | None = True


def changed(recorded: Standing, now: Standing, say: Say = in_mm) -> tuple[str, ...]:
    """What differs from the record, or is not known, in words; nothing means the set stands as it was cut."""
    found = []
    for what, before, after in (
        ("chuck", recorded.chuck, now.chuck),
        ("machine", recorded.machine, now.machine),
        ("tooth", recorded.tooth, now.tooth),
    ):
        if not before or not after:
            found.append(f"the {what} is not {'recorded' if not before else 'given'}")
        elif before != after:
            found.append(f"cut on {what} {before}, now {after}")
    if now.in_order is None:
        found.append("it is not said whether every jaw stands on the master jaw of its number")
    elif not now.in_order:
        found.append("the jaws do not stand on the master jaws of their numbers")
    if recorded.diameter is not None and now.diameter is not None and abs(recorded.diameter - now.diameter) > SAME_MM:
        found.append(sentence("cut to Ø{}, wanted Ø{}", say(recorded.diameter), say(now.diameter)))
    if recorded.steps is None:
        found.append(UNKNOWN)
    elif not recorded.steps:
        found.append(OTHER_STEPS)
    return tuple(found)


def refit_words(allowed: float | None, say: Say = in_mm, found: float | None = None) -> tuple[bool, str]:
    """Whether a set put back as recorded may run without a cut, and the check to make.

    ``allowed``: run-out the holding may use of the drawing's, None where the drawing asks for none; ``found``: run-out
    read on it [mm], None where nobody read it: then what a refit repeats decides, at its worst.
    """
    low, high = REFIT_RUNOUT_MM
    expect = sentence("expect {} to {} of run-out (common practice, no source)", say(low), say(high))
    most = high if allowed is None else allowed
    asked = "a refit repeats to" if allowed is None else "the holding may use of the drawing's run-out"
    if found is not None and found > most:
        return False, sentence(
            "re-cut: {} of run-out was found, more than the {} that {}", say(found), say(most), asked
        )
    if found is not None:
        return True, sentence("no re-cut: {} of run-out was found, within the {} that {}", say(found), say(most), asked)
    if allowed is None:
        return True, sentence(
            "no re-cut: the set stands as recorded; {}; check it at two places before the first part", expect
        )
    if allowed < high:
        return False, (
            sentence(
                "re-cut: the holding may use {} of the drawing's run-out, and a refit may not repeat to "
                "that; {}; or clamp a true piece, read it at two places and state the run-out found",
                say(allowed),
                expect,
            )
        )
    return True, (
        sentence(
            "no re-cut: the set stands as recorded; {}; clamp a true piece and check at two places that it "
            "is {} or less",
            expect,
            say(allowed),
        )
    )
