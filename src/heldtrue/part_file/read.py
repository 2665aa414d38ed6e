"""The front door: a turned part from the content of a file, by what it is called and what it holds."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path, PurePath

from heldtrue.errors import InputError
from heldtrue.part_file.choices import ChoiceNeededError, Choices
from heldtrue.part_file.turned_part import TurnedPart

LARGEST_BYTES = 64_000_000
"""A larger file is refused before it is looked at: turned parts stay under a tenth of it."""
STEP_ENDINGS = (".step", ".stp", ".p21")
DXF_ENDINGS = (".dxf",)
NOTHING_SAID = Choices()


def read_part(name: str, content: bytes, choices: Choices = NOTHING_SAID) -> TurnedPart:
    """The turned part in a file. ``name``: what the file is called; ``choices``: what a person has answered so far.

    Raises: ``ChoiceNeededError`` where the file has more than one answer; ``InputError``, ``GeometryError`` where it
    cannot be read.
    """
    _refuse_size(name, len(content))
    if not content.strip(b"\0 \t\r\n"):
        raise InputError(f"{name} is empty")
    ending = PurePath(name).suffix.lower()
    start = content[:200].lstrip(b"\xef\xbb\xbf\0 \t\r\n")
    if ending in STEP_ENDINGS or start.startswith(b"ISO-10303-21"):
        from heldtrue.part_file.step import read_step

        return read_step(name, content, choices)
    if ending in DXF_ENDINGS:
        from heldtrue.part_file.dxf import read_dxf

        return read_dxf(name, content, choices)
    raise InputError(
        f"{name}: a part is read from a STEP file (.step, .stp) or a DXF file (.dxf), not from {ending or 'this'}"
    )


def read_part_file(
    path: Path, choices: Choices = NOTHING_SAID, *, asked: Mapping[str, str] | None = None
) -> TurnedPart:
    """The turned part in a file on disk. ``asked``: what answers each question of :class:`Choices`, for the message.

    Raises: as :func:`read_part`, and ``InputError`` where there is no such file.
    """
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise InputError(f"{path} is a folder; name the STEP or DXF file in it")
        if not path.is_file():
            raise InputError(f"{path} is not a file")
        _refuse_size(path.name, size)
        content = path.read_bytes()
    except OSError as error:
        missing = isinstance(error, FileNotFoundError)
        raise InputError(
            f"{path}: {'there is no such file' if missing else f'cannot be read: {error.strerror}'}"
        ) from error
    except ValueError as error:
        raise InputError(f"{path}: cannot be read: {error}") from error
    try:
        return read_part(path.name, content, choices)
    except ChoiceNeededError as needed:
        if asked is None:
            raise
        lines = [f"{asked[needed.question]} {option.id}: {option.what}" for option in needed.options]
        raise InputError(str(needed), *lines) from needed


def _refuse_size(name: str, size: int) -> None:
    if size > LARGEST_BYTES:
        raise InputError(
            f"{name} has {size / 1e6:.0f} MB; files up to {LARGEST_BYTES / 1e6:.0f} MB are read. "
            "Export the one part alone, without the assembly and without pictures"
        )
