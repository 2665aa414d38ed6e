"""The contact of part and jaws as a JSON document, and its JSON Schema.

Lengths in mm, contact pressures in MPa, forces in N; the gauge pressure in the unit of the gauge.
"""

from __future__ import annotations

from typing import Any

from pydantic import Field

from heldtrue.json_document import FORMAT, Entry, schema_of, to_json
from heldtrue.planning.document import AssumedEntry, PrintEntry, assumed_entry, bounded
from heldtrue.planning.fitting import BoreChoice
from heldtrue.planning.jaw_contact import JawContact, peak_over_mean
from heldtrue.planning.result import Array, ContactPrint
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import from_core

Grid = list[list[float | None]]


class SetPressure(Entry):
    """The gauge pressure the contact was worked out at."""

    unit: str
    value: float
    from_: str = Field(serialization_alias="from", description="stated, advised, or why neither")


class FacePrint(PrintEntry):
    """The contact print of one jaw: half its face, the other half mirrors it."""

    z_edges: list[float] = Field(description="borders of the rows, from the seat [mm]")
    angle_edges: list[float] = Field(description="borders of the columns, from the middle of the jaw [rad]")
    pressure: Grid = Field(description="rows along z, columns round the part [MPa]; null in a groove")
    gap: Grid = Field(description="in the same cells [mm]; null in a groove")
    peak_over_mean: float = Field(description="highest pressure over the mean of the face")


class TaperPrint(Entry):
    """One taper that was tried on the middle part."""

    per_side: float = Field(description="over the gripped length, positive towards the part at the tip [mm]")
    print: FacePrint


class TaperEntry(Entry):
    """The taper to cut, and what a little less and a little more does. [mm, N]"""

    needed: bool = Field(description="is it worth cutting?")
    per_side: float = Field(description="over the gripped length, positive towards the part at the tip [mm]")
    low: float = Field(description="the same on the softest or stiffest base the jaws may stand on, the lesser [mm]")
    high: float = Field(description="and the greater [mm]")
    on_diameter: float = Field(description="twice per_side [mm]")
    words: str
    bored_force: float = Field(description="of the boring ring on one jaw [N]")
    used_force: float = Field(description="of one jaw on the part [N]")
    tried: list[TaperPrint] = Field(description="no taper, this taper, a step less and a step more")


class BoreEntry(Entry):
    """One diameter to bore the jaws to. [mm]"""

    bore_diameter: float
    form_error: float | None = Field(description="worst run-out or flatness over the parts; null without a surface")
    unevenness: float = Field(description="peak over mean pressure of the part that is worst")
    prints: list[FacePrint]


class BoresEntry(Entry):
    """The bores to choose from."""

    as_set_up: BoreEntry
    truest: BoreEntry = Field(description="with the least form error")
    most_even: BoreEntry = Field(description="with the most even contact")


class FrictionEntry(Entry):
    """Run-out or flatness of one surface by the friction between jaws and part while clamping."""

    surface: str
    by_friction: list[tuple[float, float]] = Field(description="pairs of friction and form [mm], from none upwards")


class ContactDocument(Entry):
    """How the jaws bear on the part."""

    format: int = FORMAT
    title: str
    part: str
    revision: str
    pressure: SetPressure
    grip: float = Field(description="likely, of all jaws, at that pressure and the finishing speed [N]")
    prints: list[FacePrint] = Field(description="smallest, middle and largest part in the jaws as set up")
    taper: TaperEntry
    bores: BoresEntry
    friction: list[FrictionEntry] = Field(description="one for each machined surface")
    assumed: list[AssumedEntry] = Field(description="the assumed inputs that move a print")
    notes: list[str]
    cautions: list[str]


def contact_document(contact: JawContact) -> ContactDocument:
    """The JSON document of a contact."""
    unit = gauge_unit_of(contact.setup)
    taper, bores = contact.taper, contact.bores

    def bore(choice: BoreChoice) -> BoreEntry:
        return BoreEntry(
            bore_diameter=choice.bore_diameter, form_error=choice.form_error if contact.setup.surfaces else None,
            unevenness=choice.unevenness, prints=[face_print(one) for one in choice.prints],
        )  # fmt: skip

    return ContactDocument(
        title=contact.setup.title,
        part=contact.setup.part.number,
        revision=contact.setup.part.revision,
        pressure=SetPressure(
            unit=unit, value=from_core(contact.pressure, "pressure", unit), from_=contact.pressure_from
        ),
        grip=contact.grip,
        prints=[face_print(one) for one in contact.prints],
        taper=TaperEntry(
            needed=taper.needed, per_side=taper.per_side, low=taper.low, high=taper.high,
            on_diameter=taper.on_diameter, words=taper.words,
            bored_force=taper.bored_force, used_force=taper.used_force,
            tried=[TaperPrint(per_side=cut, print=face_print(one)) for cut, one in taper.prints],
        ),
        bores=BoresEntry(as_set_up=bore(bores.nominal), truest=bore(bores.truest), most_even=bore(bores.most_even)),
        friction=[FrictionEntry(surface=f.surface, by_friction=list(f.by_friction)) for f in contact.friction],
        assumed=[assumed_entry(known, unit) for known in contact.rests_on],
        notes=list(contact.notes),
        cautions=list(contact.cautions),
    )  # fmt: skip


def face_print(one: ContactPrint) -> FacePrint:
    """A contact print with its pressures."""
    return FacePrint(
        fit=one.fit, part_diameter=one.part_diameter, bore_diameter=one.bore_diameter, taper=one.taper, peak=one.peak,
        words=one.words, z_edges=list(one.z_edges), angle_edges=list(one.angle_edges), pressure=_grid(one.pressure),
        gap=_grid(one.gap), peak_over_mean=peak_over_mean(one),
    )  # fmt: skip


def contact_json(contact: JawContact) -> str:
    """A contact as JSON text."""
    return to_json(contact_document(contact))


def contact_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the contact document."""
    return schema_of(ContactDocument)


def _grid(values: Array) -> Grid:
    return [[bounded(float(value)) for value in row] for row in values]
