"""Output files: whole or not at all."""

import errno
import os

import pytest

from heldtrue.errors import InputError
from heldtrue.files import PART, write_all, write_whole


def left(folder):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def test_text_and_bytes_are_written_as_they_are(tmp_path):
    write_all({tmp_path / "a.svg": "Ø 3 µm\n", tmp_path / "b.pdf": b"\x00\r\n\xff"})
    assert (tmp_path / "a.svg").read_bytes() == "Ø 3 µm\n".encode()
    assert (tmp_path / "b.pdf").read_bytes() == b"\x00\r\n\xff"
    assert left(tmp_path) == ["a.svg", "b.pdf"]


def test_an_old_file_is_replaced(tmp_path):
    path = tmp_path / "a"
    path.write_text("a long old text")
    write_whole(path, "new")
    assert path.read_text() == "new"


@pytest.mark.skipif(os.name == "nt", reason="no permission bits there")
def test_others_may_read_it(tmp_path):
    write_whole(tmp_path / "a", "x")
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o644


def test_no_file_is_put_in_place_when_the_second_cannot_be_written(tmp_path):
    (tmp_path / "old").write_text("old")
    with pytest.raises(InputError, match="missing"):
        write_all({tmp_path / "old": "new", tmp_path / "missing" / "b": "b"})
    assert left(tmp_path) == ["old"]
    assert (tmp_path / "old").read_text() == "old"


def test_a_folder_in_the_way_stops_all(tmp_path):
    (tmp_path / "b").mkdir()
    with pytest.raises(InputError, match="b: it is a folder"):
        write_all({tmp_path / "a": "a", tmp_path / "b": "b"})
    assert left(tmp_path) == ["b"]


def test_a_file_in_place_of_a_folder_is_named_as_the_user_wrote_it(tmp_path):
    (tmp_path / "file").write_text("mine")
    with pytest.raises(InputError) as caught:
        write_whole(tmp_path / "file" / "a", "a")
    assert str(tmp_path / "file" / "a") in str(caught.value)
    assert PART not in str(caught.value), "the name of a part file tells a user nothing"
    assert (tmp_path / "file").read_text() == "mine"


def test_missing_folders_are_made_only_when_asked_and_only_for_files(tmp_path):
    target = tmp_path / "x" / "y" / "a"
    with pytest.raises(InputError):
        write_all({target: "a"})
    assert left(tmp_path) == []
    write_all({target: "a"}, make_folders=True)
    assert target.read_text() == "a"


@pytest.mark.parametrize(
    ("where", "error", "seen"),
    [
        ("fsync", OSError(errno.ENOSPC, "No space left on device"), InputError),
        ("replace", OSError(errno.EACCES, "Permission denied"), InputError),
        ("fsync", KeyboardInterrupt(), KeyboardInterrupt),
        ("replace", KeyboardInterrupt(), KeyboardInterrupt),
        ("chmod", MemoryError(), MemoryError),
    ],
)
def test_whatever_stops_it_leaves_no_part_and_no_folder(tmp_path, monkeypatch, where, error, seen):
    """It stops at the first file, so nothing may be in place."""

    def stop(*_):
        assert left(tmp_path), "something is on disk by now"
        raise error

    monkeypatch.setattr(f"heldtrue.files.os.{where}", stop)
    with pytest.raises(seen) as caught:
        write_all({tmp_path / "new" / "a": "a", tmp_path / "new" / "b": "b"}, make_folders=True)
    assert left(tmp_path) == []
    if seen is InputError:
        assert f"cannot write {tmp_path / 'new' / 'a'}" in str(caught.value)
        assert error.strerror.lower() in str(caught.value)


def test_a_folder_that_others_filled_meanwhile_is_left_alone(tmp_path, monkeypatch):
    def stop(*_):
        (tmp_path / "new" / "theirs").write_text("x")
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("heldtrue.files.os.fsync", stop)
    with pytest.raises(InputError, match="no space"):
        write_all({tmp_path / "new" / "a": "a"}, make_folders=True)
    assert left(tmp_path) == ["new", "new/theirs"]


def test_old_files_come_back_when_a_later_name_cannot_be_given(tmp_path, monkeypatch):
    """All or none also there: a sheet of today beside a drawing of yesterday would be believed."""
    write_all({tmp_path / "a": "old a", tmp_path / "b": "old b"})
    given = os.replace

    def stop(part, path):
        if path == tmp_path / "b":
            raise OSError(errno.EIO, "Input/output error")
        given(part, path)

    monkeypatch.setattr("heldtrue.files.os.replace", stop)
    with pytest.raises(InputError, match="b: input/output error"):
        write_all({tmp_path / "a": "new a", tmp_path / "new": "n", tmp_path / "b": "new b"})
    assert (tmp_path / "a").read_text() == "old a"
    assert (tmp_path / "b").read_text() == "old b"
    assert left(tmp_path) == ["a", "b"]


def test_parts_of_killed_writers_are_swept_after_a_day(tmp_path, monkeypatch):
    (tmp_path / f"{PART}sheet.pdf-1").write_text("half")
    (tmp_path / f"{PART}plain-2").mkdir()
    (tmp_path / f"{PART}plain-2" / "machines.csv").write_text("half")
    write_whole(tmp_path / "a", "a")
    assert len(left(tmp_path)) == 4, "another program may be writing them"
    monkeypatch.setattr("heldtrue.files.SWEPT_AFTER", -1.0)
    write_whole(tmp_path / "a", "b")
    assert left(tmp_path) == ["a"]
    assert (tmp_path / "a").read_text() == "b"


@pytest.mark.skipif(os.name == "nt", reason="folders cannot be synced there")
def test_the_folder_is_synced_after_the_name_is_given(tmp_path, monkeypatch):
    """Without it a power cut takes the new name back."""
    happened = []
    synced, given = os.fsync, os.replace
    monkeypatch.setattr("heldtrue.files.os.fsync", lambda fd: (happened.append("sync"), synced(fd)))
    monkeypatch.setattr("heldtrue.files.os.replace", lambda *names: (happened.append("name"), given(*names)))
    write_whole(tmp_path / "a", "a")
    assert happened == ["sync", "name", "sync"]
