"""Copies of the drawings that setups were made from, kept beside the records by the hash of their content.

A copy is only ever kept and handed back, never opened by another program; its name on disk is its hash, so that no two
drawings of one name are mixed up, and one that has changed on disk is found out.
"""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path
from re import compile as rule
from typing import Literal

from heldtrue.errors import InputError
from heldtrue.files import write_all
from heldtrue.part_file.read import DXF_ENDINGS, STEP_ENDINGS
from heldtrue.web.part import words
from heldtrue.web.part.arrivals import LARGEST_DRAWING

MOST_KEPT = 2_000_000_000
"""Bytes of all copies together; one more is not kept, and that is said."""
DIGEST = rule(r"[0-9a-f]{64}")
State = Literal["kept", "changed", "missing"]


class KeptDrawings:
    """The copies in one folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, name: str, content: bytes) -> bool:
        """Keep a copy; False where there is no room for it. Raises: ``InputError``, ``StorageError``: not written."""
        path = self._path(sha256(content).hexdigest(), name)
        if len(content) > LARGEST_DRAWING:
            return False
        if path.is_file() and path.read_bytes() == content:
            return True
        there = self._folder.iterdir() if self._folder.is_dir() else ()
        if len(content) + sum(one.stat().st_size for one in there) > MOST_KEPT:
            return False
        write_all({path: content}, make_folders=True)
        return True

    def content(self, digest: str, name: str) -> bytes:
        """The drawing of that hash, as it was kept. Raises: ``InputError`` where it is not there, or is another."""
        path = self._path(digest, name)
        try:
            if path.stat().st_size > LARGEST_DRAWING:
                raise InputError(words.COPY_CHANGED.format(name=name))
            content = path.read_bytes()
        except OSError as error:
            raise InputError(words.NO_COPY.format(name=name)) from error
        if sha256(content).hexdigest() != digest:
            raise InputError(words.COPY_CHANGED.format(name=name))
        return content

    def state(self, digest: str, name: str) -> State:
        """Is the copy there, and still what it was?"""
        try:
            self.content(digest, name)
        except InputError:
            return "changed" if self._path(digest, name).exists() else "missing"
        return "kept"

    def _path(self, digest: str, name: str) -> Path:
        ending = next((one for one in (*STEP_ENDINGS, *DXF_ENDINGS) if name.lower().endswith(one)), "")
        if not DIGEST.fullmatch(digest) or not ending:
            raise InputError(words.NO_COPY.format(name=name))
        return self._folder / f"{digest}{ending}"
