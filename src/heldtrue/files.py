"""Output files that are written whole or not at all, and stay when the power goes.

What a file holds is on disk when it was synced, its name when its folder was; both are needed.
"""

from __future__ import annotations

import errno
import os
import secrets
import shutil
import time
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from heldtrue.errors import InputError, StorageError

NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EIO)
"""What a disk says that is full, may not be written, or is broken: nothing in the input would help."""
PART = ".heldtrue-part-"
"""How the name of a file or folder begins that is not complete yet."""
SWEPT_AFTER = 24 * 3600.0
"""Age of a part whose writer must have been killed; no writing takes as long. [s]"""
_CANNOT = (errno.EINVAL, errno.ENOTSUP, errno.EACCES, errno.EPERM, errno.EBADF)
"""What a file system says that does not sync folders: there is nothing more to be done there."""


class _Placed:
    """A file that is about to be replaced, with a second name for what was there."""

    def __init__(self, path: Path) -> None:
        self.path, self.kept, self.is_new, self.was_there = path, part_of(path), False, path.exists()
        with suppress(OSError):  # none there, or the disk gives no second names: then it cannot be put back
            os.link(path, self.kept)

    def put_back(self) -> None:
        with suppress(OSError):
            if self.kept.exists():
                self.kept.replace(self.path)
            elif self.is_new and not self.was_there:
                self.path.unlink(missing_ok=True)


def write_whole(path: Path, content: bytes | str) -> None:
    """Write one file so that a reader, or a power cut, sees the old file or the new one.

    Raises: ``InputError`` where the folder is missing or may not be written.
    """
    write_all({path: content})


def write_all(files: Mapping[Path, bytes | str], *, make_folders: bool = False) -> None:
    """Write several files: none is put in place before all are complete on disk; an error puts the old ones back.

    They are on disk, names and all, when it returns.  A power cut while the last names change may leave some new and
    some old, each whole.  ``make_folders`` makes missing folders, and takes them away again where the files cannot be
    written.
    Raises: ``InputError`` where a folder is missing or may not be written, or a folder stands in a file's place;
    ``StorageError`` where the disk is full.
    """
    ready: list[tuple[Path, Path]] = []
    placed: list[_Placed] = []
    made: list[Path] = []
    path = Path()
    try:
        for path in files:
            if path.is_dir():
                raise InputError(f"cannot write {path}: it is a folder")
        for path, content in files.items():
            if make_folders:
                make_folder(path.parent, made)
            sweep(path.parent)
            part = part_of(path)
            ready.append((part, path))
            write_part(part, content.encode() if isinstance(content, str) else content)
        try:
            for part, path in ready:
                placed.append(_Placed(path))
                os.replace(part, path)  # noqa: PTH105
                placed[-1].is_new = True
            for folder in {path.parent for path in files}:
                sync_folder(folder)
        except BaseException:
            for one in placed:
                one.put_back()
            raise
    except OSError as error:
        kind = StorageError if error.errno in NO_ROOM else InputError
        raise kind(f"cannot write {path}: {reason_of(error)}") from error
    finally:
        for part in [*(part for part, _ in ready), *(one.kept for one in placed)]:
            with suppress(OSError):  # what is left is swept another day
                part.unlink(missing_ok=True)
        for folder in reversed(made):
            with suppress(OSError):  # it holds the files, or somebody else's
                folder.rmdir()


def remove(path: Path) -> None:
    """Take a file away so that it stays away; nothing where there is none.

    Raises: ``InputError`` where it cannot be taken away.
    """
    try:
        path.unlink()
        sync_folder(path.parent)
    except FileNotFoundError:
        pass
    except OSError as error:
        raise InputError(f"cannot remove {path}: {reason_of(error)}") from error


def make_folder(folder: Path, made: list[Path] | None = None) -> None:
    """Make a folder and those above it, so that they stay; adds the new ones to ``made``. Raises: ``OSError``."""
    for place in reversed([folder, *folder.parents]):
        if not place.is_dir():
            place.mkdir(exist_ok=True)
            if made is not None:
                made.append(place)
            sync_folder(place.parent)


def sync_folder(folder: Path) -> None:
    """Make the names in a folder stay when the power goes. Raises: ``OSError``."""
    if os.name == "nt":  # no way to ask for it there
        return
    number = os.open(folder, os.O_RDONLY)
    try:
        sync(number)
    except OSError as error:
        if error.errno not in _CANNOT:
            raise
    finally:
        os.close(number)


def sync(number: int) -> None:
    """Make what an open file holds stay when the power goes. Raises: ``OSError``."""
    try:
        from fcntl import F_FULLFSYNC, fcntl  # type: ignore[attr-defined,unused-ignore]  # fsync stops at the drive there
    except ImportError:
        os.fsync(number)
    else:
        fcntl(number, F_FULLFSYNC)


def copy_synced(source: Path, target: Path) -> None:
    """Copy a file; the copy is whole and on disk, name and all, when it returns. Raises: ``OSError``."""
    part = part_of(target)
    try:
        with source.open("rb") as from_, part.open("xb") as to:
            shutil.copyfileobj(from_, to)
            to.flush()
            sync(to.fileno())
        shutil.copystat(source, part)
        part.replace(target)
        sync_folder(target.parent)
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def part_of(path: Path) -> Path:
    """A name beside ``path`` for what is not complete yet; if its writer is killed, it is swept later."""
    return path.with_name(f"{PART}{path.name[-40:]}-{secrets.token_hex(4)}")


def sweep(folder: Path) -> None:
    """Take away what killed writers left in a folder a day ago or longer."""
    with suppress(OSError):
        for part in folder.glob(f"{PART}*"):
            with suppress(OSError):
                stands = part.stat()
                # the second time counts names given: the old file that is kept meanwhile is old itself
                if time.time() - max(stands.st_mtime, stands.st_ctime) < SWEPT_AFTER:
                    continue
                if part.is_dir():
                    shutil.rmtree(part)
                else:
                    part.unlink()


def write_part(part: Path, data: bytes) -> None:
    """Write a new file; what it holds is on disk when it returns. Raises: ``OSError``."""
    with part.open("xb") as file:
        os.chmod(file.fileno() if os.chmod in os.supports_fd else part, 0o644)  # noqa: PTH101
        file.write(data)
        file.flush()
        sync(file.fileno())


def reason_of(error: OSError) -> str:
    """What the disk said, in words."""
    if isinstance(error, FileNotFoundError):
        return "its folder does not exist or takes no files"
    return (error.strerror or str(error)).lower()


def examples_folder() -> Path | None:
    """The examples that came with the program: in it where it was installed, beside its source where it was cloned."""
    here = Path(__file__).resolve()
    places = (here.parent / "examples", here.parents[2] / "examples")
    return next((place for place in places if (place / "chucks").is_dir()), None)
