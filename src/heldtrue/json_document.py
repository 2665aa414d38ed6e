"""What every JSON document of ours is made of: frozen entries, a format number, a schema."""

from __future__ import annotations

import json
from typing import Any

from pydantic import BaseModel, ConfigDict

FORMAT = 2
"""Goes up when a name changes its meaning or goes; not when one is added."""


class Entry(BaseModel):
    """One object of a document."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


FIGURES = 10
"""Figures of a number: what lies beyond depends on what was solved before in the same process, and means nothing."""


def to_json(document: Entry) -> str:
    """A document as JSON text."""
    return json.dumps(_rounded(document.model_dump(mode="json", by_alias=True)), indent=2, ensure_ascii=False)


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_rounded(one) for one in value]
    return float(f"{value:.{FIGURES}g}") if isinstance(value, float) else value


def schema_of(model: type[Entry]) -> dict[str, Any]:
    """JSON Schema (2020-12) of one document."""
    schema = model.model_json_schema(by_alias=True, mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
