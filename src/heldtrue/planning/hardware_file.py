"""A hardware file by itself: chuck, jaws, tool or rings, as any setup can take it in."""

from __future__ import annotations

from pathlib import Path
from typing import Any, TypeVar

from heldtrue.errors import InputError
from heldtrue.planning.consistency import chuck_by_itself
from heldtrue.planning.entries import Chuck, Entry, Jaws, Ring, Tool
from heldtrue.planning.reading import Layer, Reader
from heldtrue.planning.slips import implausible_in
from heldtrue.planning.toml_file import read_toml
from heldtrue.planning.writing import quantity_paths, write_table

E = TypeVar("E", bound=Entry)


def chuck_table(path: str | Path, **changes: Any) -> dict[str, Any]:
    """The table of a chuck file with every unit written out, so that a setup in inch or metric can take it in.

    ``changes``: keys that take the place of the file's.
    Raises: ``InputError`` with everything wrong with the file by itself.
    """
    return _read(Chuck, {**read_toml(path), **changes}, path)[1]


def jaws_file(path: str | Path) -> tuple[Jaws, dict[str, Any]]:
    """The jaws of a file [core units], and its table with every unit written out. Raises: as ``chuck_table``."""
    return _read(Jaws, read_toml(path), path)


def tool_file(path: str | Path) -> tuple[Tool, dict[str, Any]]:
    """The tool of a file [core units], and its table with every unit written out. Raises: as ``chuck_table``."""
    return _read(Tool, read_toml(path), path)


def rings_file(path: str | Path) -> tuple[Ring, ...]:
    """The rings of a file of [[ring]] tables [core units]. Raises: as ``chuck_table``, or where it has none."""
    return rings_from(read_toml(path), str(path))


def rings_from(raw: dict[str, Any], path: str) -> tuple[Ring, ...]:
    """As ``rings_file``, of a table."""
    listed = raw.get("ring")
    if not isinstance(listed, list) or not listed:
        raise InputError(f"{path}: there is no [[ring]] table")
    outer: dict[str, Any] = {key: raw[key] for key in ("units", "from") if key in raw}
    return tuple(_read(Ring, {**outer, **one}, f"{path}: ring {n}")[0] for n, one in enumerate(listed, 1))


def chuck_from(raw: dict[str, Any], where: str) -> tuple[Chuck, dict[str, Any]]:
    """A chuck [core units] of a table that was typed or handed over, and that table with every unit written out.

    ``where``: what its problems call it.  Raises: as ``chuck_table``.
    """
    return _read(Chuck, raw, where)


def jaws_from(raw: dict[str, Any], where: str) -> tuple[Jaws, dict[str, Any]]:
    """As ``jaws_file``, of a table."""
    return _read(Jaws, raw, where)


def tool_from(raw: dict[str, Any], where: str) -> tuple[Tool, dict[str, Any]]:
    """As ``tool_file``, of a table."""
    return _read(Tool, raw, where)


def _read(kind: type[E], raw: dict[str, Any], where: object) -> tuple[E, dict[str, Any]]:
    reader = Reader()
    raw = dict(raw)
    system = reader.system_of(raw, f"{where}: ")
    raw.pop("units", None)
    values = reader.table(kind, [Layer(raw, system, str(where))], "file", None)
    if reader.problems:
        raise InputError(*reader.problems)
    entry = kind.model_validate(values)
    doubts = list(implausible_in(entry, str(where), system))
    if isinstance(entry, Chuck):
        doubts += chuck_by_itself(entry, system)
    if doubts:
        raise InputError(*doubts)
    table = write_table(entry, "metric", reader.sources, frozenset(quantity_paths(entry, "file")), "file")
    assert isinstance(table, dict)
    return entry, table
