"""Output files that are written whole or not at all."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from heldtrue.errors import InputError, StorageError

NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EIO)
"""What a disk says that is full, may not be written, or is broken: nothing in the input would help."""
PART = ".heldtrue-part-"
"""How the name of a file begins that is not complete yet."""


def write_whole(path: Path, content: bytes | str) -> None:
    """Write one file so that a reader, or a power cut, sees the old file or the new one.

    Raises: ``InputError`` where the folder is missing or may not be written.
    """
    write_all({path: content})


def write_all(files: Mapping[Path, bytes | str], *, make_folders: bool = False) -> None:
    """Write several files: none is put in place before all are complete on disk.

    ``make_folders`` makes missing folders, and takes them away again where the files cannot be written.
    Raises: ``InputError`` where a folder is missing or may not be written, or a folder stands in a file's place;
    ``StorageError`` where the disk is full.
    """
    ready: list[tuple[str, Path]] = []
    made: list[Path] = []
    path = Path()
    try:
        for path in files:
            if path.is_dir():
                raise InputError(f"cannot write {path}: it is a folder")
        for path, content in files.items():
            if make_folders:
                _make_folder(path.parent, made)
            data = content.encode() if isinstance(content, str) else content
            with tempfile.NamedTemporaryFile(dir=path.parent, prefix=PART, delete=False) as part:
                ready.append((part.name, path))
                part.write(data)
                part.flush()
                os.fsync(part.fileno())
        for part_name, path in ready:
            os.chmod(part_name, 0o644)  # noqa: PTH101  a temporary file is private to its owner
            os.replace(part_name, path)  # noqa: PTH105
    except OSError as error:
        kind = StorageError if error.errno in NO_ROOM else InputError
        raise kind(f"cannot write {path}: {_reason(error)}") from error
    finally:
        for part_name, _ in ready:
            Path(part_name).unlink(missing_ok=True)
        for folder in reversed(made):
            with suppress(OSError):  # it holds the files, or somebody else's
                folder.rmdir()


def _make_folder(folder: Path, made: list[Path]) -> None:
    for place in reversed([folder, *folder.parents]):
        if not place.is_dir():
            place.mkdir()
            made.append(place)


def _reason(error: OSError) -> str:
    if isinstance(error, FileNotFoundError):
        return "its folder does not exist or takes no files"
    return (error.strerror or str(error)).lower()
