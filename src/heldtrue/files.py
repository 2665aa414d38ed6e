"""Output files that are written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from heldtrue.errors import InputError


def write_whole(path: Path, content: bytes | str) -> None:
    """Write one file so that a reader, or a power cut, sees the old file or the new one.

    Raises: ``InputError`` where the folder is missing or may not be written.
    """
    write_all({path: content})


def write_all(files: Mapping[Path, bytes | str]) -> None:
    """Write several files: none is put in place before all are complete on disk.

    Raises: ``InputError`` where a folder is missing or may not be written.
    """
    ready: list[tuple[str, Path]] = []
    try:
        for path, content in files.items():
            data = content.encode() if isinstance(content, str) else content
            with tempfile.NamedTemporaryFile(dir=path.parent, prefix=f".{path.name}.", delete=False) as part:
                ready.append((part.name, path))
                part.write(data)
                part.flush()
                os.fsync(part.fileno())
        for part_name, path in ready:
            os.chmod(part_name, 0o644)  # noqa: PTH101  a temporary file is private to its owner
            os.replace(part_name, path)  # noqa: PTH105
    except OSError as error:
        raise InputError(f"cannot write {error.filename or path}: {error.strerror}") from error
    finally:
        for part_name, _ in ready:
            Path(part_name).unlink(missing_ok=True)
