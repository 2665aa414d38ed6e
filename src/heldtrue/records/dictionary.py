"""What the columns of an export mean, with their units: a file beside the tables, for whoever opens them later."""

from __future__ import annotations

from collections.abc import Iterator
from types import MappingProxyType

from sqlalchemy import Double

from heldtrue.records.bulk import kept_tables

DICTIONARY = "dictionary.csv"
HEAD = ("table", "column", "type", "unit", "meaning")
UNITS = MappingProxyType({
    "pull_area": "mm2", "push_area": "mm2", "max_pressure": "MPa", "pressure": "MPa", "gauge_pressure": "MPa",
    "rough_pressure": "MPa", "finish_pressure": "MPa", "force": "N", "max_speed_rpm": "rev/min", "speed_rpm": "rev/min",
    "width": "mm", "length": "mm", "height": "mm", "outside": "mm", "inside": "mm", "nose_radius": "mm",
    "max_swing": "mm", "diameter": "mm", "depth": "mm", "taper": "mm per side", "web_left": "mm", "z": "mm",
    "angles": "rad", "deviations": "mm", "low": "coefficient", "likely": "coefficient", "high": "coefficient",
    "diameter_error": "mm", "depth_error": "mm", "relief_width": "mm", "relief_depth": "mm", "seat_land": "mm",
    "seat_relief": "mm", "error": "share, 95 %",
    "at": "ISO 8601, UTC", "printed_at": "ISO 8601, UTC", "grease_days": "days", "content": "base64",
})  # fmt: skip
"""Unit of every column that has one, whatever its table."""
MEANINGS = MappingProxyType({
    "id": "key of the row", "version": "version of the card, from 1", "retired": "no longer in use",
    "remark": "as it was typed", "data": "more of the card, JSON", "seal": "check sum of the row",
    "action": "id of the entry it came with", "at": "when it happened", "by": "who did it",
    "withdrawn": "taken back, nothing in its place", "corrects": "id of the row that it puts right",
    "name": "what it is called", "material": "material, by its key", "jaw_set": "number of the jaw set",
    "chuck": "number of the chuck", "machine": "number of the machine", "setup": "id of the setup",
    "setup_version": "version of the setup, 0: the newest", "part": "number of the part", "place": "where it lies",
    "diameter": "bored or turned to", "depth": "front to seat", "taper": "change of the jaw's radius over the grip",
    "diameter_error": "error of the measured diameter, either way", "depth_error": "error of the depth, either way",
    "web_left": "metal left to the bolt pockets", "tooth": "tooth the jaws stand on, from 1 at the axis",
    "jaw_order": "number of the jaw on master jaw 1, 2, ...", "cuts_left": "cuts left in the set, as planned",
    "bore_steps": "further diameters in the bore: of each its diameter, and its height above the seat, below 0 behind "
    "it, mm; empty: not recorded",
    "holder": "who has it; empty: it is in", "missing": "numbers of the jaws that are not there",
    "condition": "as it was looked at", "pressure": "at the gauge", "gauge_pressure": "that the gauge showed",
    "rough_pressure": "at the gauge while roughing", "finish_pressure": "at the gauge while finishing",
    "force": "of all jaws together", "error": "of the gauge", "speed_rpm": "spindle speed",
    "angles": "from jaw 1, one for each deviation", "deviations": "as the indicator showed them, pushed in is above 0",
    "z": "along the part from its seat", "clamped": "was the part clamped", "oiled": "was the part as wet as it runs",
    "slips": "how often it slipped", "low": "least friction", "likely": "likely friction", "high": "greatest friction",
    "surface": "surface of the part", "face": "face of the jaws", "document": "the card or setup, JSON",
    "verdict": "what was answered", "reason": "why", "override_reason": "why it was started all the same",
    "quantity": "parts made", "scrap": "parts spoilt", "readings": "what was read, JSON",
    "run": "id of the run", "photo": "id of the photo", "kind": "what was done, or what it is",
})  # fmt: skip
"""What a column means, in every table that has it; the others are named by their names."""

TYPES = MappingProxyType({
    "DOUBLE": "number", "BIGINT": "whole number", "BOOLEAN": "true or false", "DATETIME": "time", "BLOB": "bytes",
})  # fmt: skip


def rows() -> Iterator[tuple[str, ...]]:
    """A row for every column of every table: table, column, type, unit, meaning; the head first."""
    yield HEAD
    for table in kept_tables():
        for column in table.columns:
            name = column.name
            unit, meaning = UNITS.get(name, ""), MEANINGS.get(name, name.replace("_", " "))
            yield table.name, name, TYPES.get(str(column.type), "text"), unit, meaning


def without_unit() -> list[str]:
    """Numbers that nobody gave a unit; empty as it must be."""
    return sorted(
        f"{table.name}.{column.name}" for table in kept_tables() for column in table.columns
        if isinstance(column.type, Double) and column.name not in UNITS
    )  # fmt: skip
