"""What the annotations of the tables say, for those who walk them: reading, writing and the schema."""

from dataclasses import dataclass
from functools import lru_cache
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from heldtrue.planning.entries import Entry, FileKey, Measured, OnPlate

ShapeName = Literal["quantity", "text", "choice", "whole", "yes_no", "table", "pair", "list"]


@dataclass(frozen=True)
class Shape:
    """What one value may be. ``kind`` is that of a quantity."""

    name: ShapeName
    kind: str = ""
    choices: tuple[str, ...] = ()
    table: type[Entry] | None = None
    item: "Shape | None" = None


@dataclass(frozen=True)
class FieldShape:
    """One field of a table: its attribute name, its key in a file, and what it may hold."""

    name: str
    key: str
    shape: Shape
    required: bool
    on_plate: bool
    description: str


@lru_cache(maxsize=64)
def fields_of(table: type[Entry]) -> tuple[FieldShape, ...]:
    """The fields of a table, in the order they are written."""
    found = []
    for name, info in table.model_fields.items():
        marks = list(info.metadata)
        key = next((mark.key for mark in marks if isinstance(mark, FileKey)), name)
        plate = any(isinstance(mark, OnPlate) for mark in marks)
        shape = _shape(info.annotation, marks)
        found.append(FieldShape(name, key, shape, info.is_required(), plate, info.description or ""))
    return tuple(found)


def _shape(annotation: Any, marks: list[Any]) -> Shape:
    origin, inner = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _shape(inner[0], [*marks, *inner[1:]])
    if origin in (Union, UnionType):
        (only,) = (part for part in inner if part is not NoneType)
        return _shape(only, marks)
    if origin is Literal:
        return Shape("choice", choices=inner)
    if origin is tuple:
        return Shape("list" if inner[-1] is Ellipsis else "pair", item=_shape(inner[0], []))
    if annotation is float:
        return Shape("quantity", kind=next(mark.kind for mark in marks if isinstance(mark, Measured)))
    if annotation in (str, int, bool):
        names: dict[Any, ShapeName] = {str: "text", int: "whole", bool: "yes_no"}
        return Shape(names[annotation])
    return Shape("table", table=annotation)
