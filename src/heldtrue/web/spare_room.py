"""Room on the disk kept for one thing: that the app can start again when the disk is full.

SQLite makes a file of 32 kB beside each database as it is opened, also by who only reads.  Where there is no room for
it nothing opens, and the shop stands without its memory.  So a spare file lies in the folder while there is room, and
goes when there is none.
"""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from pathlib import Path

from heldtrue.errors import InputError
from heldtrue.web import texts

SPARE = ".heldtrue-spare-room"
ROOM = 256 * 1024
"""What opening takes at most: two databases, and some folders. [bytes]"""
PLENTY = 16 * ROOM
"""With less than this left no spare file is made: others need it more. [bytes]"""


def make_way(folder: Path) -> bool:
    """Give up the spare room of a folder where its disk is full; was it?

    Raises: ``InputError`` where the disk is full and there is no spare room to give up.
    """
    if not folder.is_dir() or shutil.disk_usage(folder).free >= ROOM:
        return False
    with suppress(OSError):
        (folder / SPARE).unlink(missing_ok=True)
    free = shutil.disk_usage(folder).free
    if free < ROOM:
        raise InputError(texts.NO_ROOM_TO_START.format(folder=folder, free=free // 1024))
    return True


def keep_spare(folder: Path) -> None:
    """Keep spare room in a folder, where there is plenty; a spare file that cannot be written whole is none."""
    spare = folder / SPARE
    try:
        if spare.exists() or shutil.disk_usage(folder).free < PLENTY:
            return
        with spare.open("wb") as file:
            file.write(os.urandom(ROOM))  # what a disk that packs files cannot pack
            os.fsync(file.fileno())
    except OSError:
        with suppress(OSError):
            spare.unlink(missing_ok=True)
