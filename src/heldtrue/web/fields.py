"""What can be edited on the plan page: where it stands in the setup file, and how typed text goes in and comes out.

Nothing is parsed here: text goes into the table as it was typed, and ``Setup.from_dict`` reads it.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from heldtrue.errors import InputError
from heldtrue.planning.entries import SetupData
from heldtrue.planning.shapes import Shape, fields_of
from heldtrue.quantities import KINDS, UnitSystem, bare_unit, format_quantity, names_unit, parse_quantity

Table = dict[str, Any]
SOURCED = {"value", "from"}


@dataclass(frozen=True)
class Field:
    """One field: ``path`` in the shape of the setup file (``cut.0.feed``); ``kind`` of ``heldtrue.quantities``.

    ``kind`` is empty for words, ``choice`` for one of ``choices``, ``whole`` for a whole number, ``yes`` for yes or no;
    ``many``: several values with ; between them, ``pairs``: several of two values each; ``words``: what is offered
    while typing, though anything may be typed; ``also``: other paths that are set to the same value with it.
    """

    path: str
    label: str
    kind: str = ""
    choices: tuple[str, ...] = ()
    hint: str = ""
    many: bool = False
    pairs: bool = False
    words: tuple[str, ...] = ()
    also: tuple[str, ...] = ()

    @property
    def is_quantity(self) -> bool:
        """Is it a number with a unit?"""
        return self.kind in KINDS

    @property
    def has_source(self) -> bool:
        """May it say where its value came from? A number may; a corner of a drawing need not."""
        is_corner = self.path.startswith(("part.profile.", "part.blank."))
        return (self.is_quantity or self.kind == "whole") and not (self.many or self.pairs or is_corner)


@dataclass(frozen=True)
class Units:
    """What a bare number means: ``system`` of the file, and for a pressure the unit on the ``gauge``."""

    system: UnitSystem
    gauge: str

    def bare(self, kind: str) -> str:
        """The unit of a bare number of this kind; empty for a plain number."""
        return self.gauge if kind == "pressure" else bare_unit(kind, self.system)


def units_of(table: Table) -> Units:
    """The units of a setup; a gauge that is not said is in bar, or in an inch setup in psi."""
    system: UnitSystem = "inch" if get(table, "units") == "inch" else "metric"
    gauge = bare(get(table, "chuck.actuator.gauge"))
    known = isinstance(gauge, str) and gauge in KINDS["pressure"].units
    return Units(system, gauge if known else usual_gauge(system))


def shape_at(path: str) -> Shape:
    """What the setup file may hold at a path. Raises: ``KeyError`` for one it does not know."""
    here = Shape("table", table=SetupData)
    for step in path.split("."):
        if here.item is not None and step.isdecimal():
            here = here.item
        elif here.table is not None and here.table.__name__ == "Corner" and step in ("0", "1", "2"):
            # A corner is a list in the file: diameter, z, and how it is broken.
            here = here if step == "2" else Shape("quantity", kind="length")
        elif here.table is not None and (found := _key_of(here, step)) is not None:
            here = found
        elif here.name == "quantity" and step.isdecimal():
            continue  # of a face: two diameters
        else:
            raise KeyError(path)
    return here


def _key_of(here: Shape, key: str) -> Shape | None:
    return next((one.shape for one in fields_of(here.table) if one.key == key), None) if here.table else None


def field_at(path: str, label: str, hint: str = "", words: tuple[str, ...] = ()) -> Field:
    """The field for a key of the setup file. Raises: ``KeyError`` for a path it does not know."""
    shape, many, pairs = shape_at(path), False, False
    if shape.name in ("list", "pair") and shape.item is not None and not path.rpartition(".")[2].isdecimal():
        # A face has one z, in a key that otherwise holds two.
        many = shape.name == "list"
        shape = shape.item
        if many and shape.item is not None:
            shape, pairs = shape.item, True
    if shape.name == "yes_no":
        return Field(path, label, "yes", ("yes", "no"), hint)
    if shape.name == "choice":
        return Field(path, label, "choice", shape.choices, hint)
    kind = {"quantity": shape.kind, "whole": "whole"}.get(shape.name, "")
    return Field(path, label, kind, (), hint, many, pairs, words)


def bare(value: Any) -> Any:
    """A value of a setup file without the word where it came from; of a section from a drawing its corners.

    A changed corner takes the drawing away: the section is then no longer the drawing's.
    """
    if isinstance(value, dict) and set(value) == SOURCED:
        return value["value"]
    return value["corners"] if is_from_file(value) else value


def is_from_file(value: Any) -> bool:
    """Is it a half section that was read from a drawing, with the corners that were found there?"""
    return isinstance(value, dict) and isinstance(value.get("file"), str) and isinstance(value.get("corners"), list)


def source_of(table: Table, path: str) -> str:
    """Where the value at a path says it came from, or what it stands in; empty where neither does."""
    steps = path.split(".")
    for count in range(len(steps), 0, -1):
        value = get(table, ".".join(steps[:count]))
        if isinstance(value, dict) and isinstance(value.get("from"), str):
            return str(value["from"])
    return ""


def get(table: Table, path: str) -> Any:
    """The raw value at a path, None where there is none."""
    here: Any = table
    for step in path.split("."):
        here = bare(here)
        if isinstance(here, dict):
            here = here.get(step)
        elif isinstance(here, list | tuple) and step.isdecimal() and int(step) < len(here):
            here = here[int(step)]
        else:
            return None
    return here


def put(table: Table, path: str, value: Any) -> Table:
    """A copy with one value set, or with None taken away; tables and pairs that are missing are made.

    A pair keeps its two places: one that is taken away leaves None, and when both are gone the pair goes.
    """
    result = deepcopy(table)
    *outer, last = path.split(".")
    here: Any = result
    raw: Any
    holder: tuple[Any, str] | None = None
    for position, step in enumerate(outer):
        following = (*outer, last)[position + 1]
        raw = get(here, step)
        inner = bare(raw)
        if inner is None:
            # What deviates is 0 until it is said; a position is not there until it is typed.
            empty = 0 if step.endswith("tolerance") else None
            inner = ([empty, empty] if following in ("0", "1") else []) if following.isdecimal() else {}
        elif isinstance(inner, list | tuple):
            inner = _each_with_source(inner, raw)
        elif not isinstance(inner, dict):
            inner = [inner, None] if following.isdecimal() else {}
        _set(here, step, inner)
        holder, here = (here, step), inner
    _set(here, last, value)
    if holder is not None and isinstance(here, list) and isinstance(holder[0], dict) and here == [None, None]:
        holder[0].pop(holder[1], None)
    return result


def _each_with_source(values: Any, raw: Any) -> list[Any]:
    """A list that said where it came from, with that word at each value: one of them will be stated anew."""
    if values is raw:
        return list(values)
    return [one if isinstance(one, dict | list) or one is None or "from" not in raw
            else {"value": one, "from": raw["from"]} for one in values]  # fmt: skip


def _set(container: Any, step: str, value: Any) -> None:
    if isinstance(container, list):
        position = int(step)
        if value is None and position < len(container) and isinstance(container[position], dict | list) \
                and not (isinstance(container[position], dict) and set(container[position]) == SOURCED):  # fmt: skip
            del container[position]
        elif position < len(container):
            container[position] = value
        else:
            container.append(value)
    elif value is None:
        container.pop(step, None)
    else:
        container[step] = value


def typed_value(field: Field, text: str, units: Units | None = None) -> Any:
    """What typed text puts into the table; None takes the value away.  Quantities stay text: the setup reads them.

    A bare pressure is in the unit of the gauge; where the file would read it in another, the unit is written with it.
    """
    words = text.strip()
    if not words:
        return None
    if field.many:
        parts = [one.strip() for one in words.split(";") if one.strip()]
        if field.pairs:
            return [one.split() for one in parts]
        return [typed_value(_one(field), one, units) for one in parts]
    if field.kind == "whole" and words.isdecimal() and words.isascii() and len(words) < 10:
        return int(words)
    if field.kind == "yes":
        return words == "yes"
    if field.kind == "pressure" and units and not names_unit(words) and units.gauge != usual_gauge(units.system):
        return f"{words} {units.gauge}"
    return words


def same(field: Field, one: Any, other: Any, units: Units) -> bool:
    """Do two raw values of a field mean the same: the same text, or the same number with its unit?"""
    if one == other or spelled(field, one, units) == spelled(field, other, units):
        return True
    if not field.is_quantity or one is None or other is None or field.many:
        return False
    try:
        first, second = (parse_quantity(value, field.kind, units.system) for value in (one, other))
    except InputError:
        return False
    return first == second


def usual_gauge(system: UnitSystem) -> str:
    """The unit of a bare pressure in a file: what a gauge shows unless the setup says otherwise."""
    return bare_unit("pressure", system)


def _one(field: Field) -> Field:
    return Field(field.path, field.label, field.kind)


def with_source(table: Table, path: str, value: Any) -> Any:
    """A newly typed value as it is put in: stated, also where the table around it says otherwise."""
    steps = path.split(".")
    around = [get(table, ".".join(steps[:count])) for count in range(1, len(steps))]
    inherits = any(isinstance(one, dict) and isinstance(one.get("from"), str) and set(one) != SOURCED for one in around)
    if value is None or not inherits or isinstance(value, dict | list):
        return value
    return {"value": value, "from": "stated"}


def shown(field: Field, table: Table) -> str:
    """The text of a field as it was typed, or as the file has it."""
    return spelled(field, bare(get(table, field.path)), units_of(table))


def spelled(field: Field, value: Any, units: Units) -> str:
    """A raw value as a field shows it; a pressure in the unit of the gauge is bare, any other has its unit."""
    if value is None:
        return ""
    if isinstance(value, list | tuple):
        between = "; " if field.many else " "
        return between.join(spelled(field if not field.many else _one(field), bare(one), units) for one in value)
    if field.kind == "yes" and isinstance(value, bool):
        return "yes" if value else "no"
    text = f"{value:.12g}" if isinstance(value, float) else str(value)
    if field.kind != "pressure":
        return text
    if not names_unit(text):
        unit = usual_gauge(units.system)
        return text if unit == units.gauge else f"{text} {unit}"
    number = text.removesuffix(units.gauge).strip()
    return text if names_unit(number) or not number else number


def unit_of(field: Field, text: str, units: Units | UnitSystem) -> str:
    """The unit shown in the box: that of a bare number; empty where the text brings its own."""
    if not field.is_quantity or names_unit(text):
        return ""
    return _units(units).bare(field.kind)


def _units(units: Units | UnitSystem) -> Units:
    """Units with the usual gauge where only the system is known."""
    return units if isinstance(units, Units) else Units(units, usual_gauge(units))


def echo(field: Field, text: str, units: Units | UnitSystem) -> str:
    """The same value in both unit systems; empty where there is nothing to convert or it cannot be read."""
    units = _units(units)
    if not field.is_quantity or field.kind == "ratio" or not text.strip() or field.many:
        return ""
    try:
        value = parse_quantity(str(typed_value(field, text, units)), field.kind, units.system)
    except InputError:
        return ""
    system: UnitSystem = units.system
    other: UnitSystem = "inch" if system == "metric" else "metric"
    first, second = format_quantity(value, field.kind, system), format_quantity(value, field.kind, other)
    if field.kind == "pressure" and units.gauge not in (usual_gauge(system), usual_gauge(other)):
        first, second = format_quantity(value, field.kind, system, unit=units.gauge), f"{first} = {second}"
    elif field.kind == "pressure" and units.gauge != usual_gauge(system):
        first, second = second, first
    return first if first == second else f"{first} = {second}"


def understood(field: Field, text: str) -> str:
    """Which material a typed name stands for; empty where it is none, and where the name says it already."""
    if field.path not in ("part.material", "jaws.material") or not text.strip():
        return ""
    from heldtrue.mechanics.materials import jaw_material, work_material

    try:
        found = work_material(text) if field.path == "part.material" else jaw_material(text)
    except InputError:
        return ""
    return "" if found.name == text.strip() else f"{found.key}: {found.name}"
