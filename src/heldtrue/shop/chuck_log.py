"""The chuck's log: what its grip readings say, whether the grip has fallen, whether grease is due. N, MPa."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from heldtrue.errors import InputError
from heldtrue.planning.setup import Setup
from heldtrue.records import ChuckRecord, GaugeReading, Greasing, Store
from heldtrue.shop.enter import GREASE_DAYS, known_card
from heldtrue.tooling.chuck import GAUGE_ERROR, GripLine, grip_per_pressure, read_grip_line

LOUD = ("the grip has fallen", "grease was due", "readings ")
"""How the words begin that every plan must show."""
SAME_SITTING = timedelta(hours=12)
"""Readings nearer than this to the newest belong to it."""


@dataclass(frozen=True)
class ChuckState:
    """How a chuck stands.

    ``readings``: every one that counts, oldest first; ``used``: those that plans rest on; ``line``: through them, None
    without readings or plate; ``change``: grip of the newest sitting over that of the readings before, None without
    both; ``fallen``: is that more than the gauge's own error; ``greased``: when last; ``grease_due``: when next, None
    where it was never entered; ``words``: what to know, worst first.
    """

    chuck: ChuckRecord
    readings: tuple[GaugeReading, ...]
    used: tuple[GaugeReading, ...]
    line: GripLine | None
    change: float | None
    fallen: bool
    greased: datetime | None
    grease_due: datetime | None
    words: tuple[str, ...]

    def why_unused(self, row: GaugeReading) -> str:
        """Why plans do not rest on a reading; empty where they do."""
        if row in self.used:
            return ""
        fell = self.fallen and row.at < self.used[-1].at - SAME_SITTING
        return "before the fall, not used" if fell else "not used: the weakest alone counts"


def chuck_state(store: Store, chuck: ChuckRecord, now: datetime, plate_slope: float | None = None) -> ChuckState:
    """What the log of a chuck says at ``now``; ``plate_slope``: grip per pressure of its plates [N/MPa].

    A grip that has fallen is planned with the newest sitting alone: what it once was holds nothing today.
    """
    readings = store.events(GaugeReading, chuck=chuck.id)
    still = tuple(one for one in readings if one.speed_rpm == 0 and one.pressure > 0 and one.force > 0)
    newest = tuple(one for one in still if still and still[-1].at - one.at <= SAME_SITTING)
    before = tuple(one for one in still if one not in newest)
    change = _change(before, newest)
    fallen = change is not None and change < 1 - GAUGE_ERROR
    used = newest if fallen else still
    words = []
    line = None
    if used:
        try:
            line = read_grip_line([(one.pressure, one.force) for one in used], plate_slope or 1.0)
        except InputError as error:
            # What nobody can read a line from is planned at its worst: the weakest reading, through zero.
            weakest = min(used, key=lambda one: one.force / one.pressure)
            used = (weakest,)
            line = read_grip_line([(weakest.pressure, weakest.force)], plate_slope or 1.0)
            why = str(error).removeprefix("chuck: grip_")
            words.append(f"{why}; until then plans rest on the weakest reading alone")
    greased, due = _grease(store, chuck)
    if fallen and change is not None:
        words.insert(0, f"the grip has fallen by {1 - change:.0%} since the readings before: plans rest on the newest "
                        "readings alone; clean and grease it, and read again")  # fmt: skip
    if line is not None and line.far_off:
        words.append("; ".join(f"the reading of {used[i].at:%Y-%m-%d} by {used[i].by} does not fit the others"
                               for i in line.far_off))  # fmt: skip
    if due is not None and due < now:
        words.append(f"grease was due on {due:%Y-%m-%d}: taken as poor in every plan")
    elif greased is not None:
        words.append(f"greased on {greased:%Y-%m-%d}, due again on {due:%Y-%m-%d}")
    if greased is None:
        words.append("no greasing is entered: the plan takes it as the setup file says, or as poor")
    if not still:
        words.append("no grip reading is entered: plans rest on the plate")
    return ChuckState(chuck, still, used, line, change, fallen, greased, due, tuple(words))


def with_chuck_log(setup: Setup, store: Store, now: datetime) -> tuple[Setup, tuple[str, ...]]:
    """The setup with what the log of its chuck says, and in words what that is; unchanged for a chuck without a log.

    What the setup file itself states stays: only what it leaves open is filled in, and grease overdue counts as poor
    whatever the file says.
    """
    number = setup.chuck.number
    card = known_card(store, ChuckRecord, number, retired=False) if number else None
    if card is None:
        return setup, ()
    state = chuck_state(store, card, now, plate_slope(setup))
    changes: dict[str, object] = {}
    words = []
    if state.line is not None and (len(state.used) < len(state.readings) or not setup.chuck.grip_readings):
        changes["chuck.grip_readings"] = [{"pressure": one.pressure, "force": one.force} for one in state.used]
        words.append(f"{len(state.used)} grip readings of {number} from the records, the newest of "
                     f"{state.used[-1].at:%Y-%m-%d}")  # fmt: skip
    overdue = state.grease_due is not None and state.grease_due < now
    if overdue and setup.chuck.grease != "poor":
        changes["chuck.grease"] = "poor"
    elif state.grease_due is not None and not overdue and setup.chuck.grease is None:
        changes["chuck.grease"] = "good"
        words.append(f"{number} was greased on {state.greased:%Y-%m-%d}")
    words += [one for one in state.words if one.startswith(LOUD)]
    return (setup.with_(changes) if changes else setup), tuple(words)


def plate_slope(setup: Setup) -> float | None:
    """Grip per pressure that the plates promise in the direction of the grip [N/MPa]; None without a piston area."""
    chuck = setup.chuck
    area = chuck.actuator.pull_area if setup.grip.side == "outside" else chuck.actuator.push_area
    return None if area is None else grip_per_pressure(chuck.max_grip_force, chuck.max_draw_force, area)


def _change(before: tuple[GaugeReading, ...], newest: tuple[GaugeReading, ...]) -> float | None:
    """Grip of the newest sitting over what the readings before promise at the same pressures."""
    if not before or not newest:
        return None
    pressure = np.array([one.pressure for one in before])
    force = np.array([one.force for one in before])
    if len(np.unique(pressure)) >= 3:
        line = read_grip_line(list(zip(pressure, force, strict=True)), 1.0)
        slope, start = line.slope, line.threshold
    else:
        slope, start = float(np.median(force / pressure)), 0.0
    shares = [one.force / (slope * (one.pressure - start)) for one in newest if one.pressure > start]
    return float(np.median(shares)) if shares else None


def _grease(store: Store, chuck: ChuckRecord) -> tuple[datetime | None, datetime | None]:
    last = store.events(Greasing, newest=1, chuck=chuck.id)
    if not last:
        return None, None
    return last[0].at, last[0].at + timedelta(days=chuck.grease_days or GREASE_DAYS)
