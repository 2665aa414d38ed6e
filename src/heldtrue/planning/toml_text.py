"""A table in the shape of a setup file as TOML."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any


def toml_of(table: Mapping[str, Any]) -> str:
    """A table in the shape of the setup file as TOML."""
    lines = [f"{key} = {toml_value(value)}" for key, value in table.items() if not _has_heading(value)]
    for key, value in table.items():
        if isinstance(value, Mapping) and _has_heading(value):
            lines += _table(key, value)
        elif _has_heading(value):
            for one in value:
                lines += ["", f"[[{key}]]", *toml_keys(one)]
    return "\n".join(lines) + "\n"


def _has_heading(value: Any) -> bool:
    """A table, or several with names of keys; not a value with the word where it came from."""
    if isinstance(value, Mapping):
        return set(value) != {"value", "from"}
    return isinstance(value, list) and bool(value) and all(isinstance(one, Mapping) for one in value)


def _table(path: str, table: Mapping[str, Any]) -> Iterator[str]:
    yield ""
    yield f"[{path}]"
    yield from toml_keys({key: value for key, value in table.items() if not isinstance(value, Mapping)
                      or not _has_heading(value)})  # fmt: skip
    for key, value in table.items():
        if isinstance(value, Mapping) and _has_heading(value):
            yield from _table(f"{path}.{key}", value)


def toml_keys(table: Mapping[str, Any]) -> Iterator[str]:
    """A line for each key of one table."""
    return (f"{key} = {toml_value(value)}" for key, value in table.items())


def toml_value(value: Any) -> str:
    """One value."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {toml_value(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(toml_value, value)) + "]"
    # A text in the form of JSON is a text of TOML but for one sign that JSON leaves as it is.
    text = repr(value) if isinstance(value, int | float) else json.dumps(value, ensure_ascii=False)
    return text.replace("\x7f", "\\u007f")
