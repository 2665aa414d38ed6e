"""The command line: parse, call one service, render.

Exit status: 0 done, and the plan passes; 1 the plan fails or is not proven; 2 bad input, or nothing could be computed;
130 stopped by the user; 141 the reader of the output went away.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from io import TextIOWrapper
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from heldtrue.commands import app as app_command
from heldtrue.commands import (
    boring,
    chuck,
    lookup,
    measure,
    part,
    planning,
    prove,
    readings,
    records,
    replan,
    run,
    shelf,
    start,
    stock,
    tag,
    user,
)
from heldtrue.commands.common import BAD_INPUT, READER_GONE, STOPPED, complain, give_up_stdout
from heldtrue.errors import HeldtrueError, InputError


class _PlainErrors(TyperGroup):
    """Every error on purpose becomes a plain message and an exit status, never a traceback."""

    def invoke(self, ctx: Any) -> Any:
        """Run a command."""
        try:
            result = super().invoke(ctx)
            sys.stdout.flush()
        except InputError as error:
            for problem in error.problems:
                complain(problem)
            raise typer.Exit(BAD_INPUT) from error
        except HeldtrueError as error:
            complain(str(error))
            raise typer.Exit(BAD_INPUT) from error
        except BrokenPipeError as error:
            # What was not read cannot count as done.
            give_up_stdout()
            raise typer.Exit(READER_GONE) from error
        except OSError as error:
            give_up_stdout()
            complain(f"the output cannot be written: {(error.strerror or str(error)).lower()}")
            raise typer.Exit(BAD_INPUT) from error
        except KeyboardInterrupt as error:
            complain("stopped; nothing written")
            raise typer.Exit(STOPPED) from error
        return result


app = typer.Typer(
    cls=_PlainErrors,
    help="Plan how a turned part is held: so that it cannot let go, runs true, and comes off round.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
)


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


ANSWERS: tuple[Callable[..., None], ...] = (
    part.part, planning.ways, planning.plan, planning.measure, planning.assumptions, planning.compare,
    planning.contact, boring.bore, boring.recut, boring.folder, prove.prove, start.start, start.move, replan.replan,
    readings.indicator, readings.taper, readings.drift, readings.learn,
)  # fmt: skip
SAFEKEEPING: tuple[Callable[..., None], ...] = (
    records.backup, records.restore, records.check, records.export, records.import_, records.copy,
    records.upgrade,
)  # fmt: skip
LOOKUP: tuple[Callable[..., None], ...] = (lookup.examples, lookup.schema, lookup.materials)

for command in ANSWERS:
    app.command()(command)
for name, group in (
    ("shelf", shelf.shelf),
    ("chuck", chuck.chuck),
    ("ring", measure.ring),
    ("friction", measure.friction),
    ("run", run.run),
    ("tag", tag.tag),
    ("stock", stock.stock),
    ("user", user.user),
):
    app.add_typer(group, name=name)
app.command("app")(app_command.app_)
for command in (*SAFEKEEPING, *LOOKUP):
    app.command(command.__name__.rstrip("_"))(command)


def main() -> None:
    """Run the command line."""
    # Before anything loads numpy: our matrices are small, and on a busy machine threads mostly wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    _own_stdout()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")  # a letter the screen cannot show is no reason to show nothing
    app()


def _own_stdout() -> None:
    """Make the output of the command ours alone, here and in every process that it starts.

    The mesher prints what it thinks of a jaw that it gives up, amid our JSON.
    """
    if not isinstance(sys.stdout, TextIOWrapper):
        return
    try:
        ours = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    except OSError:  # closed: nobody listens
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
    sys.stdout = TextIOWrapper(ours, sys.stdout.encoding, line_buffering=sys.stdout.line_buffering)
