"""Small steps of every number of a setup: no margin may jump.  A number that stands in two places moves in both."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from copy import deepcopy
from typing import Any

import numpy as np

from heldtrue.errors import InputError
from heldtrue.planning.judge import Setting, Step, judge, rising
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study

Path = tuple[str | int, ...]
COUNTS = frozenset({"jaws", "count", "quantity", "teeth", "insert_count"})
SIZES = ("part", "surface", "grip", "cut")
UNASKED = ("boring",)
"""Not asked by any check."""
FIT = ("diameter_tolerance", "roundness", "cylindricity", "flatness", "runout", "off_centre", "depth", "feed", "width")


def plain(raw: Any) -> Any:
    """The same in dicts and lists that can be changed."""
    if isinstance(raw, Mapping):
        return {key: plain(value) for key, value in raw.items()}
    return [plain(value) for value in raw] if isinstance(raw, list | tuple) else raw


def numbers(raw: Any, path: Path = ()) -> Iterator[tuple[Path, float]]:
    """Every number of a setup and where it stands; counts are none."""
    if isinstance(raw, Mapping):
        for key, value in raw.items():
            counts = key in COUNTS and not isinstance(value, Mapping)
            if not counts and (path or key not in UNASKED):
                yield from numbers(value, (*path, key))
    elif isinstance(raw, list | tuple):
        for place, value in enumerate(raw):
            yield from numbers(value, (*path, place))
    elif isinstance(raw, int | float) and not isinstance(raw, bool) and raw != 0:
        yield path, float(raw)


def knobs(raw: Mapping[str, Any]) -> dict[str, list[Path]]:
    """What moves together, by a name: equal diameters, and equal heights, of part, surfaces, grip and cuts are one."""
    found: dict[str, list[Path]] = {}
    for path, value in numbers(raw):
        words = [str(step) for step in path]
        name = ".".join(words)
        if words[0] in SIZES and not any(word in FIT for word in words):
            corner = words[1] in ("profile", "blank") and len(words) == 4
            if "z" in words or (corner and words[3] == "1"):
                name = f"z = {value:g}"
            elif corner or any(word in ("diameter", "seat_diameters") for word in words):
                name = f"diameter {value:g}"
        found.setdefault(name, []).append(path)
    bore = [path for name, paths in found.items() for path in paths if path[:2] == ("jaws", "bore_diameter")]
    gripped = next((name for name, paths in found.items() if ("grip", "diameter") in paths), None)
    if bore and gripped is not None:
        # A bore that stayed where it is would be another fit: tenths of a millimetre, no small step.
        found = {name: paths for name, paths in found.items() if bore[0] not in paths}
        found[gripped].append(bore[0])
    return found


def stepped(raw: Mapping[str, Any], paths: list[Path], share: float) -> dict[str, Any]:
    """The setup with the numbers at ``paths`` moved by the same amount: ``share`` of the first of them."""
    moved = deepcopy(dict(raw))
    amount = None
    for path in paths:
        place: Any = moved
        for step in path[:-1]:
            place = place[step]
        if isinstance(place, tuple):
            raise TypeError(f"{path} stands in a tuple")
        amount = share * place[path[-1]] if amount is None else amount
        place[path[-1]] += amount
    return moved


def one_setting(setup: Setup, pressure: float = 1.0) -> Setting:
    """All cuts at one pressure [MPa] and the job's own speed: what is set does not follow the steps."""
    step = Step("all cuts", tuple(cut.name for cut in setup.cuts), True)
    return Setting(((step, pressure),), Study.of(setup).speed)


def margins(raw: Mapping[str, Any], setting: Setting, *, pressed: bool) -> dict[str, float]:
    """Margin of every check at a setting; ``pressed`` False: only those of holding, which need no elastic solution."""
    study = Study.of(Setup.from_dict(raw))
    if pressed:
        return {check.name: check.margin for check in judge(study, setting)}
    found: dict[str, float] = {}
    for step, pressure in setting.steps:
        for check in rising(study, step, pressure, setting.speed_rpm):
            found[check.name] = min(found.get(check.name, np.inf), check.margin)
    return found


def jumps(
    raw: Mapping[str, Any], setting: Setting, share: float, *, pressed: bool, names: list[str] | None = None
) -> tuple[dict[tuple[str, str], float], int]:
    """Change of each margin over 1 + the margin, by number and check; and how many numbers a step was not taken of."""
    base, found, refused = margins(raw, setting, pressed=pressed), {}, 0
    for name, paths in knobs(raw).items():
        if names is not None and name not in names:
            continue
        try:
            there = margins(stepped(raw, paths, share), setting, pressed=pressed)
        except InputError:
            refused += 1
            continue
        for check, margin in base.items():
            if check in there and np.isfinite(margin) and np.isfinite(there[check]):
                found[name, check] = abs(there[check] - margin) / (1 + abs(margin))
    return found, refused
