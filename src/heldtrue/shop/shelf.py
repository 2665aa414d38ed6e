"""The jaw shelf: what a setup wants of it, and a cut that was made. Lengths in mm, pressures in MPa."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Literal, get_args

from heldtrue.errors import InputError
from heldtrue.mechanics.materials import jaw_material, jaw_material_name
from heldtrue.planning.boring import BorePlan, bore, recut
from heldtrue.planning.entries import SerrationName
from heldtrue.planning.inputs import prepare
from heldtrue.planning.jaw_layout import seat_reach
from heldtrue.planning.ranges import BORE_MM, BORE_READ_MM
from heldtrue.planning.setup import Setup
from heldtrue.quantities import UnitSystem, format_quantity, to_core
from heldtrue.records import JawSet, SetCut, SetMove, SetupRecord, Standing, Store, Wanted, open_plan
from heldtrue.records.matching import judge
from heldtrue.records.standing import in_force
from heldtrue.sentences import sentence
from heldtrue.shop.cut_steps import steps_left
from heldtrue.shop.enter import card_of, enter_setup, known_card
from heldtrue.tooling.bore import DEPTH_TOLERANCE_MM

TEETH: tuple[str, ...] = get_args(SerrationName)
MoveKind = Literal["out", "in", "moved", "condition"]
CUT_SLACK_MM = 1.0
"""How far a cut may lie from the planned one: more is another bore, or a slip of the pen."""
DEPTH_READ_MM = 0.02
"""How far a measured depth may be off where nobody says: common practice, no source."""
LEAST_ERROR_MM, MOST_ERROR_MM, MOST_DEPTH_ERROR_MM = 0.0005, 0.1, 0.2
"""No shop measures better; what is read worse is no measurement of a bore, or of a depth."""
OF_LAST_CUT = ("diameter", "diameter_error", "depth", "depth_error", "tooth", "relief_width", "relief_depth",
               "seat_land", "seat_relief")  # fmt: skip
"""What a record says of the last cut under the same name as the setup file."""


def wanted_of(setup: Setup, *, any_style: bool = False, any_material: bool = False) -> Wanted:
    """What a setup asks of the shelf. Raises: ``InputError`` for a setup that cannot be planned."""
    job, jaws, boring = prepare(setup), setup.jaws, setup.boring
    serration = jaws.serration or (setup.chuck.master_jaws.serration if setup.chuck.master_jaws else None)
    return Wanted(
        side=setup.grip.side, diameter=2 * job.bore_radius, chuck=setup.chuck.number or None,
        machine=setup.machine.name if setup.machine and setup.machine.name else None, serration=serration or "",
        jaws=jaws.count or setup.chuck.jaws, style="" if any_style else jaws.style,
        material="" if any_material else jaws.material, least_skim=boring.skim if boring else None,
        steps=tuple((one.diameter, one.z, one.grips) for one in (boring.steps if boring else None) or ()),
        seat_reach=None if (reach := seat_reach(job)) is None else 2 * reach,
    )  # fmt: skip


@dataclass(frozen=True)
class Reading:
    """What was measured of a cut, and how far it may be off [mm]; ``value`` None: nobody measured, it is as planned."""

    value: float | None = None
    error: float | None = None

    def sound(self, what: str, planned: float, usual: float, most: float) -> tuple[float, float | None]:
        """The value and its error, None where it is only planned; ``usual``: error of a reading that says none.

        Raises: ``InputError`` for what cannot have been read of this cut.
        """
        if self.value is None:
            if self.error is not None:
                raise InputError(f"an error of {self.error:g} mm without the {what} that was measured")
            return planned, None
        error = usual if self.error is None else self.error
        if not LEAST_ERROR_MM <= error <= most:
            raise InputError(f"error of the {what}: found {error:g} mm; {LEAST_ERROR_MM:g} to {most:g} mm")
        if not abs(self.value - planned) <= CUT_SLACK_MM:
            raise InputError(f"a {what} of {self.value:g} mm was not planned: {planned:g} mm was, give or take "
                             f"{CUT_SLACK_MM:g} mm; put the right bore into the setup first")  # fmt: skip
        return self.value, error


def cut_of(plan: BorePlan, by: str, now: datetime, *, diameter: Reading = Reading(), depth: Reading = Reading(),
           photo: str | None = None, remark: str = "", setup: str | None = None) -> SetCut:  # fmt: skip
    """The row for a cut that was made as planned, with diameter and depth as measured afterwards.

    Raises: ``InputError`` where the set has no number, or it is not known how the jaws stand; for readings that cannot
    be of this cut.
    """
    made, way, jaws = plan.design, plan.way, plan.setup.jaws
    if not jaws.number:
        raise InputError("jaws.number is not stated: a set without a number cannot be found again")
    if made is None or way is None:
        raise InputError("it is not known how the jaws stand, so the cut cannot be recorded from the plan")
    wide, wide_error = diameter.sound("diameter", made.diameter, BORE_READ_MM, MOST_ERROR_MM)
    deep, deep_error = depth.sound("depth", made.depth, DEPTH_READ_MM, MOST_DEPTH_ERROR_MM)
    land = None if made.land is None else (made.land[1] - made.land[0]) / 2
    done = jaws.cuts_done or 0
    return SetCut(
        at=now, by=by, jaw_set=jaws.number, kind="re-cut" if jaws.last_cut or done else "bore",
        side=plan.setup.grip.side,
        diameter=wide, diameter_error=wide_error, depth=deep, depth_error=deep_error,
        relief_width=made.relief[0], relief_depth=made.relief[1], seat_land=land,
        seat_relief=None if land is None else made.seat_relief,
        bore_steps=None if made.leaves is None else tuple((2 * radius, z) for radius, z in made.leaves),
        machine=plan.setup.machine.name if plan.setup.machine and plan.setup.machine.name else None,
        chuck=plan.setup.chuck.number or None, tooth=way.tooth,
        jaw_order=tuple(range(1, (jaws.count or plan.setup.chuck.jaws) + 1)), pressure=plan.pressure, taper=made.taper,
        web_left=way.web, cuts_left=way.cuts_left, setup=setup, photo=photo, remark=remark,
    )  # fmt: skip


def record_cut(store: Store, plan: BorePlan, by: str, now: datetime, *, id: str, diameter: Reading = Reading(),
               depth: Reading = Reading(), remark: str = "") -> CutKept:  # fmt: skip
    """Keep the setup and the cut made from its plan; how the set then stands, and what to do about it.

    Raises: as ``cut_of``, and then nothing is kept.
    """
    row = cut_of(plan, by, now, diameter=diameter, depth=depth, remark=remark)
    card = enter_setup(store, plan.setup, by, id=id, why="jaws cut")
    store.write(replace(row, setup=card.id), by=by)
    stands = store.standing(row.jaw_set)
    number = max((plan.setup.jaws.cuts_done or 0) + 1, stands.cuts_done)
    return CutKept(stands, number, stamp_of(stands, number, plan.setup.units), _measured_words(plan, row))


@dataclass(frozen=True)
class CutKept:
    """A cut that was recorded: how the set stands, the number of the cut, what to stamp on every jaw, what to know."""

    standing: Standing
    number: int
    stamp: str
    words: tuple[str, ...]


def stamp_of(stands: Standing, number: int, system: UnitSystem) -> str:
    """What is stamped on every jaw of a set after its cut, besides the jaw's own number.

    The diameter as it was measured; "planned" where nobody measured it.
    """
    if stands.diameter is None:
        return stands.jaw_set
    size = f"Ø{format_quantity(stands.diameter, 'length', system)}"
    size += " planned" if stands.diameter_error is None else ""
    deep = "" if stands.depth is None else f"{format_quantity(stands.depth, 'length', system)} deep"
    tooth = "" if stands.tooth is None else f"tooth {stands.tooth}"
    return ", ".join(filter(None, [stands.jaw_set, tooth, size, deep, f"cut {number}"]))


def _measured_words(plan: BorePlan, row: SetCut) -> tuple[str, ...]:
    """What is to be known of a cut that came out other than planned, or that nobody measured."""
    made, system, found = plan.design, plan.setup.units, []
    assert made is not None

    def say(value: float) -> str:
        return format_quantity(value, "length", system)

    if row.diameter_error is None:
        found.append(f"Ø not measured: plans count with Ø{say(made.diameter)}, {say(BORE_MM)} either way; measure it")
    else:
        low, high = (made.diameter + end for end in made.tolerance)
        off = max(low - row.diameter, row.diameter - high)
        if off > 0:
            found.append(f"Ø{say(row.diameter)} is {say(off)} outside what was planned, Ø{say(low)} to Ø{say(high)}: "
                         "plan the part again, plans now count with what was measured")  # fmt: skip
    if row.depth is not None and row.depth_error is not None and abs(row.depth - made.depth) > DEPTH_TOLERANCE_MM:
        found.append(f"{say(row.depth)} deep, planned {say(made.depth)} within {say(DEPTH_TOLERANCE_MM)}: the part "
                     "stands that much further in or out")  # fmt: skip
    return tuple(found)


def new_jaw_set(id: str, style: Literal["standard", "wide", "pie"], material: str, *, serration: str = "",
                jaws: int = 3, remark: str = "") -> JawSet:  # fmt: skip
    """The card of a set put on the shelf by hand, its material under the name that a search compares.

    Raises: ``InputError`` for a material or teeth that no setup could ask for.
    """
    if serration and serration not in TEETH:
        raise InputError(f'teeth "{serration}" are not known; known are {", ".join(TEETH)}')
    return JawSet(id=id, style=style, material=jaw_material(material).name, serration=serration, jaws=jaws,
                  remark=remark)  # fmt: skip


def move_of(store: Store, jaw_set: str, kind: MoveKind, *, by: str, now: datetime, **more: Any) -> SetMove:
    """The row for a set that was checked out or in, moved or looked at. Raises: ``InputError`` for jaws it has not."""
    card = card_of(store, JawSet, jaw_set, "jaw set")
    wrong = [str(number) for number in more.get("missing", ()) if not 1 <= number <= card.jaws]
    if wrong:
        raise InputError(f"set {jaw_set} has jaws 1 to {card.jaws}; found {', '.join(wrong)}")
    return SetMove(at=now, by=by, jaw_set=jaw_set, kind=kind, **more)


def planned_cut(setup: Setup, measured: float | None = None) -> BorePlan:
    """The cut of the jaws of a setup; ``measured``: of a re-cut, the diameter touched off before [mm].

    Raises: ``InputError`` where there is none to be made.
    """
    plan = bore(setup) if measured is None else recut(setup, measured).bore
    if plan is None or not plan.can_be_cut:
        raise InputError("these jaws cannot be cut as planned, so no such cut is recorded")
    return plan


def with_standing(setup: Setup, store: Store) -> tuple[Setup, tuple[str, ...]]:
    """The setup with the last cut of its jaw set as the records have it, where the file says nothing of one."""
    number = setup.jaws.number
    if not number or setup.jaws.last_cut is not None or known_card(store, JawSet, number, retired=False) is None:
        return setup, ()
    stands = store.standing(number)
    if stands.diameter is None or (stands.side and stands.side != setup.grip.side):
        return setup, ()
    steps = steps_left(store, in_force([row for row in store.history(number).rows if isinstance(row, SetCut)]))
    cut = {key: getattr(stands, key) for key in OF_LAST_CUT} | {
        "chuck": stands.chuck or "", "machine": stands.machine or "",
        "steps": None if steps is None else [{"diameter": diameter, "z": z} for diameter, z in steps],
    }  # fmt: skip
    changes: dict[str, object] = {
        "jaws.last_cut": {key: value for key, value in cut.items() if value is not None},
        # Cuts from before the records are only in the file.
        "jaws.cuts_done": max(stands.cuts_done, setup.jaws.cuts_done or 0),
    }
    if setup.jaws.tooth is None and stands.tooth is not None:
        changes["jaws.tooth"] = stands.tooth
    read = (
        "as planned, not measured" if stands.diameter_error is None
        else f"measured within {format_quantity(stands.diameter_error, 'length', setup.units)}"
    )  # fmt: skip
    return setup.with_(changes), (f"last cut of {number} from the records: "
                                  f"Ø{format_quantity(stands.diameter, 'length', setup.units)}, {read}",)  # fmt: skip


def limits_of(store: Store, jaw_set: str) -> tuple[float | None, str, float | None]:
    """The most a set may see: pressure [MPa], the unit of its gauge, speed [rev/min].

    By the last of its setups that has a plan; None where no plan is kept.
    """
    cards = [card for card in store.all(SetupRecord) if card.jaw_set == jaw_set and card.plan]
    if not cards:
        return None, "bar", None
    content = open_plan(cards[-1].plan or {})
    pressure, speed = content.get("pressure") or {}, content.get("speed") or {}
    ceilings = [step.get("ceiling") for step in pressure.get("steps", []) if step.get("ceiling") is not None]
    unit = str(pressure.get("unit") or "bar")
    most = max(ceilings) if ceilings else None
    return None if most is None else to_core(float(most), "pressure", unit), unit, speed.get("top")


def part_of(store: Store, jaw_set: str) -> str:
    """Number and revision of the part that the last of a set's setups is for; empty where none is known."""
    cards = [card for card in store.all(SetupRecord) if card.jaw_set == jaw_set and card.part]
    if not cards:
        return ""
    return " ".join(filter(None, [cards[-1].part, cards[-1].revision and f"rev {cards[-1].revision}"]))


def why_not(store: Store, wanted: Wanted, fitting: set[str], most: int = 40) -> tuple[tuple[str, str, str], ...]:
    """Of the sets that do not fit, the last ``most`` by number: number, bore in words, and why not."""
    cards = [card for card in store.all(JawSet) if card.id not in fitting][-most:]
    return tuple((one.jaw_set, _bored(one), _misfit(one, wanted)) for one in (store.standing(c.id) for c in cards))


def _bored(one: Standing) -> str:
    return "" if one.diameter is None else sentence("Ø{:g mm} {}", one.diameter, one.side)


def _misfit(one: Standing, wanted: Wanted) -> str:
    """In the order in which the shelf asks."""
    if one.condition == "scrap":
        return "it is scrap"
    if one.diameter is None:
        return "no cut of it is recorded: how much metal it has is not known"
    for what, has, asked in (
        ("side", one.side, wanted.side), ("jaws", one.jaws, wanted.jaws), ("teeth", one.serration, wanted.serration),
        ("style", one.style, wanted.style),
        ("material", jaw_material_name(one.material), wanted.material and jaw_material_name(wanted.material)),
    ):  # fmt: skip
        if asked and has != asked:
            return f"{what}: {has or 'not said'}, wanted {asked}"
    if judge(one, wanted) is not None:
        return "it would do, but others need less metal"
    return sentence("it cannot be brought to Ø{:g mm}: too little metal, web or teeth are left", wanted.diameter)
