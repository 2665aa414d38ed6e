"""Why a finished part is tapered, beside the plan of its setup, and what to do.  Units: mm, N, MPa, rad."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import degrees

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import Estimate
from heldtrue.inspection.part_sizes import Finished
from heldtrue.inspection.part_taper import PartSize, TaperSplit, split_taper
from heldtrue.planning.bored_jaws import as_bored
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.planning.setup import Setup, Surface
from heldtrue.planning.study import Study
from heldtrue.planning.window import advise_pressure, gauge_unit_of
from heldtrue.quantities import format_quantity
from heldtrue.sentences import sentence
from heldtrue.shop.against_plan import surface_of
from heldtrue.shop.jaw_base import OnBase
from heldtrue.shop.jaw_lean import Lean, PartShare
from heldtrue.shop.learned_repeat import Repeat

SHARP_MM = 0.02
"""A share of the jaws less sure than that on diameter says nothing of how the jaws lean."""
WORTH_MM = 0.001
"""Less on diameter is not worth another bore or pressure: no micrometer sees it."""
SAME_PRESSURE = 0.05
"""Jaws bored within this share of the running pressure are bored at it."""


@dataclass(frozen=True)
class Parts:
    """What was read of finished parts: on which ``surface``, '' for the only one; ``over``: from front to back [mm],
    None for its whole length; ``repeat``: what is known of the micrometer."""

    rows: tuple[Finished, ...]
    surface: str = ""
    over: float | None = None
    repeat: Repeat | None = None


@dataclass(frozen=True)
class PartCause:
    """The taper of a part, split, and what to do about it.

    ``pressure``: gauge pressure that ``split`` is told for [MPa]; ``by_model``: what the contact model lets the jaws
    leave over the same distance; ``by_cut``: what the force of the finishing cut may leave, at the most; ``program``:
    front larger by that much on diameter in the program, None where it would not help; ``lower``: the least pressure of
    the plan [MPa] and the taper left at it, ``rebored``: taper left by the model with the jaws as they are and bored at
    the running pressure, None where it would not help [mm].
    """

    surface: Surface
    split: TaperSplit
    pressure: float
    by_model: Estimate
    by_cut: float
    program: float | None
    lower: tuple[float, float] | None
    rebored: tuple[float, float] | None
    words: tuple[str, ...]


def sizes_of(study: Study, parts: Parts, pressure: float) -> tuple[Surface, float, tuple[PartSize, ...]]:
    """The surface that was read, the distance from front to back [mm], and the sizes with the grip of each.

    ``pressure``: of the finish [MPa].  Raises: ``InputError`` for a surface that is not there or has no diameter.
    """
    surface = surface_of(study.job.setup, parts.surface or None)
    if surface.side == "face":
        raise InputError(f"surface: {surface.name} is a face; a taper is read on an outside or inside diameter")
    length = abs(surface.z[1] - surface.z[0])
    over = length if parts.over is None else parts.over
    if not 0.0 < over <= length:
        raise InputError(f"distance between front and back: found {over:g} mm; {surface.name} is {length:g} mm long")
    sizes = []
    for number, one in enumerate(parts.rows, 1):
        at = pressure if one.pressure is None else one.pressure
        if abs(one.front - (surface.diameter or one.front)) > max(1.0, 0.05 * (surface.diameter or 0.0)):
            raise InputError(f"part {number}: found Ø{one.front:g} mm; {surface.name} is Ø{surface.diameter:g} mm")
        most = study.job.setup.chuck.plate_pressure
        if most is not None and at > most:
            found, plate = (format_quantity(one, "pressure", study.job.setup.units) for one in (at, most))
            raise InputError(f"part {number}: found {found}; chuck and cylinder take {plate} by their plates")
        grip = study.finishing_grip(at)
        sizes.append(PartSize(one.front, one.back, grip, one.state))
    return surface, over, tuple(sizes)


def share_of(study: Study, split: TaperSplit, surface: Surface, force: float) -> PartShare | None:
    """What the split says of the jaws' own share under ``force`` of one jaw [N], over the whole surface; None where it
    says nothing."""
    if not split.parted or split.jaws.uncertainty > SHARP_MM:
        return None
    scale = abs(surface.z[1] - surface.z[0]) / split.over * (force * study.job.jaws / split.grip) ** split.power
    return PartShare(study.job.setup.surfaces.index(surface), split.jaws.scaled(scale))


def part_cause(
    study: Study, model: OnBase, lean: Lean, parts: Parts, surface: Surface, split: TaperSplit, pressure: float,
    taper: float,
) -> PartCause:  # fmt: skip
    """What the split taper of ``surface`` means; ``lean``: of the jaws, which have ``taper`` per side [mm] and run at
    ``pressure``."""
    setup = study.job.setup
    index, scale = setup.surfaces.index(surface), split.over / abs(surface.z[1] - surface.z[0])
    machine = split.told in ("machine", "both")
    by_cut = study.cut_deflections.get(surface.name, (0.0, 0.0))[1] * scale if machine else 0.0
    told_of = [one for one in parts.rows if one.state == "free"] or list(parts.rows)
    read_at = max(pressure if one.pressure is None else one.pressure for one in told_of)
    jaws = split.told in ("jaws", "both")
    program = split.machine.value if machine else None
    lower = _lower(study, split, read_at) if jaws else None
    rebored = _rebored(study, model, lean, index, scale, taper, pressure) if jaws else None
    by_model = lean.by_jaws[index].scaled(scale)
    made = PartCause(surface, split, read_at, by_model, by_cut, program, lower, rebored, ())
    rests = () if parts.repeat is None else (sentence("this rests on the {}", parts.repeat.words),)
    return replace(made, words=(*_words(made, setup), *rests))


def split_of(study: Study, parts: Parts, pressure: float) -> tuple[Surface, TaperSplit]:
    """The taper split between jaws and machine, at the pressure of the finish [MPa] where none was said."""
    surface, over, sizes = sizes_of(study, parts, pressure)
    known = parts.repeat
    return surface, split_taper(sizes, over, None if known is None else (known.scatter, known.factor))


def _lower(study: Study, split: TaperSplit, pressure: float) -> tuple[float, float] | None:
    """The least pressure of the finish and the jaws' share at it; None where that is no less."""
    step = advise_pressure(study).steps[-1]
    if step.recommended is None or step.floor >= (1 - SAME_PRESSURE) * pressure:
        return None
    left = split.jaws_at(study.finishing_grip(step.floor))
    return (step.floor, left) if abs(split.jaws.value) - abs(left) >= WORTH_MM else None


def _rebored(
    study: Study, model: OnBase, lean: Lean, index: int, scale: float, taper: float, pressure: float
) -> tuple[float, float] | None:
    """What the model lets the jaws leave as they are, and bored at the running pressure."""
    bored = study.job.setup.jaws.bored_pressure
    if bored is None or abs(bored - pressure) <= SAME_PRESSURE * pressure:
        return None
    force = study.finishing_grip(pressure) / study.job.jaws
    there = OnBase(study, as_bored(study, pressure))
    now, then = (
        one.part.tapers_left(one.contact(lean.tilt, taper, force))[index] * scale for one in (model, there)
    )  # fmt: skip
    return (now, then) if abs(now) - abs(then) >= WORTH_MM else None


def _words(made: PartCause, setup: Setup) -> tuple[str, ...]:
    """The answer, then what to do, the likeliest help first."""
    split, unit = made.split, gauge_unit_of(setup)
    at = pressure_text(made.pressure, unit)
    end = "front" if split.total.value >= 0 else "back"
    whole = sentence(
        "{} is {:.3f mm} larger at the {} on diameter over {:g mm} at {}, {:.4f}° a side",
        made.surface.name,
        abs(split.total.value),
        end,
        split.over,
        at,
        degrees(abs(split.angle)),
    )
    jaws = sentence("{} of it goes with the pressure", _between(split.jaws))
    machine = sentence("{} stays whatever the pressure", _between(split.machine))
    if split.told == "none":
        return (sentence("no taper stands out: {} on diameter over {:g mm}", _between(split.total), split.over),)
    said = {
        "jaws": (sentence("the jaws: {}; {}, {}", whole, jaws, machine),),
        "machine": (sentence("machine or cut, not the jaws: {}; {}, {}", whole, machine, jaws),),
        "both": (sentence("jaws and machine, both: {}; {}, {}", whole, jaws, machine),),
        "open": (sentence("cannot tell jaws from machine: {}", whole),),
    }[split.told]
    if split.told == "open" and split.total.low <= 0.0 <= split.total.high:
        total = sentence("{} on diameter over {:g mm}", _between(split.total), split.over)
        said = (
            sentence(
                "cannot tell: no taper stands out at {} ({}), but jaws and machine may each leave one that the other "
                "takes away",
                at,
                total,
            ),
        )
    return (*said, *_advice(made, setup, unit))


def _advice(made: PartCause, setup: Setup, unit: str) -> tuple[str, ...]:
    split, found = made.split, []
    if split.told == "open" and not split.parted:
        found.append(
            "measure the next part twice: in the chuck before release, and after it; what comes with release is the "
            "jaws'. Or finish one at half the pressure, if the plan allows it"
        )
        found.append(sentence("the contact model lets the jaws leave {}: a hint, no proof", _between(made.by_model)))
    elif split.told == "open":
        found.append("measure two more parts each way: what one taper repeats to hides the difference")
    if made.rebored is not None:
        now, then = made.rebored
        found.append(
            sentence(
                "bore the jaws at the running pressure: by the contact model that leaves {:+.3f mm} "
                "instead of {:+.3f mm}",
                then,
                now,
            )
        )
    if made.lower is not None:
        pressure, left = made.lower
        found.append(
            sentence(
                "less pressure: at {}, the least of the plan for the finish, the jaws leave "
                "{:+.3f mm}; plan it at that pressure first",
                pressure_text(pressure, unit, "up"),
                left,
            )
        )
    if split.told in ("jaws", "both"):
        found.append("look at how the jaws bear (feeler, bluing): the next taper of the jaws is told from that")
    if made.program is not None:
        smaller = "smaller" if made.program > 0 else "larger"
        found.append(
            sentence(
                "program a taper: {:.3f mm} {} on diameter at the front than at the back over "
                "{:g mm}; or line up the headstock",
                abs(made.program),
                smaller,
                split.over,
            )
        )
        if made.by_cut >= WORTH_MM:
            found.append(
                sentence(
                    "of it the finishing force makes {:.3f mm} at the most: a lighter last cut leaves less", made.by_cut
                )
            )
    return tuple(found)


def _between(one: Estimate) -> str:
    value, low, high = (sentence("{:+.3f mm}", round(v, 3) + 0.0) for v in (one.value, one.low, one.high))
    return sentence("{} ({} to {})", value, low, high)
