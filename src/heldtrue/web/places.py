"""Which field a problem of a setup is about, and what is still missing: so that a page can lead there."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from heldtrue.errors import InputError
from heldtrue.planning.reading import label
from heldtrue.planning.setup import Setup
from heldtrue.web import texts
from heldtrue.web.fields import Table, bare, get, shape_at
from heldtrue.web.sections import label_of, section_of

_LISTED = {"corner": "", "reading": "", "ring": "", "value": ""}
_GIVE = {
    "give the surface it makes, or its diameter": "surface", "give the surface it makes, or its z": "z.0",
    "give its speed (cutting speed) or its spindle_speed": "speed",
    "give bar_diameter and overhang": "bar_diameter", "speed and spindle_speed": "spindle_speed",
}  # fmt: skip
"""Sentences that ask for one of several keys, by how they begin, and the field to go to."""
_GONE = ("is missing", "it is empty", "0 different corners make", "found nothing", 'found ""', "there is no [", *_GIVE)
_NEEDS = {
    "turn": ("depth", "feed"), "face": ("depth", "feed"), "bore": ("depth", "feed"), "groove": ("width", "feed"),
    "part_off": ("width", "feed"), "drill": ("diameter", "feed"), "thread": ("pitch",), "tap": ("diameter", "pitch"),
}  # fmt: skip
_KEY = re.compile(r"\b(?:part|grip|chuck|jaws|boring|run|machine|limits)(?:\.[a-z_]+)+\b")
_BARE_KEY = re.compile(r"\b[a-z]+(?:_[a-z]+)+\b")
_MEANT = re.compile(r'did you mean (?:"([^"]+)"|([^"\s?]+))\?')


@dataclass(frozen=True)
class Point:
    """Something to put right: ``problem`` in words, the ``path`` of its field or section, is it merely missing?"""

    problem: str
    path: str
    missing: bool

    @property
    def section(self) -> str:
        """The first step of the path: which table of the setup."""
        return self.path.partition(".")[0]


def problems_in(table: Table) -> list[str]:
    """What is wrong with a setup, in words; empty where it holds together."""
    try:
        Setup.from_dict(table)
    except InputError as error:
        return list(error.problems)
    return []


def points_of(table: Table, problems: list[str]) -> list[Point]:
    """The problems with their fields, and what the setup will ask for once those are put right."""
    found = [Point(one, path_of(table, one), is_missing(one)) for one in problems]
    # A setup is read table by table: what hangs on two of them is asked for only when both are whole, and what is
    # wrong beside something missing would be said only when that is there.
    if problems:
        found += [Point(f"{path.partition('.')[0]}: material: {one}", path, False)
                  for path, one in _unknown_materials(table) if path not in {one.path for one in found}]  # fmt: skip
    there = {one.path for one in found}
    if not problems:
        return found
    for path, words in _needed_later(table):
        if path not in there and f"{path}.0" not in there:
            found.append(Point(words, path, True))
    return found


def _unknown_materials(table: Table) -> list[tuple[str, str]]:
    """Materials that were typed and that the tables do not know."""
    from heldtrue.mechanics.materials import jaw_material, work_material

    found = []
    for path, look_up in (("part.material", work_material), ("jaws.material", jaw_material)):
        name = bare(get(table, path))
        if isinstance(name, str) and name.strip():
            try:
                look_up(name.strip())
            except InputError as error:
                found.append((path, "; ".join(error.problems)))
    return found


def is_missing(problem: str) -> bool:
    """Is nothing wrong but that something is not there yet?"""
    return any(word in problem for word in _GONE)


def meant(problem: str) -> str:
    """The value a problem suggests in place of what was typed; empty where it suggests none."""
    found = _MEANT.search(problem)
    return (found[1] or found[2]) if found else ""


def path_of(table: Table, problem: str) -> str:
    """The path of the field a problem is about, or of the table; empty where it says neither."""
    return _read(table, problem)[0]


def said_of_it(table: Table, problem: str) -> str:
    """A problem as its own field says it: without the keys of the file that lead there."""
    path, rest = _read(table, problem)
    key = _own_key(path) if path else ""
    return _plain(path, (rest.removeprefix(f"{key} ") if key else rest) or problem)


def in_labels(table: Table, problem: str) -> str:
    """A problem with the fields called as they are on the page, not by their keys in the file."""
    path, rest = _read(table, problem)
    label = label_of(table, path) if path and rest else ""
    if not label or label == path:
        return _plain(path, problem)
    key = _own_key(path)
    joined = f"{label}{rest.removeprefix(key)}" if rest.startswith(f"{key} ") else f"{label}: {rest}"
    return _plain(path, joined)


def _own_key(path: str) -> str:
    """The key of the file that a path ends in, without the place in a pair."""
    steps = [step for step in path.split(".") if not step.isdecimal()]
    return steps[-1]


def _plain(path: str, words: str) -> str:
    """Words in which keys of the file, whole or of the table the path stands in, are called by their labels."""
    place = path.rpartition(".")[0] or path

    def bare_key(found: re.Match[str]) -> str:
        whole = f"{place}.{found[0]}"
        label = label_of({}, whole) if _is_key(whole) else whole
        return found[0] if label == whole else f"'{label}'"

    return _BARE_KEY.sub(bare_key, _KEY.sub(_called, words))


def _called(found: re.Match[str]) -> str:
    """A dotted key within a sentence, as its field is called."""
    label = label_of({}, found[0]) if _is_key(found[0]) else found[0]
    return found[0] if label == found[0] else f"'{label}' ({texts.SECTIONS[section_of(found[0])]})"


def _read(table: Table, problem: str) -> tuple[str, str]:
    """The path a problem leads to, and what it says after the keys."""
    here, rest = _beginning(table, problem)
    if not here:
        return "", problem
    while rest:
        word, _, after = rest.partition(": ")
        step = _step(here, word)
        if step is None:
            break
        here, rest = f"{here}.{step}", after
    else:
        return _whole(here), ""
    for sentence, key in _GIVE.items():
        if rest.startswith(sentence):
            return f"{here}.{key}", rest
    found = re.match(r"[a-z_]+", rest)
    if found is not None and (step := _step(here, found[0])) is not None:
        return _whole(f"{here}.{step}"), rest
    return _whole(here), rest


def _beginning(table: Table, problem: str) -> tuple[str, str]:
    """The table a problem begins with, and what it says after that."""
    for key in ("cut", "surface"):
        for number, one in enumerate(_tables(table, key)):
            name = bare(one.get("name")) if isinstance(one, dict) else ""
            names = (str(name).strip(), "") if isinstance(name, str) else ("",)
            for place in (label(key, number, word) for word in names):
                if problem.startswith(f"{place}: "):
                    return f"{key}.{number}", problem[len(place) + 2 :]
    named = re.match(r"there is no \[+([a-z]+)\]", problem)
    if named:
        return named[1], ""
    word, _, rest = problem.partition(": ")
    return (word, rest) if _is_key(word) else ("", "")


def _tables(table: Table, key: str) -> list[object]:
    found = bare(get(table, key))
    return list(found) if isinstance(found, list | tuple) else []


def _step(here: str, word: str) -> str | None:
    """The step of a path that a word of a problem stands for; None where it is none."""
    numbered = re.match(r"(corner|reading|ring|value) (\d+)", word)
    if numbered and numbered[1] in _LISTED:
        if numbered[1] == "ring" and not here.endswith(".rings"):
            return f"rings.{int(numbered[2]) - 1}"
        return str(int(numbered[2]) - 1)
    at_corner = re.fullmatch(r"part\.(profile|blank)\.\d+", here)
    if at_corner:
        return {"diameter": "0", "z": "1", "radius": "2.radius", "chamfer": "2.chamfer"}.get(word)
    if here.startswith("surface.") and word == "diameters":
        word = "diameter"
    return word if _is_key(f"{here}.{word}") else None


def _whole(path: str) -> str:
    """A path of a pair leads to its first value; of a face, whose z is one, to that."""
    try:
        shape = shape_at(path)
    except KeyError:
        return path
    return f"{path}.0" if shape.name == "pair" and not path.startswith("surface.") else path


@lru_cache(maxsize=2000)
def _is_key(path: str) -> bool:
    try:
        shape_at(path)
    except KeyError:
        return False
    return True


def _needed_later(table: Table) -> list[tuple[str, str]]:
    """Paths that are still empty though the setup does not ask for them yet, each with words."""
    found = []
    if len(bare(get(table, "part.profile")) or ()) < 3:
        found.append(("part.profile", texts.NO_PROFILE))
    side = bare(get(table, "grip.side"))
    area = "pull_area" if side == "outside" else "push_area"
    if get(table, f"chuck.actuator.{area}") is None and not get(table, "chuck.grip_readings"):
        found.append((f"chuck.actuator.{area}", texts.NO_AREA.format(side=side)))
    if get(table, "grip.seat") is None:
        found.append(("grip.seat", texts.SAY_SEAT))
    if not _tables(table, "cut"):
        found.append(("cut", texts.NO_CUT))
    for number, cut in enumerate(_tables(table, "cut")):
        found += [(f"cut.{number}.{key}", words) for key, words in _cut_needs(cut)]
    return found


def _cut_needs(cut: object) -> list[tuple[str, str]]:
    if not isinstance(cut, dict):
        return []
    kind = str(bare(cut.get("kind")) or "")
    gone = [(key, texts.CUT_NEEDS.format(kind=kind.replace("_", " "))) for key in _NEEDS.get(kind, ())
            if cut.get(key) is None]  # fmt: skip
    if kind not in ("drill", "tap") and not cut.get("surface") and (cut.get("diameter") is None or not cut.get("z")):
        gone.append(("surface", texts.CUT_NEEDS_PLACE))
    if cut.get("speed") is None and cut.get("spindle_speed") is None:
        gone.append(("speed", texts.CUT_NEEDS_SPEED))
    return gone
