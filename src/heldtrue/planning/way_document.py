"""The JSON of the ways to hold a part."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from heldtrue.json_document import FORMAT, Entry, schema_of
from heldtrue.json_document import to_json as as_json
from heldtrue.planning.document import Pressure, bounded, pressure_entry
from heldtrue.planning.other_holding_words import name_words, other_words
from heldtrue.planning.other_way import OtherWay
from heldtrue.planning.phrases import needs_words
from heldtrue.planning.result import CAUTIONS
from heldtrue.planning.way_words import drop_name, drop_words, surface_words, way_name, what_first, why_words
from heldtrue.planning.ways import AMPLE, COSTS, RankedWay, Ways
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import KINDS, UnitSystem
from heldtrue.tooling.jaws import STYLES


class WayFoundEntry(Entry):
    """One way that was worked out in full. [mm; margins as shares of their limits]"""

    name: str
    side: str = Field(json_schema_extra={"enum": ["outside", "inside"]})
    surface: str
    diameter: float
    z: tuple[float, float]
    style: str = Field(json_schema_extra={"enum": list(STYLES)})
    jaws: int
    chuck: str = Field(description="number of the chuck of the shop; empty for the stated one")
    machine: str = Field(description="where that chuck stands, if elsewhere; else empty")
    stated: bool
    verdict: str
    hold_spare: float | None = Field(description="least margin of holding; null where nothing is asked")
    form_spare: float | None = Field(description="least margin of form; null where nothing is asked")
    cost: str = Field(json_schema_extra={"enum": list(COSTS)})
    jaw_set: str = Field(description="set of the shelf that it takes; empty where none is known")
    window: Pressure
    what_first: str
    why: str
    needs: str


class DroppedEntry(Entry):
    """Ways that were not worked out, and why."""

    name: str
    why: str
    count: int
    reason: str


class ForceWindow(Entry):
    """Least and most clamping force, or of a centre gauge pressure. [N or MPa]"""

    low: float
    high: float
    unit: str


class OtherEntry(Entry):
    """A way that is not jaws alone."""

    kind: str
    means: str = Field(description="how the grip is made, or where clamps come from")
    name: str
    verdict: str = Field(description="`not computed` for what is only named")
    window: ForceWindow | None
    words: list[str]


class WaysDocument(Entry):
    """The ways to hold one part, best first; ``beaten``: worked out, and another is better in everything."""

    format: int = FORMAT
    ways: list[WayFoundEntry]
    beaten: list[WayFoundEntry]
    dropped: list[DroppedEntry]
    others: list[OtherEntry] = Field(description="that are not jaws alone; looked for where no jaw passes")
    looked_at: int
    planned: int
    seconds: float
    stopped: bool = Field(description="was the search stopped before its end?")
    cautions: list[str]


def ways_json(found: Ways) -> str:
    """The ways as JSON text."""
    units, gauge = found.setup.units, gauge_unit_of(found.setup)
    dropped = [
        DroppedEntry(name=drop_name(one, units), why=drop_words(one, units, gauge),
                     count=one.count, reason=one.reason)
        for one in found.dropped
    ]  # fmt: skip
    return as_json(WaysDocument(
        ways=[_entry(way) for way in found.best], beaten=[_entry(way) for way in found.beaten], dropped=dropped,
        others=[_other(way, units) for way in found.others],
        looked_at=found.looked_at, planned=found.planned, seconds=round(found.seconds, 3), stopped=found.stopped,
        cautions=list(CAUTIONS),
    ))  # fmt: skip


def ways_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the ways document."""
    return schema_of(WaysDocument)


def _entry(way: RankedWay) -> WayFoundEntry:
    one, units, place = way.candidate, way.setup.units, way.candidate.place
    return WayFoundEntry(
        name=way_name(one, units), side=place.side, surface=surface_words(place.side, place.diameter, units),
        diameter=place.diameter, z=place.z, style=one.style, jaws=one.jaws, chuck=one.chuck, machine=one.machine,
        stated=one.is_stated,
        verdict=way.plan.verdict, hold_spare=_spare(way.hold), form_spare=_spare(way.form),
        cost=way.cost, jaw_set=way.jaw_set, window=pressure_entry(way.plan), what_first=what_first(way),
        why=why_words(way, units), needs=needs_words(one),
    )  # fmt: skip


def _other(way: OtherWay, units: UnitSystem) -> OtherEntry:
    window = None
    if way.window is not None:
        low, high, kind = way.window
        window = ForceWindow(low=low, high=high, unit=KINDS[kind].core)
    return OtherEntry(kind=way.kind, means=way.means, name=name_words(way, units),
                      verdict=way.state if way.is_computed else "not computed", window=window,
                      words=list(other_words(way, units)))  # fmt: skip


def _spare(margin: float) -> float | None:
    return None if margin >= AMPLE else bounded(margin)
