"""What every JSON document of ours is made of: frozen entries, a format number, a schema."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict

FORMAT = 2
"""Goes up when a name changes its meaning or goes; not when one is added."""


class Entry(BaseModel):
    """One object of a document."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


def to_json(document: Entry) -> str:
    """A document as JSON text."""
    return document.model_dump_json(by_alias=True, indent=2)


def schema_of(model: type[Entry]) -> dict[str, Any]:
    """JSON Schema (2020-12) of one document."""
    schema = model.model_json_schema(by_alias=True, mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
