"""A part as read, as a JSON document, and its JSON Schema. Lengths in mm, volumes in mm3."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from heldtrue.json_document import FORMAT, Entry, schema_of
from heldtrue.part_file.outline import Point
from heldtrue.part_file.turned_part import TurnedPart, TurnedSurface


class AxisEntry(Entry):
    """Where the axis of the part lies in the file."""

    origin: list[float] = Field(description="a point on it; z of the section is 0 there [mm]")
    direction: list[float] = Field(description="the way in which z of the section grows; length 1")


class ArcEntry(Entry):
    """A true arc of the section."""

    start: list[float] = Field(description="[diameter, z] [mm]")
    end: list[float] = Field(description="[diameter, z] [mm]")
    centre: list[float] = Field(description="[diameter, z] [mm]")
    radius: float = Field(description="[mm]")
    counterclockwise: bool = Field(description="seen with z up and the diameter to the right")


class TolerancesEntry(Entry):
    """What the file asks of a surface, full width; null where it asks nothing. [mm]"""

    size: list[float] | None = Field(description="lower and upper deviation of the diameter")
    roundness: float | None
    cylindricity: float | None
    runout: float | None = Field(description="circular run-out")
    flatness: float | None


class SurfaceEntry(Entry):
    """A cylinder or flat face of the section, as a setup file takes it. [mm]"""

    name: str
    side: str = Field(description="outside, inside or face")
    diameter: float | list[float] = Field(description="of a face inner and outer")
    z: float | list[float] = Field(description="from, to; of a face its one position")
    tolerances: TolerancesEntry


class NotTurnedEntry(Entry):
    """Something on the part that no lathe turns."""

    kind: str
    size: str
    at: str


class PartDocument(Entry):
    """A turned part as a drawing file has it."""

    format: int = FORMAT
    axis: AxisEntry
    volume: float = Field(description="of the section turned full round [mm3]")
    solid_volume: float | None = Field(
        description="of the solid as the kernel measures it; null where there is none [mm3]"
    )
    profile: list[list[float]] = Field(description="corners [diameter, z] in order, arcs as chords within 1 um [mm]")
    arcs: list[ArcEntry]
    surfaces: list[SurfaceEntry]
    not_turned: list[NotTurnedEntry]
    notes: list[str]


def part_document(part: TurnedPart) -> PartDocument:
    """A part as a document."""
    return PartDocument(
        axis=AxisEntry(origin=list(part.axis_origin), direction=list(part.axis_direction)),
        volume=part.outline.volume,
        solid_volume=part.solid_volume,
        profile=[_corner(point) for point in part.outline.polygon()],
        arcs=[
            ArcEntry(start=_corner(arc.start), end=_corner(arc.end), centre=_corner(arc.centre),
                     radius=arc.radius, counterclockwise=arc.counterclockwise)
            for arc in part.outline.arcs
        ],
        surfaces=[_surface(one) for one in part.surfaces],
        not_turned=[NotTurnedEntry(kind=one.kind, size=one.size, at=one.at) for one in part.not_turned],
        notes=list(part.notes),
    )  # fmt: skip


def part_schema() -> dict[str, Any]:
    """JSON Schema of what ``heldtrue part --json`` prints."""
    return schema_of(PartDocument)


def _corner(point: Point) -> list[float]:
    return [2 * point[0], point[1]]


def _surface(one: TurnedSurface) -> SurfaceEntry:
    asked = one.tolerances
    face = one.side == "face"
    return SurfaceEntry(
        name=one.name,
        side=one.side,
        diameter=list(one.diameters) if face else one.diameters[0],
        z=one.z[0] if face else list(one.z),
        tolerances=TolerancesEntry(
            size=None if asked.size is None else list(asked.size), roundness=asked.roundness,
            cylindricity=asked.cylindricity, runout=asked.runout, flatness=asked.flatness,
        ),
    )  # fmt: skip
