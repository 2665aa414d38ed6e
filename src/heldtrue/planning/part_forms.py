"""The forms of a part in a setup file that are no corners: a file, a shape, stock; and surfaces chosen by name.

They become corners and keys before the tables are read, so that everything after that knows only those.  What they
were is kept beside the setup, and written again as long as it still gives the same corners.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from heldtrue.errors import InputError
from heldtrue.part_file.outline import OutlineCorner
from heldtrue.part_file.turned_part import NotRound, TurnedSurface
from heldtrue.planning.allowance import Gripped, with_allowance
from heldtrue.planning.drawn_part import (
    from_file,
    from_shape,
    from_stock,
    kind_of,
    outline_corners,
    surfaces_by_name,
)
from heldtrue.planning.drawn_rows import corner_row, exact, not_round_row, surface_row
from heldtrue.planning.entries import Corner, Grip, Part, SectionSource, Source, UnitSystem
from heldtrue.planning.forms_asked import SECTIONS, Section, is_form
from heldtrue.planning.not_round import off_centre_drawn
from heldtrue.planning.slips import implausible_in
from heldtrue.quantities import describe

Table = dict[str, Any]
Read = Callable[[type[Any], Any, str, str], Any]
"""Reads one table of the file: its type, what stands there, its place in words, its path; ``None`` if it cannot."""


class PartForms:
    """Turns the other forms of one setup into corners and keys; ``drawn`` is what they were, by section."""

    def __init__(self, system: UnitSystem, base_dir: Any, read: Read, problems: list[str]) -> None:
        self._system: UnitSystem = system
        self._base_dir = base_dir
        self._read = read
        self._problems = problems
        self.drawn: dict[str, SectionSource] = {}
        self._of_file: tuple[TurnedSurface, ...] = ()
        self._has_holes = False
        self._not_round: tuple[NotRound, ...] = ()
        self._off_centre = 0.0

    def expanded(self, raw: Table) -> Table:
        """The setup with corners and keys in place of the other forms; without its part where that fails."""
        part = raw.get("part")
        if not isinstance(part, Mapping):
            return raw
        part, before = dict(part), len(self._problems)
        if is_form(part.get("profile")):
            part["profile"] = self._section("profile", part["profile"], (), None)
            if self._has_holes and part.get("holes") is None:
                part["holes"] = {"value": True, "from": "drawing"}  # cuts across them count as interrupted
        corners = self._corners(part.get("profile")) if len(self._problems) == before else ()
        surfaces = self._of_file or surfaces_by_name(corners, self._system)
        raw = _with_surfaces({**raw, "part": part}, surfaces, self._system, self._problems)
        if is_form(part.get("blank")):
            part["blank"] = self._section("blank", part["blank"], outline_corners(corners), self._gripped(raw))
        self._keep_not_round(part)
        if any(part.get(key) is None for key in SECTIONS if key in part):
            raw["part"] = None
        return raw

    def _section(self, key: Section, given: Any, profile: Sequence[OutlineCorner], grip: Gripped | None) -> Any:
        """The corners as they would be typed; ``None`` where there are none to be had, and a problem says why."""
        table = {"file": given} if isinstance(given, str) else given
        source = self._read(SectionSource, table, f"part: {key}", f"part.{key}_from")
        if source is None:
            return None
        if odd := list(implausible_in(source, f"part: {key}", self._system)):
            self._problems.extend(odd)
            return None
        try:
            if key == "profile" and kind_of(source) not in ("file", "shape"):
                raise InputError("bar, tube and allowances are for a blank; give a file, a shape or corners")
            if kind_of(source) == "file":
                seated = from_file(source, self._base_dir, self._system)
                corners = seated.corners
                if key == "profile":
                    self._of_file, self._has_holes = seated.surfaces, seated.has_holes
                self._not_round = (*self._not_round, *(one for one in seated.not_round if one not in self._not_round))
                self._off_centre = max(self._off_centre, seated.off_centre)
                source = source.model_copy(update={"sha256": seated.digest, "corners": None})
            else:
                corners = corners_of(source, profile, grip)
        except InputError as error:
            self._problems.extend(f"part: {key}: {problem}" for problem in error.problems)
            return None
        self.drawn[key] = source
        rows = [corner_row(corner, exact(self._system)) for corner in corners]
        by_file: Source | None = "drawing" if source.file else None
        stated = table.get("from", by_file)
        return {"value": rows, "from": stated} if stated else rows

    def _keep_not_round(self, part: Table) -> None:
        """What a drawing has of hexagons, sockets and eccentrics, where nobody has said it already."""
        size = exact(self._system)
        if self._not_round and part.get("not_round") is None:
            part["not_round"] = [not_round_row(one, size) for one in self._not_round]
        if self._off_centre and part.get("off_centre") is None:
            part["off_centre"] = {"value": size(off_centre_drawn(self._off_centre)), "from": "drawing"}

    def _corners(self, raw: Any) -> tuple[Corner, ...]:
        rows = raw.get("value") if isinstance(raw, Mapping) else raw
        found = []
        for number, row in enumerate(rows if isinstance(rows, list | tuple) else ()):
            corner = _quietly(self._read, self._problems, Corner, row, f"part: profile: corner {number + 1}")
            if corner is None:
                return ()
            found.append(corner)
        return tuple(found)

    def _gripped(self, raw: Table) -> Gripped | None:
        grip = _quietly(self._read, self._problems, Grip, raw.get("grip"), "grip")
        return None if grip is None else Gripped(grip.side, grip.diameter, grip.z)


def corners_of(
    source: SectionSource, profile: Sequence[OutlineCorner], grip: Gripped | None
) -> tuple[OutlineCorner, ...]:
    """The corners of a source that needs no file. Raises: ``InputError``."""
    kind = kind_of(source)
    if kind == "shape":
        return from_shape(source)
    if kind == "allowance":
        return with_allowance(profile, source.on_diameter or 0.0, source.on_faces or 0.0, grip)
    return from_stock(source)


def still_gives(source: SectionSource, corners: Sequence[Corner], part: Part, grip: Grip) -> bool:
    """Does a source that needs no file still give these corners?"""
    try:
        found = corners_of(source, outline_corners(part.profile), Gripped(grip.side, grip.diameter, grip.z))
    except InputError:
        return False
    return len(found) == len(corners) and all(
        abs(2 * one.r - other.diameter) < 1e-6
        and abs(one.z - other.z) < 1e-6
        and (one.radius or 0.0) == (other.radius or 0.0)
        and not other.chamfer
        for one, other in zip(found, corners, strict=True)
    )


def _with_surfaces(raw: Table, surfaces: Sequence[TurnedSurface], system: UnitSystem, problems: list[str]) -> Table:
    """Grip, cuts and surfaces that name a surface of the part, with its figures filled in."""
    known = {one.name: one for one in surfaces}
    listed = raw.get("surface", [])
    if not isinstance(listed, list | tuple):
        return raw
    filled = [_filled(one, known, system) for one in listed]
    names = [one.get("name") for one in filled if isinstance(one, Mapping)]
    cuts = raw.get("cut", [])
    for cut in cuts if isinstance(cuts, list | tuple) else ():
        name = cut.get("surface") if isinstance(cut, Mapping) else None
        if isinstance(name, str) and name in known and name not in names:
            names.append(name)
            filled.append(_filled({"name": name}, known, system))
    for number, (given, one) in enumerate(zip(listed, filled, strict=False)):
        if isinstance(given, Mapping) and one is given and not {"side", "diameter", "z"} & given.keys():
            problems.append(_no_such(f"surface {number + 1}: name", given.get("name"), known))
    raw = {**raw, "surface": filled} if filled else raw
    grip = raw.get("grip")
    if isinstance(grip, Mapping) and "surface" in grip:
        raw["grip"] = _grip(grip, known, filled, system, problems)
    return raw


def _filled(given: Any, known: Mapping[str, TurnedSurface], system: UnitSystem) -> Any:
    """A surface table with what it leaves out, where it has the name of a surface of the part."""
    name = given.get("name") if isinstance(given, Mapping) else None
    if not isinstance(name, str) or name not in known or {"side", "diameter", "z"} <= given.keys():
        return given
    one = known[name]
    return {**surface_row(one, exact(system)), **given}


def _grip(
    grip: Mapping[str, Any], known: Mapping[str, TurnedSurface], listed: Sequence[Any], system: UnitSystem,
    problems: list[str],
) -> Table | None:  # fmt: skip
    """The grip with side, diameter and size tolerance of the surface it names; ``None`` where it names none."""
    rest = {key: value for key, value in grip.items() if key != "surface"}
    name = grip["surface"]
    table = next((one for one in listed if isinstance(one, Mapping) and one.get("name") == name), None)
    if isinstance(name, str) and name in known:
        table = {**surface_row(known[name], exact(system)), **(table or {})}
    if table is None:
        problems.append(_no_such("grip: surface", name, known))
        return None
    if table.get("side") == "face":
        problems.append(f"grip: surface: {describe(name)} is a face; jaws grip an outside or an inside")
        return None
    for key in ("side", "diameter", "diameter_tolerance"):
        if key in rest and key != "diameter_tolerance":
            problems.append(f"grip: {key}: the surface {describe(name)} says it already; leave one of them out")
        elif key not in rest and key in table:
            rest[key] = table[key]
    return rest


def _no_such(place: str, name: Any, known: Mapping[str, TurnedSurface]) -> str:
    listed = ", ".join(f"'{one}'" for one in known) or "none that can be named"
    return f"{place}: the part has no surface {describe(name)}; its surfaces are {listed}"


def _quietly(read: Read, problems: list[str], table: type[Any], raw: Any, place: str) -> Any:
    """A table read for a look: its problems are said where it is read in earnest."""
    before = len(problems)
    found = read(table, raw, place, "look") if isinstance(raw, Mapping | list | tuple) else None
    del problems[before:]
    return found


def short_forms(
    written: Table,
    drawn: Mapping[str, SectionSource],
    part: Part,
    grip: Grip,
    write: Callable[[SectionSource, str], Any],
) -> Iterator[tuple[Section, Any]]:
    """Profile and blank as they were given, where they still stand for the corners that are written."""
    for key in SECTIONS:
        source = drawn.get(key)
        corners: tuple[Corner, ...] | None = getattr(part, key)
        if source is None or corners is None:
            continue
        given = written[key]
        rows, stated = (given["value"], given["from"]) if isinstance(given, Mapping) else (given, None)
        if source.file is not None:
            form = _with_source(write(source, key), stated, "drawing")
            yield key, {**form, "corners": rows}
        elif still_gives(source, corners, part, grip):
            yield key, _with_source(write(source, key), stated, None)


def _with_source(form: Table, stated: Source | None, usual: Source | None) -> Table:
    """The source of all its values once, at the table."""
    bare = {
        name: value["value"] if isinstance(value, Mapping) and value.get("from") == stated else value
        for name, value in form.items()
    }
    return bare if stated in (None, usual) else {**bare, "from": stated}
