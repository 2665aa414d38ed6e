"""The command line: parse, call one service, render.

Exit status: 0 done, and the plan passes; 1 the plan fails or is not proven; 2 bad input, or nothing could be computed;
130 stopped by the user; 141 the reader of the output went away.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer
from typer.core import TyperGroup

from heldtrue.errors import HeldtrueError, InputError

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
if TYPE_CHECKING:
    from rich.console import Console

DOES_NOT_PASS = 1
BAD_INPUT = 2
STOPPED = 130
READER_GONE = 141


class _PlainErrors(TyperGroup):
    """Every error on purpose becomes a plain message and an exit status, never a traceback."""

    def invoke(self, ctx: Any) -> Any:
        """Run a command."""
        try:
            result = super().invoke(ctx)
            sys.stdout.flush()
        except InputError as error:
            for problem in error.problems:
                _complain(problem)
            raise typer.Exit(BAD_INPUT) from error
        except HeldtrueError as error:
            _complain(str(error))
            raise typer.Exit(BAD_INPUT) from error
        except BrokenPipeError as error:
            # What was not read cannot count as done.
            _give_up_stdout()
            raise typer.Exit(READER_GONE) from error
        except OSError as error:
            _give_up_stdout()
            _complain(f"the output cannot be written: {(error.strerror or str(error)).lower()}")
            raise typer.Exit(BAD_INPUT) from error
        except KeyboardInterrupt as error:
            _complain("stopped; nothing written")
            raise typer.Exit(STOPPED) from error
        return result


app = typer.Typer(
    cls=_PlainErrors,
    help="Plan how a turned part is held: so that it cannot let go, runs true, and comes off round.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


Units = Literal["metric", "inch"]
Paper = Literal["a4", "us-letter"]
Document = Literal["setup", "chuck", "plan", "comparison", "contact"]

SetupFile = Annotated[Path, typer.Argument(help="The setup file (TOML).", show_default=False)]
InUnits = Annotated[Units | None, typer.Option(help="Units of the output; those of the file if left out.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else.")]


def _say_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        print(f"heldtrue {version('heldtrue')}")
        raise typer.Exit


@app.callback()
def _common(
    version: Annotated[
        bool, typer.Option("--version", callback=_say_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    pass


@app.command()
def plan(
    setup_file: SetupFile,
    as_json: AsJson = False,
    sheet: Annotated[Path | None, typer.Option(help="Write the floor sheet to this PDF file.")] = None,
    drawings: Annotated[Path | None, typer.Option(help="Write the drawings (SVG) into this folder.")] = None,
    units: InUnits = None,
    paper: Annotated[Paper, typer.Option(help="Paper of the floor sheet.")] = "a4",
) -> None:
    """Does the part stay in, at what pressure, how fast, and how round does it come off?"""
    from heldtrue.planning.setup import Setup

    setup = Setup.from_toml(setup_file)
    system = units or setup.units
    if sheet is not None:
        _check_file(sheet, setup_file)
    if drawings is not None:
        _check_folder(drawings)
    outputs: dict[Path, bytes | str] = {}
    with _working("planning") as say:
        from heldtrue.planning.plan import plan as make_plan

        say("solving part, contact and grip")
        made = make_plan(setup)
        if sheet is not None:
            from heldtrue.sheets.floor_sheet import floor_sheet

            say("setting the floor sheet")
            outputs[sheet] = floor_sheet(made, system, paper)
        if drawings is not None:
            from heldtrue.drawing import all_drawings

            say("drawing")
            outputs |= {drawings / name: svg for name, svg in all_drawings(made, system).items()}
    _write(outputs)
    if as_json:
        from heldtrue.planning.document import to_json

        _print_json(to_json(made))
    else:
        from heldtrue.terminal import show_plan

        show_plan(_stdout(), made, system)
    raise typer.Exit(0 if made.verdict == "passes" else DOES_NOT_PASS)


@app.command()
def compare(setup_file: SetupFile, as_json: AsJson = False, units: InUnits = None) -> None:
    """The same operation with other jaws, the other side, more jaws: which holds truest, and why the rest lose."""
    from heldtrue.planning.setup import Setup

    setup = Setup.from_toml(setup_file)
    with _working("comparing") as say:
        from heldtrue.planning.compare import compare as make_comparison

        ways = make_comparison(setup, progress=say)
    if as_json:
        from heldtrue.planning.document import comparison_json

        _print_json(comparison_json(ways, setup))
    else:
        from heldtrue.terminal import show_comparison

        show_comparison(_stdout(), ways, units or setup.units)
    passes = any(way.plan is not None and way.plan.verdict == "passes" for way in ways)
    raise typer.Exit(0 if passes else DOES_NOT_PASS)


@app.command()
def contact(
    setup_file: SetupFile,
    pressure: Annotated[
        str | None, typer.Option(help='Gauge pressure, such as "18 bar"; that of the finish if left out.')
    ] = None,
    as_json: AsJson = False,
    drawings: Annotated[Path | None, typer.Option(help="Write the contact prints (SVG) into this folder.")] = None,
    units: InUnits = None,
) -> None:
    """How do the jaws bear on the part, what taper do I cut, what do I bore them to?"""
    from heldtrue.planning.setup import Setup

    setup = Setup.from_toml(setup_file)
    system = units or setup.units
    if pressure is not None:
        setup = setup.with_({"run.pressure": _gauge_pressure(pressure, setup.units)})
    if drawings is not None:
        _check_folder(drawings)
    with _working("contact") as say:
        from heldtrue.planning.jaw_contact import contact as make_contact

        say("pressing part and jaws together")
        made = make_contact(setup)
        outputs: dict[Path, bytes | str] = {}
        if drawings is not None:
            from heldtrue.drawing import contact_drawings

            say("drawing")
            outputs = {drawings / name: svg for name, svg in contact_drawings(made, system).items()}
    _write(outputs)
    if as_json:
        from heldtrue.planning.contact_document import contact_json

        _print_json(contact_json(made))
    else:
        from heldtrue.terminal_contact import show_contact

        show_contact(_stdout(), made, system)


@app.command()
def schema(
    document: Annotated[Document, typer.Argument(help="Which document.")] = "setup",
) -> None:
    """Print the JSON Schema of a setup file, of a chuck file, or of what a command prints with --json."""
    from heldtrue.planning import contact_document, file_schema
    from heldtrue.planning import document as documents

    make = {
        "setup": file_schema.setup_schema,
        "chuck": file_schema.chuck_schema,
        "plan": documents.plan_schema,
        "comparison": documents.comparison_schema,
        "contact": contact_document.contact_schema,
    }[document]
    _print_json(json.dumps(make(), indent=2, ensure_ascii=False))


@app.command()
def materials(as_json: AsJson = False, units: InUnits = None) -> None:
    """The built-in data of part and jaw materials, every number with its source."""
    from heldtrue.mechanics.materials import JAW_MATERIALS, WORK_MATERIALS

    if as_json:
        from dataclasses import asdict

        data = {"work": [asdict(m) for m in WORK_MATERIALS], "jaws": [asdict(m) for m in JAW_MATERIALS]}
        _print_json(json.dumps(data, indent=2, ensure_ascii=False))
        return
    from heldtrue.terminal import show_materials

    show_materials(_stdout(), WORK_MATERIALS, JAW_MATERIALS, units or "metric")


def main() -> None:
    """Run the command line."""
    # Before anything loads numpy: our matrices are small, and on a busy machine threads mostly wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")  # a letter the screen cannot show is no reason to show nothing
    app()


def _print_json(text: str) -> None:
    """JSON is UTF-8, whatever the screen speaks."""
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8")
    print(text)


def _give_up_stdout() -> None:
    """What still waits to be printed is dropped, so that Python does not complain about it at exit."""
    sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123


def _complain(problem: str) -> None:
    _stderr().print(problem, style="bold", highlight=False, markup=False, soft_wrap=True)


def _stdout() -> Console:
    from rich.console import Console

    class Screen(Console):
        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    return Screen(width=None if sys.stdout.isatty() else 140)


def _stderr() -> Console:
    from rich.console import Console

    return Console(stderr=True)


@contextmanager
def _working(what: str) -> Iterator[Callable[[str], None]]:
    """A line on the terminal that says what is going on; silent where nobody watches."""
    with _stderr().status(f"{what} ...") as status:
        yield lambda step: status.update(f"{what}: {step} ...")


def _gauge_pressure(typed: str, system: Units) -> float:
    """What was typed after --pressure. [MPa]"""
    from heldtrue.quantities import parse_quantity

    try:
        return parse_quantity(typed, "pressure", system)
    except InputError as error:
        raise InputError(f"--pressure: {error}") from error


def _write(outputs: dict[Path, bytes | str]) -> None:
    """All files or none, each named on stderr."""
    if not outputs:
        return
    from heldtrue.files import write_all

    write_all(outputs, make_folders=True)
    for path in outputs:
        _stderr().print(f"wrote {path}", highlight=False, markup=False, soft_wrap=True)


def _check_file(path: Path, setup_file: Path) -> None:
    """Refuse early, before anything is computed, what could not be written or would destroy the setup."""
    if path.is_dir():
        raise InputError(f"cannot write {path}: it is a folder; name the PDF file in it")
    if not path.parent.is_dir():
        raise InputError(f"cannot write {path}: its folder does not exist")
    if path.exists() and path.samefile(setup_file):
        raise InputError(f"cannot write {path}: it is the setup file itself")


def _check_folder(path: Path) -> None:
    for place in (path, *path.parents):
        if place.is_dir():
            return
        if place.exists():
            raise InputError(f"cannot write drawings into {path}: {place} is a file")
