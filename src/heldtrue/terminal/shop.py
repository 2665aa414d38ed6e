"""The shop's memory on the terminal: starts, jaws, chucks, runs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from rich.console import Console
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from heldtrue.planning.result import IN_SHORT
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.records import (
    BlankRecord,
    History,
    Replanned,
    RingRecord,
    RunRecord,
    SetCut,
    SetMove,
    SetupRecord,
    Standing,
    ToolRecord,
)
from heldtrue.records import StartDecision as DecisionRow
from heldtrue.records.differences import Change
from heldtrue.records.matching import Found
from heldtrue.records.recalling import Recalled
from heldtrue.records.things import Thing
from heldtrue.sentences import in_units, joined
from heldtrue.shop.chuck_log import ChuckState
from heldtrue.shop.gate import Start
from heldtrue.shop.moving import Moved
from heldtrue.terminal.lines import cautions as show_cautions
from heldtrue.terminal.lines import say
from heldtrue.tooling.grip_estimate import GripEstimate

DAY = "%Y-%m-%d"
MINUTE = "%Y-%m-%d %H:%M"


def show_start(console: Console, start: Start) -> None:
    """The gate, largest first."""
    decision = start.decision
    if decision.may:
        console.print(Panel(Text("MAY START", "bold"), border_style="green", expand=False))
    else:
        word = "MUST NOT START, overridden" if start.overridden else "MUST NOT START"
        console.print(Panel(Text(word, "bold"), border_style="bold red", expand=False))
    say(console, decision.words, bold=True)
    for reason in decision.reasons[1:]:
        say(console, f"- {reason}")
    if start.overridden:
        say(console, f"started all the same by {start.row.by}: {start.row.override_reason}", bold=True)
    for words in (*start.from_log, *decision.warnings):
        say(console, f"- {words}")
    for change in start.changes:
        say(console, f"- changed since the last run: {change.words}")
    say(console, f"recorded by {start.row.by}, {start.row.at:{MINUTE}}")
    show_cautions(console, decision.cautions)


def show_moved(console: Console, setup: Setup, moved: Moved) -> None:
    """A setup on another machine."""
    here = format_quantity(moved.pressure_here, "pressure", unit=gauge_unit_of(setup))
    say(console, f"draw force {format_quantity(moved.draw_force, 'force', setup.units)}, here at {here}")
    if moved.setup is None or moved.pressure_there is None or moved.plan is None:
        say(console, f"cannot be planned there: {moved.why}", bold=True)
        return
    there = format_quantity(moved.pressure_there, "pressure", unit=gauge_unit_of(moved.setup))
    say(console, f"the same draw force there: {there}", bold=True)
    say(console, f"the plan there {moved.plan.verdict} at that pressure")
    table = _table("difference", "here", "there", "")
    for one in moved.differences:
        table.add_row(one.what, one.here, one.there, "BLOCKS" if one.blocks else "")
    console.print(table)
    show_cautions(console, moved.plan.cautions)


def show_standings(console: Console, stands: Sequence[Standing], units: UnitSystem) -> None:
    """Jaw sets as they stand."""
    if not stands:
        say(console, "no jaw set is in the records; heldtrue shelf add, or heldtrue shelf cut after the jaws are cut")
        return
    table = _table("set", "style", "material", "side", "bored", "tooth", "chuck", "cuts left", "where", "state")
    for one in stands:
        table.add_row(*_standing_row(one, units))
    console.print(table)


def show_found(console: Console, found: Found, units: UnitSystem) -> None:
    """Jaws for a setup."""
    for words in found.words:
        say(console, in_units(words, units), bold=True)
    if found.matches:
        table = _table("set", "cost", "metal per side", "bored", "chuck", "web after", "to know")
        for one in found.matches:
            stands = one.standing
            table.add_row(
                stands.jaw_set, one.cost, _length(one.metal, units), _diameter(stands.diameter, units),
                stands.chuck or "", _length(one.web_after, units), in_units(joined("; ", one.words), units),
            )  # fmt: skip
        console.print(table)
    for blank in found.blanks:
        say(console, f"blank {blank.id}: {blank.style}, {blank.material}, {blank.in_stock} sets {blank.place}")


def show_recalled(console: Console, found: Sequence[Recalled], units: UnitSystem) -> None:
    """Jaws by what somebody remembers."""
    if not found:
        say(console, "no set fits that; leave something out")
        return
    if found[0].near:
        say(console, f"no set fits all of that; the nearest: {found[0].near}")
    table = _table("set", "style", "material", "remembered by", "now at", "where", "state")
    for one in found:
        stands, cut = one.standing, one.cut
        then = "" if cut is None else f"{_diameter(cut.diameter, units)}, {cut.at:{DAY}}, {cut.machine or '?'}"
        table.add_row(stands.jaw_set, stands.style, stands.material, then,
                      "it" if one.is_still_so else _diameter(stands.diameter, units), *_where(stands))  # fmt: skip
    console.print(table)


def show_history(console: Console, history: History, units: UnitSystem) -> None:
    """One set."""
    show_standings(console, [history.standing], units)
    counting = {row.id for row in history.counting}
    table = _table("when", "what", "by", "")
    for row in history.rows:
        note = "" if row.id in counting else "corrected later"
        table.add_row(f"{row.at:{MINUTE}}", _row_words(row, units), row.by, note)
    console.print(table)


def show_chucks(console: Console, states: Sequence[ChuckState]) -> None:
    """Every chuck."""
    if not states:
        say(console, "no chuck is in the records; heldtrue chuck add CHUCK.toml")
        return
    table = _table("chuck", "name", "machine", "readings", "greased", "next", "to know")
    for one in states:
        table.add_row(
            one.chuck.id, one.chuck.name, one.chuck.machine or "", str(len(one.readings)),
            f"{one.greased:{DAY}}" if one.greased else "", f"{one.grease_due:{DAY}}" if one.grease_due else "",
            one.words[0] if one.words else "",
        )  # fmt: skip
    console.print(table)


def show_chuck(console: Console, state: ChuckState, units: UnitSystem | None) -> None:
    """The log of a chuck."""
    unit = state.chuck.gauge or "bar"
    system: UnitSystem = units or ("inch" if unit == "psi" else "metric")
    say(console, f"{state.chuck.id} {state.chuck.name}", bold=True)
    for note in state.notes:
        say(console, f"- {note.words}", bold=note.loud)
    if state.estimate is not None and state.used:
        found, at = state.estimate, state.used[-1].pressure
        zero = format_quantity(found.threshold[1], "pressure", unit=unit)
        read = (f"from {len(state.used)} read: {format_quantity(found.grip(at), 'force', system)} at "
                f"{format_quantity(at, 'pressure', unit=unit)}, nothing up to {zero}")  # fmt: skip
        say(console, f"{read}; plans take {_taken(found)} of the plate's grip" if state.has_plate else read)
    table = _table("entry", "when", "pressure", "grip, all jaws", "by", "")
    for number, row in enumerate(state.readings, 1):
        why = "does not fit" if state.is_doubtful(row) else state.why_unused(row)
        table.add_row(str(number), f"{row.at:{MINUTE}}", format_quantity(row.pressure, "pressure", unit=unit),
                      format_quantity(row.force, "force", system), row.by, why)  # fmt: skip
    if state.readings:
        console.print(table)
    say(console, IN_SHORT)


def show_setups(
    console: Console, rows: Sequence[tuple[SetupRecord, RunRecord | None]], replanned: Mapping[str, Replanned]
) -> None:
    """Every setup, with its last run, and its last re-plan by id."""
    if not rows:
        say(console, "no setup is in the records; heldtrue run enter SETUP.toml")
        return
    table = _table("setup", "title", "part", "rev", "version", "jaws", "last run", "re-planned")
    for card, last in rows:
        again = replanned.get(card.id)
        table.add_row(card.id, card.title, card.part or "", card.revision, str(card.version), card.jaw_set or "",
                      f"{last.at:{DAY}}, {last.quantity} good, {last.scrap} scrap" if last else "never",
                      f"{again.last_at:{DAY}}, {again.verdict}" if again else "never")  # fmt: skip
    console.print(table)


def show_stock(console: Console, cards: Sequence[Thing]) -> None:
    """Machines, blanks, rings and tools."""
    table = _table("kind", "id", "what", "where")
    for one in cards:
        if isinstance(one, BlankRecord):
            row = ("blank", f"{one.style}, {one.material}, {one.serration}, {one.in_stock} sets", one.place)
        elif isinstance(one, RingRecord):
            inside = "" if one.inside is None else f" / Ø{one.inside:g}"
            row = (one.kind, f"Ø{one.outside:g}{inside} x {one.width:g} mm", one.place)
        elif isinstance(one, ToolRecord):
            row = ("tool", "" if one.nose_radius is None else f"nose radius {one.nose_radius:g} mm", one.place)
        else:
            speed = getattr(one, "max_speed_rpm", None)
            row = ("machine", "" if speed is None else f"to {speed:g} rev/min", "")
        table.add_row(row[0], one.id, row[1], row[2])
    console.print(table)


def show_runs(
    console: Console, card: SetupRecord, runs: Sequence[RunRecord], gates: Sequence[DecisionRow],
    changes: Iterable[Change],
) -> None:  # fmt: skip
    """Runs and starts of one setup."""
    say(console, f"{card.id}, version {card.version}: {card.title}", bold=True)
    for change in changes:
        say(console, f"- changed since the last run: {change.words}")
    table = _table("when", "what", "by", "to know")
    events: list[tuple[datetime, RunRecord | DecisionRow]] = [*((one.at, one) for one in runs)]
    events += [(one.at, one) for one in gates]
    for at, one in sorted(events, key=lambda pair: pair[0]):
        if isinstance(one, DecisionRow):
            note = f"overridden: {one.override_reason}" if one.override_reason else one.reason
            table.add_row(f"{at:{MINUTE}}", f"gate at {one.gauge_text}: {one.verdict}", one.by, note)
        else:
            read = ", ".join(f"{name} {value:g}" for name, value in one.readings.items())
            table.add_row(f"{at:{MINUTE}}", f"run: {one.quantity} good, {one.scrap} scrap", one.by,
                          "; ".join(filter(None, [read, one.remark])))  # fmt: skip
    console.print(table)


def _standing_row(one: Standing, units: UnitSystem) -> list[str]:
    return [
        one.jaw_set, one.style, one.material, one.side, _diameter(one.diameter, units),
        "" if one.tooth is None else str(one.tooth), one.chuck or "",
        "" if one.cuts_left is None else str(one.cuts_left), *_where(one),
    ]  # fmt: skip


def _where(one: Standing) -> tuple[str, str]:
    where = f"{one.holder} has it" if one.holder else one.place
    state = "retired" if one.retired else one.condition
    if one.missing:
        state = f"{state}, jaw {', '.join(str(n) for n in one.missing)} missing".lstrip(", ")
    return where, state


def _row_words(row: object, units: UnitSystem) -> str:
    if isinstance(row, SetCut):
        where = " on ".join(filter(None, [row.chuck, row.machine]))
        read = "planned" if row.diameter_error is None else f"measured within {_length(row.diameter_error, units)}"
        size = f"Ø{_length(row.diameter, units)} {read}"
        steps = "; ".join(f"step Ø{_length(d, units)} at {_length(z, units)}" for d, z in row.bore_steps or ())
        told = "steps not recorded" if row.bore_steps is None else steps
        cut = f"{row.kind} {size}, tooth {row.tooth or '?'}, {where or 'chuck not said'}"
        return ", ".join(filter(None, [cut, told]))
    if isinstance(row, SetMove):
        if row.photo:
            return "photo"
        tail = [row.holder, row.place, row.condition]
        missing = f"jaw {', '.join(str(n) for n in row.missing)} missing" if row.missing else ""
        return ", ".join(filter(None, [row.kind, *tail, missing, row.remark]))
    if isinstance(row, RunRecord):
        return f"run of {row.setup}: {row.quantity} good, {row.scrap} scrap"
    return f"indicator, {getattr(row, 'surface', '') or 'no surface said'}"


def _taken(found: GripEstimate) -> str:
    """Least and most share of the plate that plans take."""
    return f"{found.share[0]:.0%} to {found.share[2]:.0%}"


def _diameter(value: float | None, units: UnitSystem) -> str:
    return "" if value is None else f"Ø{_length(value, units)}"


def _length(value: float | None, units: UnitSystem) -> str:
    return "" if value is None else format_quantity(value, "length", units)


def _table(*names: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in names:
        table.add_column(name)
    return table
