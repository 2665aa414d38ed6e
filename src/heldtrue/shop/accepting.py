"""Readings a setter accepts for a chuck and its jaws: into the records, and what is known then.  mm, N, MPa, rad."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from math import degrees

import numpy as np

from heldtrue.errors import InputError
from heldtrue.inspection.readings import Trace
from heldtrue.inspection.repeats import is_read_again
from heldtrue.inspection.taper import Bearing
from heldtrue.planning.setup import Setup, Surface
from heldtrue.records import ChuckRecord, GaugeReading, IndicatorReading, JawSet, Store
from heldtrue.sentences import sentence
from heldtrue.shop.chuck_log import plate_of
from heldtrue.shop.enter import card_of, chuck_in_use, known_card
from heldtrue.shop.learned import Knowledge, accept, learned_base, learned_grip
from heldtrue.shop.learned_centring import accept_centring, is_clamped_again, learned_centring
from heldtrue.shop.learned_force import learned_force
from heldtrue.shop.learned_repeat import accept_repeats, learned_repeats
from heldtrue.shop.next_cut import reading_of


def accept_bearing(
    store: Store, card: ChuckRecord, setup: Setup, seen: Bearing, by: str, at: datetime, *,
    pressure: float | None = None, taper: float | None = None, remark: str = "",
) -> list[str]:  # fmt: skip
    """Keep what a feeler or the bluing says of the base of these jaws; in words what was kept.

    Raises: ``InputError`` for a reading that says nothing of the base; as ``Store.write``.
    """
    if pressure is not None:
        setup = setup.with_({"run.pressure": pressure})
    what = _seen_words(seen)
    reading = reading_of(setup, seen, f"{what}, {at:%Y-%m-%d} {by}" + (f": {remark}" if remark else ""), taper)
    accept(store, card, "jaw base", reading, by, at, style=setup.jaws.style)
    return [sentence("accepted for {} jaws on chuck {}: {}", setup.jaws.style, card.id, what)]


def accept_grip(
    store: Store, card: ChuckRecord, force: float, pressure: float, by: str, at: datetime, *, remark: str = ""
) -> list[str]:
    """Keep a grip reading in the chuck's log: ``force`` of all jaws [N] at ``pressure`` [MPa]."""
    store.write(GaugeReading(at=at, by=by, chuck=card.id, pressure=pressure, force=force, remark=remark), by=by)
    return [f"accepted for chuck {card.id}: one grip reading; later plans rest on it"]


def accept_traces(
    store: Store, setup: Setup, setup_id: str, surface: Surface, traces: Sequence[Trace], by: str, at: datetime, *,
    remark: str = "", dial: str = "",
) -> list[str]:  # fmt: skip
    """Keep every plane of every trace of the part, with the jaw set and the last run of the setup where the records
    have them; a test bar says nothing of either.  A part that was clamped again says how this chuck centres, places
    that were read again what the dial repeats to; ``dial``: its number, '' where nobody said."""
    rows, kept = trace_rows(store, setup, setup_id, surface.name, traces, by, at, remark=remark)
    store.write(*rows, by=by)
    said = [kept]
    if is_read_again(traces):
        said += accept_repeats(store, chuck_card(store, setup), traces, dial, by, at)
    if is_clamped_again(traces):
        said += accept_centring(store, chuck_card(store, setup), setup, traces, by, at)
    return said


def trace_rows(
    store: Store, setup: Setup | None, setup_id: str, surface: str, traces: Sequence[Trace], by: str, at: datetime, *,
    remark: str = "",
) -> tuple[list[IndicatorReading], str]:  # fmt: skip
    """A row for every plane of every trace, and in words what they are kept with; nothing is written here.

    ``setup``: None where nobody said which part that was.
    """
    number = setup.jaws.number if setup is not None else ""
    jaw_set = number if number and known_card(store, JawSet, number) else None
    run = store.last_run(setup_id) if setup is not None else None
    rows = []
    for one in (each for each in traces if each.state != "spindle"):
        turned = f"part turned {degrees(one.turned):.0f}°" if one.turned else ""
        for place in one.planes:
            mine = one.z == place
            rows.append(IndicatorReading(
                at=at, by=by, run=run.id if run else None, jaw_set=jaw_set, surface=surface, z=place,
                clamped=one.state != "free", angles=tuple(np.asarray(one.angle[mine], float).tolist()),
                deviations=tuple(np.asarray(one.deviation[mine], float).tolist()),
                remark="; ".join(filter(None, (remark, turned))),
            ))  # fmt: skip
    where = [f"jaw set {jaw_set}" if jaw_set else "", f"the run of {run.at:%Y-%m-%d}" if run else ""]
    kept = " and ".join(filter(None, where)) or "no jaw set and no run: neither is in the records"
    planes = f"{len(rows)} indicator reading{'s' if len(rows) != 1 else ''}{f' of {surface}' if surface else ''}"
    return rows, f"accepted: {planes}, kept with {kept}"


def chuck_card(store: Store, setup: Setup) -> ChuckRecord:
    """The card of the setup's chuck. Raises: ``InputError`` where there is none."""
    if not setup.chuck.number:
        raise InputError("chuck: number is not given: what is learned is kept with the chuck, so it needs one")
    return card_of(store, ChuckRecord, setup.chuck.number, "chuck")


def known_base(store: Store, setup: Setup) -> Knowledge | None:
    """What the records know of the base of these jaws on this chuck; None without a card."""
    card = chuck_in_use(store, setup)
    return None if card is None else learned_base(store, card, setup.jaws.style)


def knowledge_of(store: Store, card: ChuckRecord, setup: Setup, now: datetime) -> list[Knowledge]:
    """What is known of the base of these jaws on this chuck, of cutting force, centring and dials where they were read,
    and of its grip where its plates say what it should be."""
    found, plate = [learned_base(store, card, setup.jaws.style)], plate_of(setup)
    found += [one for one in (learned_force(store, card, setup), learned_centring(store, card, setup.jaws.style),
                              *learned_repeats(store, card))
              if one.learned.count or one.learned.flagged]  # fmt: skip
    if plate is not None:
        found.append(learned_grip(store, card, plate, now))
    return found


def _seen_words(seen: Bearing) -> str:
    end = "tip" if seen.touch == "base" else "base"
    if seen.gap is not None:
        return sentence("gap of {:.3f mm} at the {}", seen.gap, end)
    if seen.touch_length is not None:
        return sentence("print of {:.1f mm} from the {}", seen.touch_length, seen.touch)
    return f"touch {seen.touch}"
