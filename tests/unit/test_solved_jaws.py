"""Jaws kept on disk: the same answer as solving, and never one that is not whole."""

import os
from dataclasses import fields, replace
from shutil import copyfile

import numpy as np
import pytest
from conftest import longer

from heldtrue.mechanics.contact import JawFace
from heldtrue.mechanics.jaw_body import JawBody
from heldtrue.mechanics.jaw_response import JawResponse
from heldtrue.mechanics.jaw_shape import Bolt, BoringRing, JawBase, JawShape
from heldtrue.mechanics.stations import Stations
from heldtrue.planning import solved_jaws
from heldtrue.planning.solved_jaws import JawKind, solved_jaw

SHAPE = JawShape(
    "standard", "outside", 40.0, 0.5, 40.0, 40.0, 50.0, 30.0, relief=0.5, bolts=(Bolt(60.0, 11.0, 17.0, 9.0),)
)
KIND = JawKind(SHAPE, 70_000.0, 0.33, JawBase(2e3, 1e3, 3e9), BoringRing((10.0, 20.0)))
FACE = JawFace(Stations("outside", 40.0, (2.0, 8.0, 14.0)), SHAPE.half_angle, 3, 2)


@pytest.fixture
def place(tmp_path, monkeypatch):
    monkeypatch.setenv("HELDTRUE_CACHE", str(tmp_path / "jaws"))
    return tmp_path / "jaws"


@pytest.fixture
def solving(monkeypatch):
    """How often a jaw was solved."""
    times = []
    under = JawBody.under
    monkeypatch.setattr(JawBody, "under", lambda *it: times.append(it) or under(*it))
    return times


def arrays(jaw):
    return [getattr(jaw, name) for name in ("firm", "push", "stress", "middles")]


def test_a_kept_jaw_answers_as_the_solved_one(place, solving):
    first, again = solved_jaw(KIND, FACE), solved_jaw(KIND, FACE)
    assert len(solving) == 1
    assert all(np.array_equal(a, b) for a, b in zip(arrays(first), arrays(again), strict=True))
    pressure = np.ones(FACE.areas.shape)
    assert again.largest_mises(pressure) == first.largest_mises(pressure)
    assert np.array_equal(again.compliance_with(1e9), first.compliance_with(1e9))
    assert np.array_equal(again.under_ring(1e9), first.under_ring(1e9))


@pytest.mark.parametrize("spoil", ["one bit", "of another jaw", *longer("cut short", "empty", "rubbish")])
def test_a_file_that_is_not_whole_is_solved_again(place, solving, spoil):
    good = solved_jaw(KIND, FACE)
    (path,) = place.iterdir()
    content = path.read_bytes()
    if spoil == "of another jaw":
        solved_jaw(replace(KIND, young=210_000.0), FACE)
        (other,) = set(place.iterdir()) - {path}
        copyfile(other, path)
    else:
        bit = bytearray(content)
        bit[len(bit) // 2] ^= 1
        path.write_bytes(
            {"cut short": content[:-9], "one bit": bytes(bit), "empty": b"", "rubbish": b"x" * 4000}[spoil]
        )
    solved = len(solving)
    again = solved_jaw(KIND, FACE)
    assert len(solving) == solved + 1
    assert all(np.array_equal(a, b) for a, b in zip(arrays(good), arrays(again), strict=True))
    assert path.read_bytes() == content


def test_whatever_is_changed_is_another_jaw(place):
    def name(kind, face=FACE):
        return solved_jaws._path(kind, face).name

    changed = [replace(KIND, shape=replace(SHAPE, **{f.name: change(getattr(SHAPE, f.name))})) for f in fields(SHAPE)
               if f.name not in ("style", "side")]  # fmt: skip
    changed += [replace(KIND, shape=replace(SHAPE, style="wide")), replace(KIND, shape=replace(SHAPE, side="inside"))]
    changed += [replace(KIND, young=70_000.0001), replace(KIND, poisson=0.34), replace(KIND, ring=BoringRing((10, 21)))]
    changed += [replace(KIND, base=replace(KIND.base, **{f.name: 1.0})) for f in fields(KIND.base)]
    names = {name(one) for one in changed} | {name(KIND)}
    names |= {name(KIND, replace(FACE, sectors=4)), name(KIND, replace(FACE, jaws=3)), name(KIND, replace(FACE,
              stations=Stations("outside", 40.0, (2.0, 8.0, 14.1))))}  # fmt: skip
    assert len(names) == len(changed) + 4


def change(value):
    return (Bolt(60.0, 11.0, 17.0, 9.1),) if isinstance(value, tuple) else value * 1.000001 or 0.5


def test_other_code_solves_again(place, solving, monkeypatch):
    solved_jaw(KIND, FACE)
    monkeypatch.setattr(solved_jaws, "_solver", lambda: "another")
    solved_jaw(KIND, FACE)
    assert len(solving) == 2


def test_nothing_is_kept_where_nothing_may_be(tmp_path, monkeypatch, solving):
    (tmp_path / "file").write_text("")
    for place in ("", str(tmp_path / "file" / "jaws")):
        monkeypatch.setenv("HELDTRUE_CACHE", place)
        solved_jaw(KIND, FACE)
    assert len(solving) == 2
    assert [entry.name for entry in tmp_path.iterdir()] == ["file"]


class Solved:
    """In place of a jaw: the files are tried here, and these take no time."""

    def __init__(self, *_):
        pass

    def under(self, face):
        self.face = face
        return self

    def response(self, ring):
        cells = self.face.areas.size
        return JawResponse(self.face, 30.0, 3e9, ring, np.eye(cells), np.zeros(self.face.areas.shape),
                           np.zeros((cells, 2, 6), np.float32), np.zeros((2, 3)))  # fmt: skip


def test_the_ones_not_used_for_longest_go_first(place, monkeypatch):
    monkeypatch.setattr(solved_jaws, "JawBody", Solved)
    monkeypatch.setattr(solved_jaws, "MOST_KEPT", 2)
    monkeypatch.setattr(solved_jaws, "DROPPED_AT_ONCE", 1)
    kinds = [replace(KIND, young=young) for young in (60_000.0, 70_000.0, 80_000.0)]
    names = [solved_jaws._path(kind, FACE).name for kind in kinds]
    for kind in kinds[:2]:
        solved_jaw(kind, FACE)
        os.utime(place / solved_jaws._path(kind, FACE).name, (1e9, 1e9))
    for kind in (kinds[0], kinds[2]):
        solved_jaw(kind, FACE)
    assert {entry.name for entry in place.iterdir()} == {names[0], names[2]}
