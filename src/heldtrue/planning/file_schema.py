"""JSON Schema (draft 2020-12) of the setup file and of the chuck file it may name.

The schema follows the same annotations as the reader. It describes shape and units; what only sense can
tell (a grip off the part, psi typed as bar) is left to the checks.
"""

from typing import Any

from heldtrue.planning.entries import Chuck, Corner, Entry, SetupData, Surface
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
    definitions = _definitions()
    definitions["Chuck"] = _with_use(definitions["Chuck"])
    return {"$schema": _DIALECT, "title": "heldtrue setup file", **schema, "$defs": definitions}


def chuck_schema() -> _Schema:
    """The schema of a chuck file."""
    schema = _table(Chuck)
    units = next(shape for shape in fields_of(SetupData) if shape.name == "units")
    schema["properties"]["units"] = _property(units)
    schema["required"] = ["units", *schema["required"]]
    return {"$schema": _DIALECT, "title": "heldtrue chuck file", **schema, "$defs": _definitions()}


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


def _with_use(chuck: _Schema) -> _Schema:
    """A chuck table that may name a file, and then needs no key of its own."""
    use = {"type": "string", "description": "path of a chuck file, relative to this file"}
    whole = {key: value for key, value in chuck.items() if key != "required"}
    whole["properties"] = {"use": use, **chuck["properties"]}
    actuator = {**_table(_table_of(Chuck, "actuator")), "required": []}
    whole["properties"]["actuator"] = actuator
    whole["anyOf"] = [{"required": ["use"]}, {"required": chuck["required"]}]
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
