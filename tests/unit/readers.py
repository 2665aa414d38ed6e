"""Every reader of what people hand over, as bytes in and a value or an error in words out.

``READERS`` by name; ``bench/fuzz.py`` looks for bytes that bring a traceback out of one, and ``corpus`` keeps what it
found of interest, which ``test_corpus.py`` reads again.
"""

import json
import tempfile
from collections.abc import Callable
from pathlib import Path

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.inspection.drift import read_drift, read_measurements
from heldtrue.inspection.readings import read_readings
from heldtrue.planning.hardware_file import chuck_from, jaws_from, rings_from, tool_from
from heldtrue.planning.setup import Setup
from heldtrue.planning.toml_file import parse_toml
from heldtrue.program.dialect import load_dialect, parse_dialect
from heldtrue.program.read import read_program
from heldtrue.records.documents import open_plan, open_setup
from heldtrue.records.plain_files import MANIFEST, import_from
from heldtrue.shop.read_out import read_out
from heldtrue.web.drafts import Drafts

CORPUS = Path(__file__).parent / "corpus"
ROOT = Path(__file__).parents[2]
NEUTRAL = load_dialect()


def text_of(data: bytes) -> str:
    """As the commands read a text file."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError("not UTF-8") from error


def readings(data: bytes) -> object:
    return read_out(read_readings(text_of(data)), 3)


def drift(data: bytes) -> object:
    return read_drift(read_measurements(text_of(data)))


def as_file(data: bytes, name: str, read: Callable[[Path], object]) -> object:
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        return read(path)


class Sink:
    """A store that takes every row and keeps none."""

    def load_rows(self, rows):
        self.rows = list(rows)


def rows_of(folder: Path) -> object:
    return import_from(Sink(), folder)


def table_file(data: bytes, form: str) -> object:
    """One table of an export: the first line of the bytes names it, the rest is its file."""
    name, _, content = data.partition(b"\n")
    table = name.decode("ascii", "replace")
    if table not in ("machines", "actions", "chucks", "links", "photos", "tags"):
        raise InputError("no such table")

    def read(path: Path) -> object:
        manifest = {"format": 1, "form": form, "schema": "0001", "rows": {table: content.count(b"\n")}}
        (path.parent / MANIFEST).write_text(json.dumps(manifest))
        return rows_of(path.parent)

    return as_file(content, f"{table}.{form}", read)


def manifest(data: bytes) -> object:
    return as_file(data, MANIFEST, lambda path: rows_of(path.parent))


def document(data: bytes) -> object:
    """A kept setup or plan; what is no JSON object is not kept at all."""
    try:
        found = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise InputError("no JSON") from error
    if not isinstance(found, dict):
        raise InputError("no document")
    return open_plan(found) if found.get("kind") == "plan" else open_setup(found)


def draft(data: bytes) -> object:
    made = as_file(data, "one.json", lambda path: Drafts(path.parent).get("one"))
    made.title, made.system, made.points()
    try:
        return made.setup()
    finally:
        made.undo()


READERS: dict[str, Callable[[bytes], object]] = {
    "setup": lambda data: Setup.from_dict(parse_toml(data)),
    "chuck": lambda data: chuck_from(parse_toml(data), "chuck"),
    "jaws": lambda data: jaws_from(parse_toml(data), "jaws"),
    "tool": lambda data: tool_from(parse_toml(data), "tool"),
    "rings": lambda data: rings_from(parse_toml(data), "rings"),
    "program": lambda data: read_program(text_of(data), NEUTRAL),
    "dialect": lambda data: parse_dialect(text_of(data)),
    "readings": readings,
    "drift": drift,
    "csv": lambda data: table_file(data, "csv"),
    "jsonl": lambda data: table_file(data, "jsonl"),
    "manifest": manifest,
    "document": document,
    "draft": draft,
}


def read(name: str, data: bytes) -> str:
    """What came out: ``value``, or the words of the error; anything but our own errors escapes."""
    try:
        READERS[name](data)
    except HeldtrueError as error:
        words = str(error)
        assert words.strip(), "an error without words"
        return words
    return "value"
