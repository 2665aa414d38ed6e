"""Files of one folder that belong together: replaced as one set, and nothing else in the folder is touched.

``files.json`` says which files are of the set, with the SHA-256 of each.  It is the mark: a file that it does not list
is somebody else's; one whose hash differs was changed since.  Before a set is touched it says "complete": false, and
after all else is on disk it is written anew.  Programs are taken away first and put in place last: whatever stops a
replacement, a program never stands beside files of another set.  Two runs into one folder take turns.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path

from heldtrue.errors import InputError, StorageError
from heldtrue.files import NO_ROOM, make_folder, part_of, reason_of, sweep, sync_folder, write_part
from heldtrue.folder_lock import LOCK, alone_in

MANIFEST = "files.json"
MARK = "heldtrue"
FORMAT = 1
EDITED = ".edited"
"""How the name of a file ends that was changed by hand since it was written, once a new set stands there."""


@dataclass(frozen=True)
class Standing:
    """How the set of a folder stands.

    ``is_set``: is there one at all; ``complete``: was it written to its end; ``changed``: files that differ from what
    was written; ``missing``: files that are gone; ``others``: what heldtrue did not write.
    """

    is_set: bool
    complete: bool
    changed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    others: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Is every file there as it was written, all of one set?"""
        return self.is_set and self.complete and not self.changed and not self.missing


@dataclass(frozen=True)
class Replaced:
    """What a replacement did to what was there.

    ``removed``: files of the set before; ``kept``: names of changed ones with the names they have now; ``left``: what
    heldtrue did not write, untouched; ``was_incomplete``: did an earlier writing stop half-way?
    """

    written: tuple[str, ...]
    removed: tuple[str, ...]
    kept: tuple[tuple[str, str], ...]
    left: tuple[str, ...]
    was_incomplete: bool


@dataclass(frozen=True)
class _Manifest:
    """``hashes``: those that are ours, by name; of a half-written set both the old and the new."""

    complete: bool
    hashes: Mapping[str, frozenset[str]]


@dataclass
class _Undo:
    """What was done so far, so that it can be taken back; ``lost``: it could not."""

    done: list[tuple[Path, Path | None]] = field(default_factory=list)
    lost: bool = False

    def keep(self, path: Path) -> None:
        """Remember a file by a second name, or that there is none, before its name is touched."""
        kept: Path | None = None
        if os.path.lexists(path):
            kept = part_of(path)
            try:
                os.link(path, kept)
            except OSError:  # a disk that gives no second names
                write_part(kept, path.read_bytes())
        self.done.append((path, kept))

    def take_back(self) -> None:
        """As it was. Raises: ``OSError`` where that cannot be; the second names then stay."""
        self.lost = True
        for path, kept in reversed(self.done):
            if kept is None:
                path.unlink(missing_ok=True)
            else:
                kept.replace(path)
        self.lost = False

    def forget(self) -> None:
        """Take the second names away."""
        for _, kept in self.done:
            if kept is not None and not self.lost:
                with suppress(OSError):  # what is left is swept another day
                    kept.unlink(missing_ok=True)


def standing(folder: Path) -> Standing:
    """How the set of a folder stands. Raises: ``InputError`` for a manifest that is not ours or damaged."""
    found = _read(folder)
    if found is None:
        return Standing(False, False, others=_others(folder, ()))
    there = {name: _hash(folder / name) for name in found.hashes}
    return Standing(
        True, found.complete,
        tuple(sorted(name for name, one in there.items() if one is not None and one not in found.hashes[name])),
        tuple(sorted(name for name, one in there.items() if one is None)),
        _others(folder, found.hashes),
    )  # fmt: skip


def replace_set(
    folder: Path, files: Mapping[str, bytes | str], *, is_program: Callable[[str], bool] = lambda _: False
) -> Replaced:
    """Put a set of files in place of the one that stands there, all or none; no files: only take the old set away.

    A file of the old set that was changed since is kept under another name.  ``is_program``: which names are taken away
    first and put in place last.
    Raises: ``InputError`` where a file that heldtrue did not write has a name of the set, the folder takes no files, or
    another run goes on writing there; ``StorageError`` where the disk is full.  Nothing is changed then.
    """
    new = {name: content.encode() if isinstance(content, str) else content for name, content in files.items()}
    made: list[Path] = []
    if new:
        try:
            make_folder(folder, made)
        except OSError as error:
            kind = StorageError if error.errno in NO_ROOM else InputError
            raise kind(f"cannot write {folder}: {reason_of(error)}") from error
    elif _read(folder) is None:
        return Replaced((), (), (), _others(folder, ()), False)
    try:
        with alone_in(folder):
            return _replace(folder, new, is_program)
    finally:
        with suppress(OSError):
            if made and [path.name for path in folder.iterdir()] == [LOCK]:
                (folder / LOCK).unlink()  # nothing came into the folder that was made for it
        for place in reversed(made):
            with suppress(OSError):  # it holds the files, or somebody else's
                place.rmdir()


def _replace(folder: Path, new: Mapping[str, bytes], is_program: Callable[[str], bool]) -> Replaced:
    """The same in a folder that is held."""
    before = _read(folder)
    ours = before.hashes if before else {}
    _refuse_others(folder, new, ours)
    parts: dict[str, Path] = {}
    undo = _Undo()
    path = folder
    try:
        sweep(folder)
        for name, content in new.items():
            path = folder / name
            parts[name] = part_of(path)
            write_part(parts[name], content)
        path = folder / MANIFEST
        there = {name: one for name in ours if (one := _hash(folder / name)) is not None}
        undo.keep(path)
        try:
            _write(folder, {name: {*ours.get(name, ()), *_sums(new, name)} for name in {*ours, *new}}, complete=False)
            changed = _swap(folder, parts, there, ours, is_program, undo)
            path = folder / MANIFEST
            if new:
                _write(folder, {name: _sums(new, name) for name in new}, complete=True)
            else:
                path.unlink()
                sync_folder(folder)
        except BaseException:
            undo.take_back()
            sync_folder(folder)
            raise
    except OSError as error:
        kind = StorageError if error.errno in NO_ROOM else InputError
        raise kind(f"cannot write {path}: {reason_of(error)}") from error
    finally:
        undo.forget()
        for part in parts.values():
            with suppress(OSError):
                part.unlink(missing_ok=True)
    gone = tuple(sorted(name for name in there if name not in new and name not in changed))
    return Replaced(tuple(new), gone, tuple(sorted(changed.items())), _others(folder, {*new, *changed.values()}),
                    before is not None and not before.complete)  # fmt: skip


def _swap(
    folder: Path, parts: Mapping[str, Path], there: Mapping[str, str], ours: Mapping[str, frozenset[str]],
    is_program: Callable[[str], bool], undo: _Undo,
) -> dict[str, str]:  # fmt: skip
    """Old programs away, all else, new programs; what was changed by hand and its new name."""
    changed: dict[str, str] = {}
    for programs in (True, False):
        for name, digest in there.items():
            if is_program(name) is programs and (name not in parts or programs or digest not in ours[name]):
                undo.keep(folder / name)
                if digest in ours[name]:
                    (folder / name).unlink()
                    continue
                changed[name] = _free_name(folder, name)
                undo.keep(folder / changed[name])
                (folder / name).rename(folder / changed[name])
        sync_folder(folder)
    for programs in (False, True):
        for name, part in parts.items():
            if is_program(name) is programs:
                undo.keep(folder / name)
                os.replace(part, folder / name)  # noqa: PTH105
        sync_folder(folder)
    return changed


def _refuse_others(folder: Path, new: Mapping[str, bytes], ours: Mapping[str, frozenset[str]]) -> None:
    """Nothing that heldtrue did not write is written over."""
    strange = sorted(
        name for name in (*new, *ours)
        if os.path.lexists(folder / name) and (name not in ours or not (folder / name).is_file()
                                               or (folder / name).is_symlink())
    )  # fmt: skip
    if strange:
        raise InputError(
            f"{folder}: {', '.join(dict.fromkeys(strange))}: there already, and not written by heldtrue; move it away, "
            "or name another folder; nothing was written"
        )


def _free_name(folder: Path, name: str) -> str:
    number, found = 1, name + EDITED
    while os.path.lexists(folder / found):
        number += 1
        found = f"{name}{EDITED}-{number}"
    return found


def _others(folder: Path, ours: object) -> tuple[str, ...]:
    try:
        names = sorted(path.name for path in folder.iterdir())
    except OSError:
        return ()
    known = set(ours) if isinstance(ours, Mapping | set | frozenset | tuple) else set()
    return tuple(name for name in names if name not in known and name != MANIFEST and not name.startswith("."))


def _sums(new: Mapping[str, bytes], name: str) -> set[str]:
    return {sha256(new[name]).hexdigest()} if name in new else set()


def _hash(path: Path) -> str | None:
    try:
        return sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return None
    except OSError:  # a folder in its place, or nobody may read it: not what was written
        return ""


def _write(folder: Path, hashes: Mapping[str, set[str]], *, complete: bool) -> None:
    """The manifest, whole and on disk, name and all."""
    content = {
        "written_by": MARK, "format": FORMAT, "complete": complete,
        "files": {name: sorted(hashes[name]) for name in sorted(hashes)},
    }  # fmt: skip
    part = part_of(folder / MANIFEST)
    try:
        write_part(part, (json.dumps(content, indent=2) + "\n").encode())
        part.replace(folder / MANIFEST)
        sync_folder(folder)
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _read(folder: Path) -> _Manifest | None:
    path = folder / MANIFEST
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except NotADirectoryError:
        return None
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: it cannot be read; move it away, or name another folder") from error
    files = raw.get("files") if isinstance(raw, dict) else None
    if not isinstance(files, dict) or raw.get("written_by") != MARK or raw.get("format") != FORMAT:
        raise InputError(f"{path}: not written by heldtrue; move it away, or name another folder")
    if not all(_is_plain(name) and isinstance(sums, list) for name, sums in files.items()):
        raise InputError(f"{path}: it names files outside its folder; move it away, or name another folder")
    return _Manifest(raw.get("complete") is True, {name: frozenset(map(str, sums)) for name, sums in files.items()})


def _is_plain(name: str) -> bool:
    """A name that can only be a file of this folder."""
    return bool(name) and name == Path(name).name and not name.startswith(".") and "\\" not in name and name != MANIFEST
