"""A set of files in a folder: replaced as one, killed anywhere, and nobody else's file touched."""

import errno
import json
import os
import subprocess
import sys

import pytest
from conftest import longer

from heldtrue.errors import InputError, StorageError
from heldtrue.file_sets import MANIFEST, replace_set, standing
from heldtrue.files import PART
from heldtrue.folder_lock import LOCK, alone_in

OLD = {"bore-J-1.nc": "old program", "proof.json": "old proof", "steps.txt": "old steps", "jaw.svg": "old drawing"}
NEW = {"bore-J-1.nc": "new program", "proof.json": "new proof", "steps.txt": "new steps", "bore.json": "new"}
FAILED = {"proof.json": "failed proof", "failed-path.svg": "where"}
OTHER = {"bore-J-2.nc": "other program", "proof.json": "other proof"}


def is_program(name):
    return name.endswith(".nc")


def put(folder, files):
    return replace_set(folder, files, is_program=is_program)


def held(folder):
    return {path.name: path.read_text() for path in folder.iterdir()
            if path.name not in (MANIFEST, LOCK) and not path.name.startswith(PART)}  # fmt: skip


def test_a_set_is_written_whole_and_says_what_it_is(tmp_path):
    done = put(tmp_path / "out", OLD)
    assert held(tmp_path / "out") == OLD
    assert set(done.written) == set(OLD)
    assert (done.removed, done.kept, done.left, done.was_incomplete) == ((), (), (), False)
    assert standing(tmp_path / "out").whole
    listed = json.loads((tmp_path / "out" / MANIFEST).read_text())
    assert listed["complete"] is True
    assert set(listed["files"]) == set(OLD)


def test_the_next_set_takes_its_place_and_what_is_of_no_set_stays(tmp_path):
    put(tmp_path, OLD)
    (tmp_path / "notes.txt").write_text("mine")
    done = put(tmp_path, NEW)
    assert held(tmp_path) == NEW | {"notes.txt": "mine"}
    assert done.removed == ("jaw.svg",)
    assert done.left == ("notes.txt",)
    assert standing(tmp_path).others == ("notes.txt",)
    put(tmp_path, OTHER)
    assert held(tmp_path) == OTHER | {"notes.txt": "mine"}, "no program of another set may lie beside this proof"


def test_a_file_that_heldtrue_did_not_write_is_never_written_over(tmp_path):
    (tmp_path / "steps.txt").write_text("mine")
    with pytest.raises(InputError, match=r"steps\.txt: there already, and not written by heldtrue"):
        put(tmp_path, NEW)
    assert held(tmp_path) == {"steps.txt": "mine"}
    assert not (tmp_path / MANIFEST).exists()
    put(tmp_path / "sub", OLD)
    (tmp_path / "sub" / "bore.json").write_text("mine")
    with pytest.raises(InputError, match=r"bore\.json"):
        put(tmp_path / "sub", NEW)
    assert held(tmp_path / "sub") == OLD | {"bore.json": "mine"}
    assert standing(tmp_path / "sub").whole


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_link_in_place_of_a_file_is_not_followed_and_not_replaced(tmp_path):
    put(tmp_path / "out", OLD)
    (tmp_path / "mine").write_text("mine")
    (tmp_path / "out" / "steps.txt").unlink()
    (tmp_path / "out" / "steps.txt").symlink_to(tmp_path / "mine")
    with pytest.raises(InputError, match=r"steps\.txt"):
        put(tmp_path / "out", NEW)
    assert (tmp_path / "mine").read_text() == "mine"


@pytest.mark.parametrize("then", [NEW, FAILED, OTHER, {}])
def test_a_program_edited_by_hand_is_kept_under_a_name_no_control_takes(tmp_path, then):
    put(tmp_path, OLD)
    for number in (1, 2):
        (tmp_path / "bore-J-1.nc").write_text(f"edited {number}")
        assert standing(tmp_path).changed == ("bore-J-1.nc",)
        name = "bore-J-1.nc.edited" + ("-2" if number == 2 else "")
        assert put(tmp_path, OLD if number == 1 else then).kept == (("bore-J-1.nc", name),)
        assert (tmp_path / name).read_text() == f"edited {number}"
    edited = {"bore-J-1.nc.edited": "edited 1", "bore-J-1.nc.edited-2": "edited 2"}
    assert held(tmp_path) == then | edited
    assert not any(is_program(name) for name in edited)


def test_an_edited_drawing_is_kept_too_and_a_missing_file_is_written_anew(tmp_path):
    put(tmp_path, OLD)
    (tmp_path / "steps.txt").write_text("with a remark")
    (tmp_path / "proof.json").unlink()
    assert standing(tmp_path).missing == ("proof.json",)
    assert put(tmp_path, NEW).kept == (("steps.txt", "steps.txt.edited"),)
    assert held(tmp_path) == NEW | {"steps.txt.edited": "with a remark"}
    assert standing(tmp_path).whole


def test_no_files_take_the_set_away_and_no_set_is_nothing_to_take_away(tmp_path):
    put(tmp_path, OLD)
    (tmp_path / "notes.txt").write_text("mine")
    assert put(tmp_path, {}).removed == tuple(sorted(OLD))
    assert sorted(path.name for path in tmp_path.iterdir()) == [LOCK, "notes.txt"]
    assert put(tmp_path / "nowhere", {}).written == ()
    assert not (tmp_path / "nowhere").exists()


@pytest.mark.parametrize(("content", "words"), [
    ("{", "cannot be read"), ("[]", "not written by heldtrue"), ('{"files": {}}', "not written by heldtrue"),
    ('{"written_by": "heldtrue", "format": 1, "files": {"../mine": []}}', "outside its folder"),
    ('{"written_by": "heldtrue", "format": 1, "files": {"files.json": []}}', "outside its folder"),
    ('{"written_by": "heldtrue", "format": 1, "files": {"a": 3}}', "outside its folder"),
])  # fmt: skip
def test_a_manifest_that_is_not_ours_or_damaged_is_not_believed(tmp_path, content, words):
    (tmp_path / "mine").write_text("mine")
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / MANIFEST).write_text(content)
    for what in (lambda: put(folder, NEW), lambda: standing(folder)):
        with pytest.raises(InputError, match=words):
            what()
    assert (folder / MANIFEST).read_text() == content
    assert (tmp_path / "mine").read_text() == "mine"


# Whatever stops it

CALLS = ("replace", "rename", "unlink", "link", "fsync", "chmod", "rmdir")
"""What touches a name or the disk: ``Path`` uses these too."""


def counted(monkeypatch_set, stop):
    """Every call of the disk goes through ``stop`` first and, done, once more."""
    for name in CALLS:
        real = getattr(os, name)

        def call(*arguments, real=real, **keys):
            stop()
            result = real(*arguments, **keys)
            stop()
            return result

        monkeypatch_set(os, name, call)


def killed_at(number, folder, files):
    """Is a writing of ``files`` in a process of its own killed at that point?"""
    child = os.fork()
    if child == 0:
        left = [number]

        def stop():
            if left[0] == 0:
                os._exit(9)
            left[0] -= 1

        counted(setattr, stop)
        try:
            put(folder, files)
        finally:
            os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9


@pytest.mark.skipif(os.name == "nt", reason="no fork there")
@pytest.mark.parametrize(
    ("before", "after", "edited"),
    [
        (OLD, NEW, True),
        *longer((OLD, FAILED, False), ({}, NEW, False), (OLD, NEW, False), (OLD, OTHER, True), (OLD, {}, False)),
    ],
)
def test_killed_anywhere_no_program_stands_beside_another_s_proof(tmp_path, before, after, edited):
    number, half = 0, 0
    while True:
        folder = tmp_path / str(number)
        put(folder, before)
        folder.mkdir(exist_ok=True)
        (folder / "notes.txt").write_text("mine")
        if edited and before:
            (folder / "bore-J-1.nc").write_text("edited")
        killed = killed_at(number, folder, after)
        there = held(folder)
        assert there.pop("notes.txt") == "mine"
        now = standing(folder)
        texts = set(there.values())
        programs = {name for name in there if is_program(name)}
        mine = {"edited"} if edited and before else set()
        assert mine <= texts, "what was edited by hand is never lost"
        if now.complete:
            assert {name: text for name, text in there.items() if "edited" not in text} in (
                {name: text for name, text in before.items() if not (mine and is_program(name))}, after)  # fmt: skip
        else:
            half += now.is_set
        for name in programs:
            of = [one for one in (before, after) if one.get(name) == there[name] or there[name] == "edited"]
            assert any(all(there.get(other) == text for other, text in one.items() if not is_program(other))
                       for one in of), (number, there)  # fmt: skip
        again = put(folder, after)
        assert again.was_incomplete == (now.is_set and not now.complete)
        assert {name: text for name, text in held(folder).items() if "edited" not in name} == after | {
            "notes.txt": "mine"}  # fmt: skip
        assert standing(folder).whole == bool(after)
        if not killed:
            break
        number += 1
    assert number > 20
    assert half > 3


@pytest.mark.parametrize("after", [NEW, *longer(FAILED, OTHER, {})])
@pytest.mark.parametrize("kind", [OSError(errno.EACCES, "Permission denied"), KeyboardInterrupt()])
def test_an_error_anywhere_leaves_the_old_set_as_it_was(tmp_path, monkeypatch, after, kind):
    """Every call in turn fails once, then the disk works again: the old set comes back.

    Once the new one stands whole, an interruption while tidying up is no reason to undo it.
    """
    number = 0
    while True:
        folder = tmp_path / str(number)
        put(folder, OLD)
        (folder / "notes.txt").write_text("mine")
        left = [number]

        def stop(left=left):
            left[0] -= 1
            if left[0] == -1:
                raise kind

        with monkeypatch.context() as patched:
            counted(patched.setattr, stop)
            try:
                put(folder, after)
                stopped = False
            except (InputError, KeyboardInterrupt):
                stopped = True
        if stopped:
            old_is_back = held(folder) == OLD | {"notes.txt": "mine"}
            assert old_is_back or (
                isinstance(kind, KeyboardInterrupt) and held(folder) == after | {"notes.txt": "mine"}
            )
            assert standing(folder).whole == (old_is_back or bool(after))
        else:
            assert {name: text for name, text in held(folder).items() if name != "notes.txt"} == after
        if left[0] >= 0:
            break
        number += 1
    assert number > 20


def test_a_full_disk_says_so_and_changes_nothing(tmp_path, monkeypatch):
    put(tmp_path, OLD)

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        with pytest.raises(StorageError, match="no space left"):
            put(tmp_path, NEW)
    assert held(tmp_path) == OLD
    assert standing(tmp_path).whole


# Two at once

WRITER = """
import sys
from pathlib import Path
import heldtrue.file_sets as sets
folder, number, turns = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
for turn in range(turns):
    files = {f"bore-J-{number}.nc": f"program {number}", "proof.json": f"proof {number}", f"only-{number}.txt": number}
    sets.replace_set(folder, files, is_program=lambda name: name.endswith(".nc"))
"""


def test_runs_into_one_folder_take_turns_and_one_whole_set_stands(tmp_path):
    folder = tmp_path / "out"
    runs = [subprocess.Popen([sys.executable, "-c", WRITER, folder, str(n), "6"], stderr=subprocess.PIPE, text=True)
            for n in range(3)]  # fmt: skip
    said = [run.communicate(timeout=120)[1] for run in runs]
    assert [run.returncode for run in runs] == [0, 0, 0], said
    assert standing(folder).whole
    (number,) = [name[len("bore-J-")] for name in held(folder) if is_program(name)]
    assert held(folder) == {f"bore-J-{number}.nc": f"program {number}", "proof.json": f"proof {number}",
                            f"only-{number}.txt": number}  # fmt: skip


def test_a_folder_that_another_run_holds_is_refused_after_a_while_and_not_touched(tmp_path, monkeypatch):
    put(tmp_path, OLD)
    with alone_in(tmp_path):
        monkeypatch.setattr("heldtrue.folder_lock.PATIENCE_S", 0.2)
        with pytest.raises(InputError, match="another run is writing there"):
            put(tmp_path, NEW)
    assert held(tmp_path) == OLD
    put(tmp_path, NEW)
    assert held(tmp_path) == NEW


def test_a_killed_run_holds_nothing(tmp_path):
    code = "import sys, time; from pathlib import Path; from heldtrue.folder_lock import alone_in\n"
    code += "with alone_in(Path(sys.argv[1])):\n    print('held', flush=True)\n    time.sleep(60)"
    with subprocess.Popen([sys.executable, "-c", code, tmp_path], stdout=subprocess.PIPE, text=True) as run:
        assert run.stdout.readline() == "held\n"
        with pytest.raises(InputError, match="another run"), alone_in(tmp_path, 0.1):
            pass
        run.kill()
    with alone_in(tmp_path, 2.0):
        pass
