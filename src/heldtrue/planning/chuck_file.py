"""A chuck file by itself: its table as any setup can take it in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from heldtrue.errors import InputError
from heldtrue.planning.entries import Chuck
from heldtrue.planning.reading import Layer, Reader
from heldtrue.planning.toml_file import read_toml
from heldtrue.planning.writing import quantity_paths, write_table


def chuck_table(path: str | Path, **changes: Any) -> dict[str, Any]:
    """The table of a chuck file with every unit written out, so that a setup in inch or metric can take it in.

    ``changes``: keys that take the place of the file's.
    Raises: ``InputError`` with everything wrong with the file by itself.
    """
    raw = {**read_toml(path), **changes}
    reader = Reader()
    system = reader.system_of(raw, f"{path}: ")
    raw.pop("units", None)
    values = reader.table(Chuck, [Layer(raw, system, str(path))], "chuck", None)
    if reader.problems:
        raise InputError(*reader.problems)
    chuck = Chuck.model_validate(values)
    table = write_table(chuck, "metric", reader.sources, frozenset(quantity_paths(chuck, "chuck")), "chuck")
    assert isinstance(table, dict)
    return table
