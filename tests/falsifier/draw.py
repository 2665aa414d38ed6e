"""Draws of a world inside its ranges, corners oversampled; shocks outside them; a search for the worst corner."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np

from .ranges import Range
from .truth import World

OUTSIDE = ("cut", "friction", "grip")
"""Shocks outside the ranges: the cut half as hard again untold, friction or grip a quarter short."""


def draw(ranges: Mapping[str, Range], rng: np.random.Generator, *, corner: bool = False) -> World:
    """One world: every input evenly within its range, or at an end at random (``corner``)."""
    values = {}
    for name, (low, high) in ranges.items():
        either = corner or name == "seat" or name.startswith("interrupted: ")
        share = float(rng.integers(2)) if either and name not in ("unbalance_angle", "weight_angle") else rng.uniform()
        values[name] = low + (high - low) * share
    return World(values, "corner" if corner else "inside")


def draws(ranges: Mapping[str, Range], count: int, seed: int) -> Iterator[World]:
    """``count`` worlds; every second one is a corner."""
    rng = np.random.default_rng(seed)
    for number in range(count):
        yield draw(ranges, rng, corner=number % 2 == 1)


def outside(world: World, shock: str) -> World:
    """The world with one shock that no range holds; ``shock``: one of ``OUTSIDE``."""
    values = dict(world.values)
    if shock == "cut":
        values["kc11"] *= 1.5
    elif shock == "friction":
        values["friction"] *= 0.75
    elif shock == "grip":
        # Both ways in which a grip may be known: plates, or readings.
        values["grip_share"] *= 0.75
        values["reading_error"] = 0.75 * (1 + values["reading_error"]) - 1
    else:
        raise ValueError(f"shock {shock!r} is not one of {', '.join(OUTSIDE)}")
    return World(values, f"outside: {shock}")


def worst_corner(
    ranges: Mapping[str, Range], margin: Callable[[World], float], seed: int = 0, *, rounds: int = 2
) -> World:
    """A corner with a low margin: each input in turn to its worse end, from the middle of all; angles at eight places.

    Not proved the worst: inputs that only matter together can hide.  Random corners stand beside it.
    """
    rng = np.random.default_rng(seed)
    values = {name: (low + high) / 2 for name, (low, high) in ranges.items()}
    least = margin(World(values, "worst corner"))
    for _ in range(rounds):
        before = least
        for name in rng.permutation(sorted(ranges)):
            low, high = ranges[str(name)]
            places = np.linspace(low, high, 9)[:8] if str(name).endswith("_angle") else (low, high)
            for value in dict.fromkeys(float(p) for p in places):
                if value == values[str(name)]:
                    continue
                tried = margin(World({**values, str(name): value}, "worst corner"))
                if tried <= least:
                    least, values[str(name)] = tried, value
        if least >= before:
            break
    return World(values, "worst corner")
