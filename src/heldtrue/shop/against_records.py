"""What the records say against a job: jaws of another cut, a chuck elsewhere, a newer drawing, a clock behind.

Nothing here decides about pressure or speed; each finding alone keeps the spindle still until somebody puts it right,
or starts it all the same with a reason.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from difflib import get_close_matches

from heldtrue.errors import InputError
from heldtrue.mechanics.materials import jaw_material_name
from heldtrue.planning.contrary import Contrary, What
from heldtrue.planning.earlier_steps import depth_fits, planned_depth_of, steps_fit
from heldtrue.planning.entries import Chuck
from heldtrue.planning.inputs import prepare
from heldtrue.planning.ranges import BORE_READ_MM, SAME_BORE_MM
from heldtrue.planning.setup import Setup
from heldtrue.quantities import format_quantity
from heldtrue.records import (
    ChuckRecord,
    FrictionReading,
    GaugeReading,
    Greasing,
    JawSet,
    MachineRecord,
    PartRecord,
    Revision,
    RunRecord,
    SetCut,
    SetMove,
    Standing,
    StartDecision,
    Store,
)
from heldtrue.records.standing import in_force, standing_of
from heldtrue.records.things import Thing
from heldtrue.records.writing import CLOCK_SLACK
from heldtrue.shop.chuck_card import chuck_on_card
from heldtrue.shop.cut_steps import steps_left
from heldtrue.shop.enter import known_card
from heldtrue.shop.identity import alike, look_of

PLATE_SLACK = 1e-3
"""Share by which two figures of one plate may differ through rounding of units."""
HAPPENED = (Greasing, GaugeReading, FrictionReading, SetCut, SetMove, Revision, RunRecord, StartDecision)


def against(setup: Setup, store: Store, now: datetime, by: str = "") -> tuple[Contrary, ...]:
    """Everything that the records say against a setup at ``now``; ``by``: who stands there, empty for a plan."""
    unknown = _unknown(setup, store) if by else ()
    found = [*_numbers(setup, store), *unknown, *_jaws(setup, store, by), *_chuck(setup, store), *_part(setup, store)]
    return (*found, *_clock(store, now))


# Which chuck, jaws, machine and part are meant


def _numbers(setup: Setup, store: Store) -> Iterator[Contrary]:
    named: tuple[tuple[What, type[Thing], str], ...] = (
             ("chuck", ChuckRecord, setup.chuck.number), ("jaws", JawSet, setup.jaws.number),
             ("machine", MachineRecord, setup.machine.name if setup.machine else ""),
             ("part", PartRecord, setup.part.number))  # fmt: skip
    for what, kind, number in named:
        if number:
            yield from _alike(store, kind, what, number)
    if not setup.chuck.number and store.count(ChuckRecord, retired=True):
        yield Contrary("chuck", "the setup does not say which chuck it is, so its log was not asked",
                      "state chuck: number")  # fmt: skip
    if not setup.jaws.number and store.count(JawSet, retired=True):
        yield Contrary("jaws", "the setup does not say which jaw set it is, so the shelf was not asked",
                      "state jaws: number")  # fmt: skip


def _unknown(setup: Setup, store: Store) -> Iterator[Contrary]:
    """Chuck and jaws without a card, in a shop that keeps cards of them: figures typed in another order, or new ones.

    A plan may be of what will be bought; what stands on the machine has its card.
    """
    named: tuple[tuple[What, type[Thing], str, str], ...] = (
        ("chuck", ChuckRecord, setup.chuck.number, "heldtrue chuck add, or run enter"),
        ("jaws", JawSet, setup.jaws.number, "heldtrue shelf add, or run enter"),
    )
    for what, kind, number, add in named:
        is_there = not number or known_card(store, kind, number) is not None or alike(store, kind, number)
        if not is_there and store.count(kind, retired=True):
            meant = get_close_matches(number, store.ids(kind), n=3, cutoff=0.7)
            ask = f"did you mean {' or '.join(meant)}? Else add it first" if meant else "add it first"
            word = "jaw set" if kind is JawSet else what
            yield Contrary(what, f"{word} {number} is not in the records", f"{ask} ({add})")


def _alike(store: Store, kind: type[Thing], what: What, number: str) -> Iterator[Contrary]:
    card, word = known_card(store, kind, number), "jaw set" if kind is JawSet else what
    # Of jaw sets there may be thousands: two that look alike are looked for where the number itself is not there.
    others = alike(store, kind, number) if card is None or kind is not JawSet else ()
    if card is not None and card.retired:
        yield Contrary(what, f"{word} {number} is retired", "take another, or take it back into use")
    if others and card is None:
        yield Contrary(what, f"{word} {number} is not in the records", f"did you mean {' or '.join(others)}?")
    elif others:
        yield Contrary(what, f"{word} {number} and {', '.join(others)} look like one: each has a log of its own",
                      "retire the one that was a slip")  # fmt: skip


# The jaws


def _jaws(setup: Setup, store: Store, by: str) -> Iterator[Contrary]:
    number = setup.jaws.number
    card = known_card(store, JawSet, number) if number else None
    if card is None:
        return
    history = store.history(number)
    # A clock that was wrong, or a time typed wrong, must not hide what was entered last: the worse of both orders.
    # With the rows that were put right: by them alone it is known when the first of them was entered.
    rows = [row for row in history.rows if isinstance(row, SetCut | SetMove)]
    entered = standing_of(card, rows, by_entry=True)
    yield from dict.fromkeys([*_of_set(setup, history.standing, by), *_of_set(setup, entered, by)])
    cuts = [row for row in rows if isinstance(row, SetCut)]
    orders = (in_force(cuts), in_force(cuts, by_entry=True))
    yield from dict.fromkeys(one for counting in orders for one in _steps(setup, store, counting))


def _of_set(setup: Setup, stands: Standing, by: str) -> Iterator[Contrary]:
    number, jaws = stands.jaw_set, setup.jaws
    for what, has, wants in (
        ("style", stands.style, jaws.style),
        ("material", jaw_material_name(stands.material), jaw_material_name(jaws.material)),
        ("teeth", stands.serration, jaws.serration or ""),
    ):
        if has and wants and has != wants:
            yield Contrary("jaws", f"the {what} of jaw set {number} is {has} by the shelf, {wants} in the setup",
                          "look at the jaws, and put setup or shelf right")  # fmt: skip
    if stands.condition == "scrap":
        yield Contrary("jaws", f"jaw set {number} is marked scrap", "take another set")
    if stands.condition == "skim first":
        yield Contrary("jaws", f"jaw set {number} is marked 'skim first'", "skim it and enter the cut")
    if stands.missing:
        word, are = ("jaw", "is") if len(stands.missing) == 1 else ("jaws", "are")
        yield Contrary("jaws", f"{word} {', '.join(str(one) for one in stands.missing)} of set {number} {are} missing",
                      "find it, or take another set")  # fmt: skip
    if by and stands.holder and stands.holder.strip().casefold() != by.strip().casefold():
        yield Contrary("jaws", f"jaw set {number} is out with {stands.holder} by the shelf",
                      "check it in, or out to who has it")  # fmt: skip
    yield from _cut(setup, stands)


def _cut(setup: Setup, stands: Standing) -> Iterator[Contrary]:
    """The last cut against what the job wants of it."""
    number, jaws = stands.jaw_set, setup.jaws
    if stands.diameter is None:
        return
    cut_again = "cut it for this job" if stands.cuts_left != 0 else "no cut is left: take another set"
    if stands.side and stands.side != setup.grip.side:
        yield Contrary("jaws", f"jaw set {number} was last cut to grip {stands.side}, the job grips {setup.grip.side}",
                      cut_again)  # fmt: skip
    else:
        job = prepare(setup)
        wanted, bore = 2 * job.bore_radius, job.known["jaw bore"]
        was, want, low, high = (
            format_quantity(one, "length", setup.units) for one in (stands.diameter, wanted, bore.low, bore.high)
        )
        off = BORE_READ_MM - (stands.diameter_error or 0.0)
        if abs(stands.diameter - wanted) > SAME_BORE_MM:
            yield Contrary("jaws", f"jaw set {number} was last cut to Ø{was}, the job wants Ø{want}", cut_again)
        elif jaws.last_cut is not None and not bore.low - off <= stands.diameter <= bore.high + off:
            # Without a last cut of its own a setup takes that of the records.
            yield Contrary("jaws", f"jaw set {number} was last cut to Ø{was} by the records, the setup counts with "
                          f"Ø{low} to Ø{high}", "measure it, put setup (jaws: last_cut) or shelf right")  # fmt: skip
        elif not depth_fits(setup, stands.depth):
            deep, wants = (format_quantity(one, "length", setup.units) for one in (stands.depth or 0.0,
                                                                                  planned_depth_of(setup)))  # fmt: skip
            yield Contrary("jaws", f"jaw set {number} was last cut {deep} deep, the job wants {wants}", cut_again)
    chuck = setup.chuck.number
    if stands.chuck and chuck and look_of(stands.chuck) != look_of(chuck):
        yield Contrary("jaws", f"jaw set {number} was last cut on chuck {stands.chuck}, the job runs on {chuck}",
                      cut_again)  # fmt: skip
    if stands.tooth is not None and jaws.tooth is not None and stands.tooth != jaws.tooth:
        yield Contrary("jaws", f"jaw set {number} was last cut on tooth {stands.tooth}, the setup puts it on "
                      f"{jaws.tooth}", "put it back on that tooth, or cut it again")  # fmt: skip


def _steps(setup: Setup, store: Store, cuts: Sequence[SetCut]) -> Iterator[Contrary]:
    """The steps of the bore that a set was cut with: where it has one, another part finds no wall."""
    if not cuts or (cuts[-1].side and cuts[-1].side != setup.grip.side):
        return
    stand, number = steps_left(store, cuts), cuts[-1].jaw_set
    if stand is None:
        yield Contrary("jaws", f"it is not recorded whether jaw set {number} was last cut with steps",
                      "look at them, and enter them with that cut (heldtrue shelf steps)")  # fmt: skip
    elif not steps_fit(setup, stand):
        yield Contrary("jaws", f"jaw set {number} was last cut with other steps (boring.steps) than the job has",
                      "cut it for this job, or take another set")  # fmt: skip


# The chuck


def _chuck(setup: Setup, store: Store) -> Iterator[Contrary]:
    number = setup.chuck.number
    card = known_card(store, ChuckRecord, number) if number else None
    if card is None:
        return
    machine = setup.machine.name if setup.machine else ""
    if card.machine and machine and card.machine != machine:
        yield Contrary("chuck", f"chuck {number} stands on {card.machine} by the records, the job is for {machine}",
                      "put setup or card right")  # fmt: skip
    for what, plate, said in _plates(card, setup):
        yield Contrary("chuck", f"{what} of chuck {number} is {plate} by its card, {said} in the setup",
                      "read the plate, and put the wrong one right")  # fmt: skip
    kept = known_card(store, MachineRecord, machine) if machine else None
    most = setup.machine.max_speed_rpm if setup.machine else None
    if kept is not None and kept.max_speed_rpm and most and most > kept.max_speed_rpm * (1 + PLATE_SLACK):
        yield Contrary("machine", f"highest speed of {machine} is {kept.max_speed_rpm:.0f} rev/min by its card, "
                      f"{most:.0f} in the setup", "read the plate, and put the wrong one right")  # fmt: skip


_ON_PLATE: tuple[tuple[str, str, Callable[[Chuck], float | None]], ...] = (
    ("number of jaws", "", lambda c: c.jaws), ("highest draw force", "force", lambda c: c.max_draw_force),
    ("highest grip force", "force", lambda c: c.max_grip_force),
    ("highest speed", "speed_rpm", lambda c: c.max_speed_rpm),
    ("highest pressure", "pressure", lambda c: c.max_pressure),
    ("highest pressure of the cylinder", "pressure", lambda c: c.actuator.max_pressure),
    ("piston area that pulls", "area", lambda c: c.actuator.pull_area),
    ("piston area that pushes", "area", lambda c: c.actuator.push_area),
)  # fmt: skip


def _plates(card: ChuckRecord, setup: Setup) -> Iterator[tuple[str, str, str]]:
    """What stands on the plate and differs between card and setup."""
    try:
        kept = chuck_on_card(card)
    except InputError:
        yield "the plate", "not to be read", "given"
        return
    if kept is None:
        return
    for what, kind, of in _ON_PLATE:
        a, b = of(kept), of(setup.chuck)
        if a is not None and b is not None and abs(a - b) > PLATE_SLACK * abs(a):
            plate, said = (f"{one:g}" if not kind else format_quantity(one, kind, setup.units) for one in (a, b))
            yield what, plate, said


# The part, and the clock


def _part(setup: Setup, store: Store) -> Iterator[Contrary]:
    number, has = setup.part.number, setup.part.revision
    rows = store.events(Revision, part=number) if number and known_card(store, PartRecord, number) else ()
    latest = [rows[-1], max(rows, key=lambda row: row.id)] if rows and has else []
    for newest in dict.fromkeys(row for row in latest if row.revision != has):
        yield Contrary("part", f"part {number} is at revision {newest.revision} since {newest.at:%Y-%m-%d}, "
                      f"the setup has {has}", "look at what changed, and put the setup right")  # fmt: skip


def newest_entry(store: Store) -> datetime | None:
    """The latest time that anything was entered for; None where nothing was."""
    # What was taken back since was still written down at that time.
    return max((row.at for kind in HAPPENED for row in store.events(kind, newest=1, corrected=True)), default=None)


def _clock(store: Store, now: datetime) -> Iterator[Contrary]:
    newest = newest_entry(store)
    if newest is not None and newest > now + CLOCK_SLACK:
        yield Contrary("clock", f"the clock of this computer says {now:%Y-%m-%d %H:%M}, and the records have an "
                      f"entry of {newest:%Y-%m-%d %H:%M}", "set the clock right")  # fmt: skip
