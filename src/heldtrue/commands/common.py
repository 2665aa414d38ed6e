"""What the commands share: the kinds of their arguments, and how they print and write."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from heldtrue.errors import InputError

if TYPE_CHECKING:
    from rich.console import Console

DOES_NOT_PASS = 1
BAD_INPUT = 2
STOPPED = 130
READER_GONE = 141

Units = Literal["metric", "inch"]
Paper = Literal["a4", "us-letter"]
SetupFile = Annotated[Path, typer.Argument(help="The setup file (TOML).", show_default=False)]
InUnits = Annotated[Units | None, typer.Option(help="Units of the output; those of the file if left out.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else.")]


def print_json(text: str) -> None:
    """JSON is UTF-8, whatever the screen speaks."""
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8")
    print(text)


def give_up_stdout() -> None:
    """What still waits to be printed is dropped, so that Python does not complain about it at exit."""
    sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123


def complain(problem: str) -> None:
    """One problem on stderr."""
    error_screen().print(problem, style="bold", highlight=False, markup=False, soft_wrap=True)


def screen() -> Console:
    """What is printed on."""
    from rich.console import Console

    class Screen(Console):
        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    return Screen(width=None if sys.stdout.isatty() else 140)


def said(words: str, *, wrapped: bool = True) -> None:
    """What was done, on stdout; a path is better left in one line."""
    screen().print(words, highlight=False, markup=False, soft_wrap=not wrapped)


def error_screen() -> Console:
    """Where problems and progress go."""
    from rich.console import Console

    return Console(stderr=True)


@contextmanager
def working(what: str) -> Iterator[Callable[[str], None]]:
    """A line on the terminal that says what is going on; silent where nobody watches."""
    with error_screen().status(f"{what} ...") as status:
        yield lambda step: status.update(f"{what}: {step} ...")


def gauge_pressure(typed: str, system: Units) -> float:
    """What was typed after --pressure. [MPa]"""
    return typed_quantity("--pressure", typed, "pressure", system)


def typed_gauge(option: str, typed: str, unit: str, most: float | None = None) -> float:
    """What was typed off a gauge with that unit; far over ``most`` of the plates it is asked back. [MPa]"""
    from heldtrue.planning.gauge_words import typed_pressure

    try:
        return typed_pressure(typed, unit, most)
    except InputError as error:
        raise InputError(f"{option}: {error}") from error


def typed_quantity(option: str, typed: str, kind: str, system: Units) -> float:
    """What was typed after an option, in the core unit of its kind."""
    from heldtrue.quantities import parse_quantity

    try:
        return parse_quantity(typed, kind, system)
    except InputError as error:
        raise InputError(f"{option}: {error}") from error


def typed_diameter(option: str, typed: str, system: Units) -> float:
    """A diameter typed after an option, with or without its sign. [mm]"""
    from heldtrue.shop.typed import typed_diameter as read

    try:
        return read(typed, system)
    except InputError as error:
        raise InputError(f"{option}: {error}") from error


def write(outputs: Mapping[Path, bytes | str]) -> None:
    """All files or none, each named on stderr."""
    if not outputs:
        return
    from heldtrue.files import write_all

    write_all(outputs, make_folders=True)
    for path in outputs:
        error_screen().print(f"wrote {path}", highlight=False, markup=False, soft_wrap=True)


def check_file(path: Path, setup_file: Path | None = None) -> None:
    """Refuse early, before anything is computed, what could not be written or would destroy the setup."""
    if path.is_dir():
        raise InputError(f"cannot write {path}: it is a folder; name the PDF file in it")
    if not path.parent.is_dir():
        raise InputError(f"cannot write {path}: its folder does not exist")
    if setup_file is not None and path.exists() and path.samefile(setup_file):
        raise InputError(f"cannot write {path}: it is the setup file itself")


def check_new_file(path: Path, setup_file: Path | None = None) -> None:
    """Refuse early what could not be written, or is there already."""
    check_file(path, setup_file)
    if path.exists():
        raise InputError(f"{path} is there already; name a new file")


def check_folder(path: Path, what: str = "drawings") -> None:
    """Refuse early a folder that cannot be."""
    for place in (path, *path.parents):
        if place.is_dir():
            return
        if place.exists():
            raise InputError(f"cannot write {what} into {path}: {place} is a file")
