"""Reading a TOML file that a person wrote: whatever is wrong with it comes as one ``InputError``."""

import re
import tomllib
from pathlib import Path
from typing import Any

from heldtrue.errors import InputError

LARGEST_FILE = 1_000_000
"""Bytes; the largest setup anyone writes is a hundredth of it."""


def read_toml(path: str | Path) -> dict[str, Any]:
    """The table in a file; ``InputError`` says what is wrong with the file, with line and column."""
    try:
        path = Path(path)
        if not path.exists():
            raise InputError(f"{path}: there is no such file{_neighbours(path)}")
        if path.is_dir():
            raise InputError(f"{path} is a folder; name the setup file in it")
        if not path.is_file():
            raise InputError(f"{path} is not a file that can be read as text")
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise InputError(f"{path}: cannot be read: {reason}") from error
    if len(content) > LARGEST_FILE:
        raise InputError(f"{path}: larger than {LARGEST_FILE // 1_000_000} MB; this is not a setup file")
    try:
        return parse_toml(content)
    except InputError as error:
        raise InputError(*(f"{path}: {problem}" for problem in error.problems)) from error


def read_toml_below(base_dir: str | Path | None, name: Any) -> dict[str, Any]:
    """The table in the file ``name``, a path relative to the folder of the file that names it."""
    if not isinstance(name, str) or not name.strip():
        raise InputError("expected the path of a file, in quotes")
    return read_toml(_folder(base_dir, name) / name.replace("\\", "/"))


def path_below(base_dir: str | Path | None, name: str) -> Path:
    """The path of a file that a setup names: in the folder of the setup or below it, and nowhere else."""
    folder = _folder(base_dir, name)
    try:
        path = (folder / name.replace("\\", "/")).resolve()
        inside = path.is_relative_to(folder.resolve())
        if inside and not path.is_file():
            raise InputError(f"{name}: there is no such file{_neighbours(path)}")
    except (OSError, ValueError, RuntimeError) as error:
        raise InputError(f"{name!r:.80}: cannot be a file: {error}") from error
    if not inside:
        raise InputError(f'"{name}" lies outside the folder of the setup; put it there or below')
    return path


def _folder(base_dir: str | Path | None, name: str) -> Path:
    """The folder of the setup that names a file, which must be named relative to it."""
    if base_dir is None:
        raise InputError(f'"{name}" cannot be found, because this setup does not come from a file')
    if Path(name).is_absolute() or re.match(r"[A-Za-z]:", name):
        raise InputError(f'"{name}": write the path relative to the setup file')
    return Path(base_dir)


def parse_toml(content: bytes) -> dict[str, Any]:
    """The table in the bytes of a file."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
            raise InputError("the text is UTF-16; save it as UTF-8 in the editor") from error
        line = content.count(b"\n", 0, error.start) + 1
        raise InputError(f"line {line}: the text is not UTF-8; save it as UTF-8 in the editor") from error
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(_syntax(str(error), text)) from error
    except RecursionError as error:
        raise InputError("brackets are nested too deeply to mean anything") from error
    except ValueError as error:
        raise InputError("a number has too many digits to mean anything") from error
    if not table:
        raise InputError("the file is empty")
    return table


def _syntax(message: str, text: str) -> str:
    match = re.fullmatch(r"(?s)(.*) \(at (?:line (\d+), column (\d+)|(end of document))\)", message)
    if not match:
        return message
    reason, line, column, _ = match.groups()
    lines = text.split("\n")
    if line is None:
        return f"line {len(lines)}, at the end of the file: {reason[0].lower()}{reason[1:]}"
    typed = lines[int(line) - 1].strip() if int(line) <= len(lines) else ""
    hint = ""
    if re.search(r"=\s*[-+]?\d+,\d+\s*(#.*)?$", typed):
        hint = '; a decimal comma needs quotes: "1,5"'
    elif re.search(r"=\s*[-+]?[\d.,]+\s*[A-Za-z\"'%°µ/]", typed):
        hint = '; a number with its unit needs quotes: "18 bar"'
    elif re.search(r"=\s*[A-Za-zØ]", typed):
        hint = "; a text needs quotes"
    shown = "".join(c if c.isprintable() else "?" for c in typed)[:80]
    return f'line {line}, column {column}, in "{shown}": {reason[0].lower()}{reason[1:]}{hint}'


def _neighbours(path: Path) -> str:
    """A file of nearly that name in the same folder."""
    import difflib

    try:
        names = [entry.name for entry in path.parent.iterdir()] if path.parent.is_dir() else []
    except OSError:
        return ""
    match = difflib.get_close_matches(path.name, names[:1000], n=1, cutoff=0.6)
    return f'; did you mean "{match[0]}"?' if match else ""
