"""JSON Schema (draft 2020-12) of the setup file and of the files of hardware it may name.

The schema follows the same annotations as the reader. It describes shape and units; what only sense can
tell (a grip off the part, psi typed as bar) is left to the checks.
"""

from typing import Any

from heldtrue.planning.entries import Chuck, Corner, Entry, Jaws, Ring, SectionSource, SetupData, Surface, Tool
from heldtrue.planning.reading import SOURCES
from heldtrue.planning.shapes import FieldShape, Shape, fields_of
from heldtrue.quantities import KINDS

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_STARTS_AS_NUMBER = r"^\s*[Øø⌀∅]?\s*[+−-]?\s*[0-9.,]"
_Schema = dict[str, Any]


def setup_schema() -> _Schema:
    """The schema of a setup file."""
    schema = _table(SetupData)
    del schema["properties"]["from"]
    schema["properties"]["chuck"] = {
        "description": "the chuck: a file with its data, named by use, or its keys here; keys here win",
        "$ref": "#/$defs/Chuck",
    }
    schema["properties"]["jaws"] = {
        "description": "the top jaws: a file with their data, named by use, or their keys here; keys here win",
        "$ref": "#/$defs/Jaws",
    }
    definitions = _definitions()
    _with_forms(definitions)
    definitions["Chuck"] = _with_use(definitions["Chuck"], "chuck")
    definitions["Chuck"]["properties"]["actuator"] = {**_table(_table_of(Chuck, "actuator")), "required": []}
    definitions["Jaws"] = _with_use(definitions["Jaws"], "jaw")
    parts = definitions["Boring"]["properties"]
    for key in ("rings", "tool"):
        path = {"type": "string", "description": "path of a file with them, relative to this file"}
        given = {inner: value for inner, value in parts[key].items() if inner != "description"}
        parts[key] = {"description": parts[key]["description"], "anyOf": [given, path]}
    return {"$schema": _DIALECT, "title": "heldtrue setup file", **schema, "$defs": definitions}


def chuck_schema() -> _Schema:
    """The schema of a chuck file."""
    return _file_of(Chuck, "chuck")


def jaws_schema() -> _Schema:
    """The schema of a jaw file; a setup may add what the file leaves out."""
    return {**_file_of(Jaws, "jaw"), "required": ["units"]}


def tool_schema() -> _Schema:
    """The schema of a tool file."""
    return _file_of(Tool, "tool")


def rings_schema() -> _Schema:
    """The schema of a file of boring rings."""
    properties = {
        "units": _property(_units()),
        "from": {"$ref": "#/$defs/source", "description": "where the values of this file come from"},
        "ring": {"type": "array", "items": {"$ref": f"#/$defs/{Ring.__name__}"}},
    }
    return {"$schema": _DIALECT, "title": "heldtrue ring file", "type": "object", "properties": properties,
            "required": ["units", "ring"], "additionalProperties": False, "$defs": _definitions()}  # fmt: skip


def _file_of(table: type[Entry], word: str) -> _Schema:
    """A file with the keys of one table at its top, and its own units."""
    schema = _table(table)
    schema["properties"]["units"] = _property(_units())
    schema["required"] = ["units", *schema["required"]]
    return {"$schema": _DIALECT, "title": f"heldtrue {word} file", **schema, "$defs": _definitions()}


def _units() -> FieldShape:
    return next(shape for shape in fields_of(SetupData) if shape.name == "units")


def _definitions() -> _Schema:
    definitions: _Schema = {"source": {"enum": list(SOURCES)}}
    for name, kind in KINDS.items():
        bare = " or ".join(dict.fromkeys(unit for unit in kind.bare.values() if unit))
        text = {
            "type": "string",
            "pattern": _STARTS_AS_NUMBER,
            "description": "with its own unit, such as 18 bar",
        }
        number = {"type": "number", "description": f"in {bare}, as units says" if bare else kind.word}
        definitions[name] = _sourced({"anyOf": [number, text]})
    for table in _tables(SetupData):
        definitions[table.__name__] = _table(table)
    return definitions


def _tables(table: type[Entry]) -> list[type[Entry]]:
    found: list[type[Entry]] = []
    for shape in fields_of(table):
        inner = shape.shape.table or (shape.shape.item.table if shape.shape.item else None)
        if inner and inner not in found:
            found += [inner, *(one for one in _tables(inner) if one not in found)]
    return list(dict.fromkeys(found))


def _table(table: type[Entry]) -> _Schema:
    properties = {shape.key: _property(shape) for shape in fields_of(table)}
    if table is Surface:
        pair = _sourced(_shape(Shape("pair", item=Shape("quantity", kind="length"))))
        properties["diameter"] = {
            **properties["diameter"],
            "anyOf": [{"$ref": "#/$defs/length"}, *pair["anyOf"]],
        }
        del properties["diameter"]["$ref"]
        properties["z"]["anyOf"].append({"$ref": "#/$defs/length"})
    properties["from"] = {"$ref": "#/$defs/source", "description": "where the values of this table come from"}
    summary = " ".join((table.__doc__ or "").split())
    schema: _Schema = {
        "type": "object",
        "description": summary,
        "properties": properties,
        "required": [shape.key for shape in fields_of(table) if shape.required],
        "additionalProperties": False,
    }
    if table is Corner:
        size = {"$ref": "#/$defs/length"}
        rest = {key: properties[key] for key in properties if key not in ("diameter", "z")}
        broken = {"type": "object", "properties": rest, "additionalProperties": False}
        row = {"type": "array", "prefixItems": [size, size, broken], "minItems": 2, "maxItems": 3}
        return {
            "description": summary,
            "anyOf": [row, {k: v for k, v in schema.items() if k != "description"}],
        }
    return schema


def _with_forms(definitions: _Schema) -> None:
    """A part may come from a file, a shape or stock; a grip and a surface may name a surface of the part."""
    definitions[SectionSource.__name__] = _table(SectionSource)
    parts = definitions["Part"]["properties"]
    path = {"type": "string", "description": "path of a STEP or DXF file, in the folder of this file or below"}
    for key in ("profile", "blank"):
        parts[key] = {**parts[key], "anyOf": [*parts[key]["anyOf"], path, {"$ref": "#/$defs/SectionSource"}]}
    surface, grip = definitions["Surface"], definitions["Grip"]
    surface["required"] = ["name"]
    grip["properties"]["surface"] = {
        "type": "string",
        "description": "name of a surface of the part, such as bore Ø140, instead of side and diameter",
    }
    grip["required"] = [key for key in grip["required"] if key not in ("side", "diameter")]
    grip["anyOf"] = [{"required": ["surface"]}, {"required": ["side", "diameter"]}]


def _with_use(table: _Schema, word: str) -> _Schema:
    """A table that may name a file, and then needs no key of its own."""
    use = {"type": "string", "description": f"path of a {word} file, relative to this file"}
    whole = {key: value for key, value in table.items() if key != "required"}
    whole["properties"] = {"use": use, **table["properties"]}
    whole["anyOf"] = [{"required": ["use"]}, {"required": table["required"]}]
    return whole


def _table_of(table: type[Entry], name: str) -> type[Entry]:
    found = next(shape.shape.table for shape in fields_of(table) if shape.name == name)
    assert found is not None
    return found


def _property(shape: FieldShape) -> _Schema:
    schema = _shape(shape.shape)
    if shape.name not in ("units", "title") and "$ref" not in schema and not shape.shape.table:
        listed = shape.shape.item.table if shape.shape.item else None
        schema = schema if listed and listed not in (Corner,) and shape.name != "grip_readings" else _sourced(schema)
    note = "; stands on the plate" if shape.on_plate else ""
    return {"description": f"{shape.description}{note}", **schema} if shape.description else schema


def _shape(shape: Shape) -> _Schema:
    if shape.name == "quantity":
        return {"$ref": f"#/$defs/{shape.kind}"}
    if shape.name == "choice":
        return {"enum": list(shape.choices)}
    if shape.name == "whole":
        return {"type": "integer"}
    if shape.name == "yes_no":
        return {"type": "boolean"}
    if shape.name == "text":
        return {"type": ["string", "integer"]}
    if shape.name == "table" and shape.table:
        return {"$ref": f"#/$defs/{shape.table.__name__}"}
    assert shape.item is not None
    items = _shape(shape.item)
    if shape.name == "pair":
        return {"type": "array", "items": items, "minItems": 2, "maxItems": 2}
    return {"type": "array", "items": items}


def _sourced(schema: _Schema) -> _Schema:
    """The value itself, or the value with where it came from."""
    choices = schema["anyOf"] if set(schema) == {"anyOf"} else [schema]
    wrapped = {
        "type": "object",
        "properties": {"value": schema, "from": {"$ref": "#/$defs/source"}},
        "required": ["value"],
        "additionalProperties": False,
    }
    return {"anyOf": [*choices, wrapped]}
