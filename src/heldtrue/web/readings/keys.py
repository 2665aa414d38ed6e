"""Keys: what the browser hands on, what a key does to a reading, and where readings go when the places change."""

from __future__ import annotations

from typing import Any

from heldtrue.errors import InputError
from heldtrue.quantities import parse_quantity
from heldtrue.web import texts
from heldtrue.web.fields import Table
from heldtrue.web.readings.typed import system_of

MOST_DIGITS = 12
# Every key goes to the server by itself and in order: the text stands there, so that no fast typist outruns a slow
# network into the wrong place.  A key that a focused button understands itself is left to it.
KEYS = """(e) => {
  const t = e.target;
  if (e.ctrlKey || e.altKey || e.metaKey || (t.tagName === 'BUTTON' && (e.key === 'Enter' || e.key === ' '))) return;
  const known = ['Enter', 'Backspace', 'Delete', 'ArrowLeft', 'ArrowRight', 'ArrowUp', 'ArrowDown', 'Home', 'End'];
  if (!/^[0-9.,+\\u2212-]$/.test(e.key) && !known.includes(e.key)) return;
  e.preventDefault();
  emit(e.key);
}"""
TAPPED = """(e) => {
  const box = e.currentTarget.getBoundingClientRect();
  const x = e.clientX - box.left - box.width / 2, y = e.clientY - box.top - box.height / 2;
  emit(Math.atan2(-x, -y));
}"""
PAD = (
    ("7", "7"), ("8", "8"), ("9", "9"), ("Backspace", texts.KEY_DELETE),
    ("4", "4"), ("5", "5"), ("6", "6"), ("-", texts.KEY_SIGN),
    ("1", "1"), ("2", "2"), ("3", "3"), ("ArrowLeft", texts.KEY_BACK),
    ("0", "0"), (".", texts.KEY_COMMA), ("Enter", texts.KEY_NEXT),
)  # fmt: skip


def moved(table: Table, places: int) -> tuple[list[Table], int]:
    """The traces with other ``places`` round; and how many readings have no place there."""
    traces, lost = [], 0
    for one in table["traces"]:
        old = one["values"]
        new = [""] * places
        for at, text in enumerate(old):
            to = at * places / len(old)
            if to.is_integer():
                new[int(to)] = text
            elif text:
                lost += 1
        traces.append({**one, "values": new})
    return traces, lost


def after_key(before: str, key: str, fresh: bool) -> str:
    """The text after one key; the first digit at a place begins a new reading."""
    if key in ("-", "−"):
        return before[1:] if before.startswith("-") else f"-{before}"
    if key == "+":
        return before.removeprefix("-")
    if key == "Delete":
        return ""
    if key == "Backspace":
        return "" if before in ("-",) else before[:-1]
    return key if fresh else before + key


def only_one(args: Any) -> Any:
    """What a browser handed on, alone or in a list."""
    return args[0] if isinstance(args, list) else args


def place_along(one: Table, table: Table) -> float:
    """Where a typed trace was taken along the part; 0 while that cannot be read. [mm]"""
    try:
        return parse_quantity(one["z"], "length", system_of(table)) if one["z"].strip() else 0.0
    except InputError:
        return 0.0
