"""The ``tanksolve`` program: its commands, and the one place where errors become messages."""

import os
import sys

import typer

from tanksolve_cli import (
    budget,
    check,
    compare,
    dip,
    envelope,
    inspect,
    level,
    marks,
    motion,
    new,
    place,
    repair,
    replay,
    schema,
    sheet,
    size,
    suction,
    tolerance,
)

__all__ = ["app", "run"]

_EPILOG = (
    "A tank limit holds for still liquid in this mesh; it says nothing about roll-over. "
    "The machine maker's slope limit, local codes and licensed practice come first. "
    "Exit codes: 0 answered, 2 a mistake in the input, 3 answered 'no'."
)

app = typer.Typer(
    name="tanksolve",
    help="Where the liquid goes when a tank tilts: safe pitch-roll limits of pickups and breathers.",
    epilog=_EPILOG,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for _module in (
    *(envelope, marks, place, size, tolerance, level, dip, compare, inspect, repair, new, schema),
    *(suction, budget, motion, replay, check, sheet),
):
    _module.register(app)


@app.callback(invoke_without_command=True)
def _root(
    version: bool = typer.Option(
        False, "--version", help="Print the version, and where compiled code is kept."
    ),
) -> None:
    if version:
        from tanksolve.kernel.code_store import store_words
        from tanksolve.version import __version__

        typer.echo(f"tanksolve {__version__}\n{store_words()}")
        raise typer.Exit


def run() -> None:
    """Run the program; a user's mistake ends as one message on stderr and exit code 2."""
    from tanksolve.errors import TanksolveError

    # threads that spin while they wait slow a busy machine several-fold; ours wait rarely
    os.environ.setdefault("OMP_WAIT_POLICY", "PASSIVE")
    try:
        app()
    except TanksolveError as error:
        typer.echo(f"tanksolve: {error.message}", err=True)
        sys.exit(2)
    except BrokenPipeError:  # the reader of our output went away; nothing to tell
        sys.exit(0)
