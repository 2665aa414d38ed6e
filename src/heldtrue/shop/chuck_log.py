"""The chuck's log: what its grip readings say today, whether the grip has fallen, whether grease is due. N, MPa."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from heldtrue.errors import InputError
from heldtrue.planning.entries import Chuck
from heldtrue.planning.inputs import grip_plate, readings_of
from heldtrue.planning.ranges import AREA_SPREAD
from heldtrue.planning.setup import Setup
from heldtrue.quantities import format_quantity
from heldtrue.records import ChuckRecord, GaugeReading, Greasing, RunRecord, Store
from heldtrue.shop.chuck_card import chuck_on_card
from heldtrue.shop.enter import GREASE_DAYS, known_card
from heldtrue.tooling.grip_estimate import FRESH_DAYS, GripEstimate, Plate, Reading, age_of, estimate_grip

SAME_SITTING = timedelta(hours=12)
"""Readings nearer than this to the newest belong to it."""
FRESH_PARTS = 5000
"""Parts clamped since a reading, after which it counts as old: common practice, no source."""
ANY_PLATE = (0.5, 2.0)
"""Where no plate is at hand, what it may promise over what the readings say."""


@dataclass(frozen=True)
class Note:
    """Something to know about a chuck; ``loud``: every plan and start must show it."""

    words: str
    loud: bool = False


@dataclass(frozen=True)
class ChuckState:
    """How a chuck stands.

    ``readings``: every one that counts, oldest first; ``used``: those that plans rest on; ``days``: the age of each of
    those, None where it stands no longer; ``estimate``: what they say with plate and grease, None without readings;
    ``has_plate``: is it over the chuck's own plate?
    ``change``: grip of the newest sitting over that of the readings before, None without both; ``fallen``: is that
    less than the estimate of those before allows; ``greased``: when last; ``grease_due``: when next, None where it was
    never entered; ``overdue``: is it past; ``notes``: what to know, worst first.
    """

    chuck: ChuckRecord
    readings: tuple[GaugeReading, ...]
    used: tuple[GaugeReading, ...]
    days: tuple[int | None, ...]
    estimate: GripEstimate | None
    has_plate: bool
    change: float | None
    fallen: bool
    greased: datetime | None
    grease_due: datetime | None
    overdue: bool
    notes: tuple[Note, ...]

    def why_unused(self, row: GaugeReading) -> str:
        """Why plans do not rest on a reading; empty where they do."""
        if row in self.used:
            return ""
        return "before the fall, not used" if self.fallen else "of another state of the chuck, not used"

    def is_doubtful(self, row: GaugeReading) -> bool:
        """Does a reading not fit the others, or the plate?"""
        found = self.estimate
        return found is not None and row in self.used and self.used.index(row) in found.doubtful

    @property
    def words(self) -> tuple[str, ...]:
        """The notes as sentences."""
        return tuple(note.words for note in self.notes)


def chuck_state(
    store: Store, chuck: ChuckRecord, now: datetime, plate: Plate | None = None, also: Iterable[Reading] = ()
) -> ChuckState:
    """What the log of a chuck says at ``now``.

    ``plate``: what plates and threshold promise; ``also``: readings that a setup states beside the log, taken with it.
    A grip that has fallen is planned with the newest sitting alone: what it once was holds nothing today.
    """
    plate = plate or _plate_on_card(chuck)
    has_plate = plate is not None
    greased, due = _grease(store, chuck)
    overdue = due is not None and due < now
    grease = "poor" if overdue else "good" if greased is not None else plate.grease if plate else None
    readings = tuple(one for one in store.events(GaugeReading, chuck=chuck.id) if one.pressure > 0 and one.force > 0)
    still = tuple(one for one in readings if one.speed_rpm == 0)
    used, change, fallen = _standing(still, now, plate, greased)
    # Whole rows, whose seals are looked at: what was clamped makes a reading old.
    runs = [(run.at, run.quantity + run.scrap) for run in store.events(RunRecord, chuck=chuck.id)] if used else []
    days = tuple(_age(one, runs, now) for one in used)
    plate = (plate or _any_plate(used))._replace(grease=grease)
    rows = (*(Reading(one.pressure, one.force, age, one.error) for one, age in zip(used, days, strict=True)), *also)
    estimate = estimate_grip(rows, plate) if rows else None
    notes = list(_reading_notes(used, estimate, change if fallen else None))
    if overdue:
        notes.append(Note(f"grease was due on {due:%Y-%m-%d}: taken as poor in every plan", loud=True))
    elif greased is not None:
        notes.append(Note(f"greased on {greased:%Y-%m-%d}, due again on {due:%Y-%m-%d}"))
    else:
        notes.append(Note("no greasing is entered: the plan takes it as the setup file says, or as poor"))
    if not still:
        notes.append(Note("no grip reading is entered: plans rest on the plate"))
    back = [one.at for one in store.events(GaugeReading, chuck=chuck.id, corrected=True) if one.withdrawn]
    if back and all(one.at < max(back) for one in still):
        # A right reading that is taken back leaves the plate, which a worn chuck does not give.
        notes.append(Note(f"the reading of {max(back):%Y-%m-%d} was taken back and nothing was read since: read the "
                          "grip again before a job rests on it", loud=True))  # fmt: skip
    return ChuckState(
        chuck, still, used, days, estimate, has_plate, change, fallen, greased, due, overdue, tuple(notes)
    )


def log_marks(store: Store, chuck: ChuckRecord, now: datetime) -> tuple[object, ...]:
    """All in the log of a chuck that plans may rest on at ``now``, as plain values: while they stay, so do plans."""
    greased, due = _grease(store, chuck)
    readings = [one for one in store.events(GaugeReading, chuck=chuck.id) if one.pressure > 0 and one.force > 0]
    runs = store.clamped(chuck.id) if readings else ()
    quarter = timedelta(days=FRESH_DAYS)
    marks = [(one.id, age_of([_age(one, runs, now)]), now - one.at <= quarter) for one in readings]
    return (greased.isoformat() if greased else None, due is not None and due < now, tuple(marks))


def with_chuck_log(setup: Setup, store: Store, now: datetime) -> tuple[Setup, tuple[str, ...]]:
    """The setup with what the log of its chuck says, and in words what that is; unchanged for a chuck without a log.

    Readings of the log count whatever the file states: they are taken together with its own.  Grease overdue is poor
    whatever the file says.
    """
    number = setup.chuck.number
    card = known_card(store, ChuckRecord, number) if number else None
    if card is None:
        return setup, ()
    stated = setup.chuck.grip_readings or ()
    state = chuck_state(store, card, now, plate_of(setup), readings_of(setup.chuck))
    changes: dict[str, object] = {}
    words = []
    if state.used:
        changes["chuck.grip_readings"] = [
            *(_known(pressure=one.pressure, force=one.force, days=age, error=one.error)
              for one, age in zip(state.used, state.days, strict=True)),
            *(_known(pressure=one.pressure, force=one.force, days=one.days, error=one.error) for one in stated),
        ]  # fmt: skip
        count = len(state.used)
        words.append(f"{count} grip reading{'s' if count != 1 else ''} of {number} from the records, the newest of "
                     f"{state.used[-1].at:%Y-%m-%d}")  # fmt: skip
    if state.overdue and setup.chuck.grease != "poor":
        changes["chuck.grease"] = "poor"
    elif state.grease_due is not None and not state.overdue and setup.chuck.grease is None:
        changes["chuck.grease"] = "good"
        words.append(f"{number} was greased on {state.greased:%Y-%m-%d}")
    words += [note.words for note in state.notes if note.loud]
    return (setup.with_(changes) if changes else setup), tuple(words)


def _known(**values: float | None) -> dict[str, float]:
    """What is known of a reading, as a setup takes it in."""
    return {key: value for key, value in values.items() if value is not None}


def plate_of(setup: Setup) -> Plate | None:
    """What the plates promise in the direction of the grip, as every plan takes it; None without a piston area."""
    actuator = setup.chuck.actuator
    area = actuator.pull_area if setup.grip.side == "outside" else actuator.push_area
    return None if area is None else _plate_with(setup.chuck, area, area)


def _plate_with(chuck: Chuck, least: float, most: float) -> Plate:
    """``least``, ``most``: stated piston areas [mm2]."""
    return grip_plate(chuck, (least * (1 - AREA_SPREAD), most, most * (1 + AREA_SPREAD)))


def _plate_on_card(chuck: ChuckRecord) -> Plate | None:
    """What the plate on a chuck's card promises, in whichever direction; None where it says too little."""
    try:
        kept = chuck_on_card(chuck)
    except InputError:
        return None
    areas = [one for one in (kept.actuator.pull_area, kept.actuator.push_area) if one is not None] if kept else []
    if kept is None or not areas:
        return None
    return _plate_with(kept, min(areas), max(areas))


def _any_plate(used: Sequence[GaugeReading]) -> Plate:
    """A plate that agrees with whatever was read, for a chuck without one."""
    slopes = sorted(one.force / one.pressure for one in used) or [1.0]
    return Plate(slopes[len(slopes) // 2], ANY_PLATE)


def _standing(
    still: tuple[GaugeReading, ...], now: datetime, plate: Plate | None, greased: datetime | None
) -> tuple[tuple[GaugeReading, ...], float | None, bool]:
    """The readings that count today, the grip of the newest sitting over that of those before, and has it fallen?"""
    if not still:
        return (), None, False
    newest = tuple(one for one in still if still[-1].at - one.at <= SAME_SITTING)
    fresh = tuple(one for one in still if now - one.at <= timedelta(days=FRESH_DAYS))
    before = tuple(one for one in still if one not in newest)
    if not before:
        return still, None, False
    then, today = (_as_read(rows, plate) for rows in (before, newest))
    pressure = newest[-1].pressure
    change = today.grip(pressure) / then.grip(pressure) if then.grip(pressure) > 0 else None
    read = today.read or today.share
    fallen = change is not None and then.read is not None and read[1] < then.read[0] * (then.slope / today.slope)
    # Greased since, and read twice with one answer: what it gave before is past.
    renewed = greased is not None and before[-1].at < greased <= newest[0].at and not today.asks
    if fallen or renewed:
        return newest, change, fallen
    # Readings of this quarter that agree stand alone; one, or some that differ, hide nothing that was read before.
    return (fresh if fresh and not _as_read(fresh, plate).asks else still), change, fallen


def _as_read(rows: Sequence[GaugeReading], plate: Plate | None) -> GripEstimate:
    plate = plate or _any_plate(rows)
    return estimate_grip(tuple(Reading(one.pressure, one.force, 0.0, one.error) for one in rows), plate)


def _age(row: GaugeReading, runs: Sequence[tuple[datetime, int]], now: datetime) -> int | None:
    """Days since a reading; None where more parts were clamped since than it stands for. ``runs``: when, how many."""
    clamped = sum(parts for at, parts in runs if at > row.at)
    return None if clamped > FRESH_PARTS else max((now - row.at).days, 0)


def _reading_notes(used: Sequence[GaugeReading], found: GripEstimate | None, fell_to: float | None) -> Iterable[Note]:
    if fell_to is not None:
        yield Note(f"the grip has fallen by {1 - fell_to:.0%} since the readings before: plans rest on the newest "
                   "readings alone; clean and grease it, and read again", loud=True)  # fmt: skip
    if found is None:
        return
    for place in found.doubtful:
        if place < len(used):
            row, force = used[place], format_quantity(used[place].force, "force", "metric")
            yield Note(f"the reading of {row.at:%Y-%m-%d} by {row.by}, {force}, "
                       "does not fit the others or the plate: read again; until then it can only make plans more "
                       "careful", loud=True)  # fmt: skip
    if found.asks and not found.doubtful:
        one = len({(row.pressure, row.force) for row in used}) == 1
        words = "one reading, however often entered, can only make plans more careful: take a second one" if one else \
            "the readings do not agree well enough to narrow the grip: take another"  # fmt: skip
        yield Note(words, loud=True)
    if found.age == "old":
        yield Note(f"the readings are over {FRESH_DAYS:.0f} days or {FRESH_PARTS} parts old: they no longer say how "
                   "good the chuck is, only how bad; read it again", loud=True)  # fmt: skip


def _grease(store: Store, chuck: ChuckRecord) -> tuple[datetime | None, datetime | None]:
    last = store.events(Greasing, newest=1, chuck=chuck.id)
    if not last:
        return None, None
    return last[0].at, last[0].at + timedelta(days=chuck.grease_days or GREASE_DAYS)
