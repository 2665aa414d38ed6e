"""Answers that take long, kept on disk by content: the user's cache folder, or the one that ``HELDTRUE_CACHE`` names.

A file is named after everything its answer rests on.  What was changed, cut short or cannot be read is worked out
again.  Without a folder nothing is kept.
"""

from __future__ import annotations

import os
from contextlib import suppress
from hashlib import sha256
from pathlib import Path

from platformdirs import user_cache_path

from heldtrue.errors import InputError, StorageError
from heldtrue.files import write_whole

PLACE = "HELDTRUE_CACHE"
"""Names the folder of kept answers; empty keeps none."""


def folder(kind: str) -> Path | None:
    """Where answers of a kind are kept; None where nothing is. Jaws, the first kind, lie in the folder named itself."""
    place = os.environ.get(PLACE)
    if place is None:
        return user_cache_path("heldtrue", appauthor=False) / kind
    if not place:
        return None
    return Path(place) if kind == "jaws" else Path(place) / kind


def name_of(*rests_on: str) -> str:
    """The name of a file, from everything that its answer rests on."""
    return sha256("\n".join(rests_on).encode()).hexdigest()


def read(path: Path) -> bytes | None:
    """A kept answer; None where there is none that is whole."""
    try:
        content = path.read_bytes()
    except OSError:
        return None
    digest, packed = content[:32], content[32:]
    return packed if _digest(path, packed) == digest else None


def used(path: Path) -> None:
    """Say that it was used: the ones not used for longest go first."""
    with suppress(OSError):
        path.touch()


def write(path: Path, packed: bytes, most: int, dropped_at_once: int) -> None:
    """Keep an answer, and ``most`` of its folder. A full or closed disk keeps none: it would only have saved time."""
    with suppress(OSError, InputError, StorageError):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        write_whole(path, _digest(path, packed) + packed)
        _drop_oldest(path.parent, most, dropped_at_once)


def _digest(path: Path, packed: bytes) -> bytes:
    """Of a file's content and its name: a good answer to another question is none."""
    return sha256(path.name.encode() + packed).digest()


def _drop_oldest(place: Path, most: int, dropped_at_once: int) -> None:
    kept = [entry for entry in os.scandir(place) if entry.is_file()]
    if len(kept) > most:
        kept.sort(key=lambda entry: entry.stat().st_mtime)
        for entry in kept[:dropped_at_once]:
            Path(entry.path).unlink(missing_ok=True)
