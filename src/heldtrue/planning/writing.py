"""From tables in core units back to the shape of the file, losing nothing."""

from collections.abc import Iterator, Mapping
from typing import Any

from heldtrue.planning.entries import Entry, Source, UnitSystem
from heldtrue.planning.shapes import Shape, fields_of
from heldtrue.quantities import bare_unit, file_value


def write_table(
    entry: Entry, system: UnitSystem, sources: Mapping[str, Source], spelled: frozenset[str], path: str = ""
) -> Any:
    """The table as it would be typed: only what was given, with units and sources where they were given."""
    table: dict[str, Any] = {}
    for shape in fields_of(type(entry)):
        value = getattr(entry, shape.name)
        if shape.name in entry.model_fields_set and value is not None:
            here = f"{path}.{shape.name}" if path else shape.name
            table[shape.key] = _write(shape.shape, value, system, sources, spelled, here)
    return entry.to_file_shape(table)


def quantity_paths(entry: Entry, path: str = "") -> Iterator[str]:
    """The path of every quantity that has a value."""
    for shape in fields_of(type(entry)):
        here = f"{path}.{shape.name}" if path else shape.name
        yield from _quantity_paths(shape.shape, getattr(entry, shape.name), here)


def _quantity_paths(shape: Shape, value: Any, path: str) -> Iterator[str]:
    if isinstance(value, Entry):
        yield from quantity_paths(value, path)
    elif isinstance(value, tuple) and shape.item:
        for number, one in enumerate(value):
            yield from _quantity_paths(shape.item, one, f"{path}.{number}")
    elif shape.name == "quantity" and value is not None:
        yield path


def _write(
    shape: Shape,
    value: Any,
    system: UnitSystem,
    sources: Mapping[str, Source],
    spelled: frozenset[str],
    path: str,
) -> Any:
    if isinstance(value, Entry):
        return write_table(value, system, sources, spelled, path)
    written = value
    if isinstance(value, tuple) and shape.item:
        written = [
            _write(shape.item, one, system, sources, spelled, f"{path}.{number}") for number, one in enumerate(value)
        ]
    elif shape.name == "quantity":
        written = file_value(value, shape.kind, system)
        unit = bare_unit(shape.kind, system)
        if path in spelled and unit and not isinstance(written, str):
            written = f"{written!r} {unit}"
    return {"value": written, "from": sources[path]} if path in sources else written
