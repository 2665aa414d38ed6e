"""One setup on another machine: the same draw force, that gauge's pressure, every difference. N, MPa, mm."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from heldtrue.errors import InputError
from heldtrue.planning.plan import plan
from heldtrue.planning.result import Plan
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import format_quantity
from heldtrue.records import Store
from heldtrue.shop.from_records import with_records


@dataclass(frozen=True)
class Difference:
    """One difference between two chucks: ``blocks`` where the setup cannot run there as it is."""

    what: str
    here: str
    there: str
    blocks: bool = False


@dataclass(frozen=True)
class Moved:
    """A setup on another chuck and machine.

    ``draw_force``: that of the pressure here [N]; ``pressure_here`` and ``pressure_there`` give it [MPa];
    ``differences``: what blocks comes first; ``setup``: as it stands there, None where it cannot be planned there, and
    then ``why``; ``plan`` of it.
    """

    draw_force: float
    pressure_here: float
    pressure_there: float | None
    differences: tuple[Difference, ...]
    setup: Setup | None
    plan: Plan | None
    why: str = ""

    @property
    def blocked(self) -> bool:
        """Is there a difference the setup cannot live with?"""
        return self.setup is None or any(one.blocks for one in self.differences)


def move(
    setup: Setup, chuck: dict[str, object], machine: dict[str, object] | None = None, *,
    known: Callable[[Setup], Setup] = lambda setup: setup,
) -> Moved:  # fmt: skip
    """What becomes of a setup with another chuck (and machine), given in the shape of the setup file.

    ``known``: gives a setup with what the records know of its chuck and jaws, here and there.

    Raises: ``InputError`` for a setup without a piston area or a pressure, here or there.
    """
    table = setup.to_dict()
    table["chuck"] = chuck
    if machine is not None:
        table["machine"] = machine
    table.get("run", {}).pop("pressure", None)
    here = plan(known(setup))
    pressure = here.pressure.used
    draw = pressure * _area(setup, "here")
    try:
        there = Setup.from_dict(table)
        needed = draw / _area(there, "there")
        found = known(there.with_({"run.pressure": needed}))
        made = plan(found)
    except InputError as error:
        return Moved(draw, pressure, None, (), None, None, str(error))
    return Moved(draw, pressure, needed, _differences(setup, found, needed), found, made)


def move_known(
    store: Store, setup: Setup, chuck: dict[str, object], machine: dict[str, object] | None, now: datetime
) -> Moved:
    """The same with what the records know, as every plan and start has it."""
    return move(setup, chuck, machine, known=lambda one: with_records(one, store, now)[0])


def _area(setup: Setup, where: str) -> float:
    actuator = setup.chuck.actuator
    area = actuator.pull_area if setup.grip.side == "outside" else actuator.push_area
    if area is None:
        raise InputError(f"the piston area of the cylinder {where} is not known: the draw force cannot be kept")
    return area


def _differences(here: Setup, there: Setup, pressure: float) -> tuple[Difference, ...]:
    """Every difference that blocks or matters, what blocks first."""
    a, b = here.chuck, there.chuck
    found = [
        _said("number of jaws", a.jaws, b.jaws, blocks=a.jaws != b.jaws),
        _said("teeth of the master jaws", _serration(here), _serration(there),
              blocks=_serration(here) != _serration(there)),
        _said("gauge", gauge_unit_of(here), gauge_unit_of(there)),
        _sized("piston area", _area(here, "here"), _area(there, "there"), "area", there),
        _sized("highest draw force", a.max_draw_force, b.max_draw_force, "force", there),
        _sized("highest grip force", a.max_grip_force, b.max_grip_force, "force", there),
        _sized("highest speed of the chuck", a.max_speed_rpm, b.max_speed_rpm, "speed_rpm", there,
               blocks=there.run is not None and (there.run.speed_rpm or 0) > b.max_speed_rpm),
        _sized("jaw travel", a.jaw_travel, b.jaw_travel, "length", there),
        _sized("swing", a.swing, b.swing, "length", there),
        _sized("grip height the plate holds for", a.reference_grip_height, b.reference_grip_height, "length", there),
    ]  # fmt: skip
    most = b.actuator.max_pressure
    if most is not None and pressure > most:
        found.append(Difference(
            "pressure for the same draw force", "", f"{_gauge(there, pressure)}, the cylinder takes "
            f"{_gauge(there, most)}", blocks=True,
        ))  # fmt: skip
    least = b.actuator.least_pressure
    if least is not None and pressure < least:
        found.append(Difference(
            "pressure for the same draw force", "", f"{_gauge(there, pressure)}, steady only from "
            f"{_gauge(there, least)}", blocks=True,
        ))  # fmt: skip
    told = [one for one in found if one is not None]
    return tuple(sorted(told, key=lambda one: not one.blocks))


def _serration(setup: Setup) -> str:
    return (setup.chuck.master_jaws.serration if setup.chuck.master_jaws else None) or "not stated"


def _said(what: str, here: object, there: object, *, blocks: bool = False) -> Difference | None:
    return None if here == there else Difference(what, str(here), str(there), blocks)


def _sized(
    what: str, here: float | None, there: float | None, kind: str, setup: Setup, *, blocks: bool = False
) -> Difference | None:
    if here == there and not blocks:
        return None
    texts = ["not stated" if one is None else format_quantity(one, kind, setup.units) for one in (here, there)]
    return Difference(what, texts[0], texts[1], blocks)


def _gauge(setup: Setup, pressure: float) -> str:
    return format_quantity(pressure, "pressure", unit=gauge_unit_of(setup))
