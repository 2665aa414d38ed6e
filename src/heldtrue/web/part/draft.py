"""The setup that comes of a part and of what was chosen for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from heldtrue.part_file.choices import Choices
from heldtrue.part_file.outline import OutlineCorner
from heldtrue.part_file.surfaces import not_round_seated, seated
from heldtrue.part_file.turned_part import TurnedPart, TurnedSurface
from heldtrue.planning.allowance import Gripped, with_allowance
from heldtrue.planning.drawn_part import plan_corners
from heldtrue.planning.drawn_rows import Size, corner_row, not_round_row, rounded, surface_row
from heldtrue.planning.not_round import off_centre_drawn
from heldtrue.quantities import UnitSystem
from heldtrue.web.fields import Table
from heldtrue.web.part.words import State

KIND_OF = {"outside": "turn", "inside": "bore", "face": "face"}
ALLOWANCES = ("on_diameter", "on_faces")


@dataclass(frozen=True)
class Chosen:
    """What was chosen for the setup.

    ``low_end``: the end of low z is towards the chuck, or the other one; None: not said yet. ``gripped``, ``turned``:
    numbers of surfaces, from 0; ``lengths`` [mm], where typed: ``grip_from``, ``grip_to`` along z,
    and ``on_diameter``, ``on_faces``, by which the blank is larger; ``chuck``, ``jaws``: keys of those of the shop;
    ``system``: units of the setup.
    """

    low_end: bool | None = None
    state: State = "finished"
    gripped: int | None = None
    turned: tuple[int, ...] = ()
    lengths: Mapping[str, float] = field(default_factory=dict)
    number: str = ""
    material: str = ""
    chuck: str = ""
    jaws: str = ""
    system: UnitSystem = "metric"

    @property
    def drawn(self) -> tuple[object, ...]:
        """What of it the section shows."""
        return self.low_end, self.gripped, self.turned, self.system

    def on_end(self, low_end: bool) -> Chosen:
        """The same on that end; surfaces are chosen anew, as their places along z are others."""
        kept = {key: length for key, length in self.lengths.items() if key in ALLOWANCES}
        return replace(self, low_end=low_end, gripped=None, turned=(), lengths=kept)

    def in_units(self, system: UnitSystem) -> Chosen:
        """The same in these units."""
        return replace(self, system=system)

    def with_length(self, key: str, length: float | None) -> Chosen:
        """With one of the lengths typed, or emptied."""
        rest = {name: one for name, one in self.lengths.items() if name != key}
        return replace(self, lengths=rest if length is None else {**rest, key: length})

    def read_as(self, system: UnitSystem, number: str) -> Chosen:
        """In these units, with that part number where none was typed."""
        return replace(self, system=system, number=self.number or number)

    def gripping(self, number: int) -> Chosen:
        """Gripped there: what is gripped is not turned."""
        return replace(self, gripped=number, turned=tuple(one for one in self.turned if one != number))

    def turning(self, number: int) -> Chosen:
        """Turned there, or no longer."""
        if number in self.turned:
            return replace(self, turned=tuple(one for one in self.turned if one != number))
        kept = self.gripped if self.gripped != number else None
        return replace(self, turned=tuple(sorted((*self.turned, number))), gripped=kept)


def table_of(part: TurnedPart, chosen: Chosen, choices: Choices, title: str, new: Table) -> Table:
    """The table of a new setup: what the drawing says and what was chosen; all else is still to be typed.

    ``choices``: what was answered about the drawing; ``new``: the table of a setup with nothing in it but the chuck and
    the jaws that were chosen.
    """
    assert chosen.low_end is not None
    outline, surfaces = seated(part, chosen.low_end, chosen.system)
    size, corners = rounded(chosen.system), plan_corners(outline)
    table = {**new, "title": title}
    table["part"] = {"number": chosen.number, "material": chosen.material, "profile": []}
    drawn = "profile" if chosen.state == "finished" else "blank"
    table["part"][drawn] = _section(part, chosen, choices, [corner_row(one, size) for one in corners])
    if chosen.state == "finished" and chosen.lengths.keys() & set(ALLOWANCES):
        table["part"]["blank"] = [corner_row(one, size) for one in _blank(corners, surfaces, chosen)]
    if part.not_turned:  # cuts that run over a slot or a hole knock, and a drawing says so
        table["part"]["holes"] = {"value": True, "from": "drawing"}
    if part.not_round:
        found = not_round_seated(part, chosen.low_end)
        table["part"]["not_round"] = [not_round_row(one, size) for one in found]
    if part.off_centre:
        table["part"]["off_centre"] = {"value": size(off_centre_drawn(part.off_centre)), "from": "drawing"}
    if chosen.gripped is not None:
        table["grip"] = _grip(surfaces[chosen.gripped], chosen, size)
    turned = [surfaces[number] for number in chosen.turned]
    table["surface"] = [surface_row(one, size) for one in turned]
    table["cut"] = [{"name": one.name, "kind": KIND_OF[one.side], "surface": one.name} for one in turned]
    return table


def _section(part: TurnedPart, chosen: Chosen, choices: Choices, corners: list[Any]) -> Any:
    """The section as a setup has it: of a drawing with its name, its hash and how it was taken; of a shape corners."""
    if not part.digest:
        return corners
    answers = {"body": choices.body, "axis": choices.axis, "units": choices.units}
    return {
        "file": part.source, "sha256": part.digest, "seat_end": "low" if chosen.low_end else "high",
        **{key: answer for key, answer in answers.items() if answer is not None}, "corners": corners,
    }  # fmt: skip


def _blank(
    corners: Sequence[OutlineCorner], surfaces: Sequence[TurnedSurface], chosen: Chosen
) -> tuple[OutlineCorner, ...]:
    """The blank as the finished part with its allowances; seat and gripped surface stay. Raises: ``InputError``."""
    gripped = None
    if chosen.gripped is not None:
        one = surfaces[chosen.gripped]
        gripped = Gripped(one.side, one.diameters[0], one.z)
    on_diameter, on_faces = (chosen.lengths.get(key, 0.0) for key in ALLOWANCES)
    return with_allowance(corners, on_diameter, on_faces, gripped)


def _grip(surface: TurnedSurface, chosen: Chosen, size: Size) -> Table:
    """What is known of the grip; whether the part rests on a seat is asked on the plan page."""
    row = surface_row(surface, size)
    grip: Table = {key: row[key] for key in ("side", "diameter", "diameter_tolerance") if key in row}
    if "grip_from" in chosen.lengths and "grip_to" in chosen.lengths:
        grip["z"] = [size(chosen.lengths[key]) for key in ("grip_from", "grip_to")]
    return grip
