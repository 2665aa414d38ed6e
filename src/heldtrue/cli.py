"""The command line: parse, call one service, render.  Exit status 0 done, 1 the plan does not pass, 2 bad input."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from heldtrue.errors import HeldtrueError, InputError

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
if TYPE_CHECKING:
    from rich.console import Console

DOES_NOT_PASS = 1
BAD_INPUT = 2

app = typer.Typer(
    help="Plan how a turned part is held: so that it cannot let go, runs true, and comes off round.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


Units = Literal["metric", "inch"]
Paper = Literal["a4", "us-letter"]
Document = Literal["setup", "plan"]

SetupFile = Annotated[Path, typer.Argument(help="The setup file (TOML).", show_default=False)]
InUnits = Annotated[Units | None, typer.Option(help="Units of the output; those of the file if left out.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else.")]


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
    outputs: dict[Path, bytes | str] = {}
    with _working("planning") as say:
        from heldtrue.planning.plan import plan as make_plan

        say("solving part, contact and grip")
        made = make_plan(setup)
        if sheet is not None:
            from heldtrue.sheets.floor_sheet import floor_sheet

            say("setting the floor sheet")
            outputs[_writable(sheet)] = floor_sheet(made, system, paper)
        if drawings is not None:
            from heldtrue.drawing import all_drawings

            say("drawing")
            outputs |= {_folder(drawings) / name: svg for name, svg in all_drawings(made, system).items()}
    if outputs:
        from heldtrue.files import write_all

        write_all(outputs)
    if as_json:
        from heldtrue.planning.document import to_json

        print(to_json(made))
    else:
        from heldtrue.terminal import show_plan

        show_plan(_stdout(), made, system)
        for path in outputs:
            _stderr().print(f"wrote {path}", highlight=False, markup=False)
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

        print(comparison_json(ways))
    else:
        from heldtrue.terminal import show_comparison

        show_comparison(_stdout(), ways, units or setup.units)
    passes = any(way.plan is not None and way.plan.verdict == "passes" for way in ways)
    raise typer.Exit(0 if passes else DOES_NOT_PASS)


@app.command()
def schema(
    document: Annotated[Document, typer.Argument(help="Which document: the setup file, or the plan's JSON.")] = "setup",
) -> None:
    """Print the JSON Schema of the setup file or of the plan."""
    if document == "plan":
        from heldtrue.planning.document import plan_schema

        print(json.dumps(plan_schema(), indent=2))
    else:
        from heldtrue.planning.setup import Setup

        print(json.dumps(Setup.json_schema(), indent=2))


@app.command()
def materials(as_json: AsJson = False, units: InUnits = None) -> None:
    """The built-in data of part and jaw materials, every number with its source."""
    from heldtrue.mechanics.materials import JAW_MATERIALS, WORK_MATERIALS

    if as_json:
        from dataclasses import asdict

        print(
            json.dumps(
                {"work": [asdict(m) for m in WORK_MATERIALS], "jaws": [asdict(m) for m in JAW_MATERIALS]},
                indent=2,
            )
        )
        return
    from heldtrue.terminal import show_materials

    show_materials(_stdout(), WORK_MATERIALS, JAW_MATERIALS, units or "metric")


def main() -> None:
    """Run the command line; every error on purpose is a plain message and exit status 2."""
    try:
        app()
    except InputError as error:
        for problem in error.problems:
            _stderr().print(problem, style="bold", highlight=False, markup=False, soft_wrap=True)
        sys.exit(BAD_INPUT)
    except HeldtrueError as error:
        _stderr().print(str(error), style="bold", highlight=False, markup=False, soft_wrap=True)
        sys.exit(BAD_INPUT)
    except BrokenPipeError:
        # The reader of a pipe has seen enough; Python must not complain about it at exit.
        sys.stderr.close()
        sys.exit(0)
    except KeyboardInterrupt:
        _stderr().print("stopped; nothing written")
        sys.exit(130)


def _stdout() -> Console:
    from rich.console import Console

    return Console(width=None if sys.stdout.isatty() else 140)


def _stderr() -> Console:
    from rich.console import Console

    return Console(stderr=True)


@contextmanager
def _working(what: str) -> Iterator[Callable[[str], None]]:
    """A line on the terminal that says what is going on; silent where nobody watches."""
    with _stderr().status(f"{what} ...") as status:
        yield lambda step: status.update(f"{what}: {step} ...")


def _writable(path: Path) -> Path:
    if path.is_dir() or not path.parent.is_dir():
        raise InputError(
            f"cannot write {path}: " + ("it is a folder" if path.is_dir() else "its folder does not exist")
        )
    return path


def _folder(path: Path) -> Path:
    if path.exists() and not path.is_dir():
        raise InputError(f"cannot write drawings into {path}: it is a file")
    path.mkdir(parents=True, exist_ok=True)
    return path
