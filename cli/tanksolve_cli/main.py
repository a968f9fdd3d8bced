"""The ``tanksolve`` program: its commands, and the one place where errors become messages."""

import gc
import importlib
import os
import sys
from typing import TYPE_CHECKING

import typer

from tanksolve.present import refusals
from tanksolve_cli import terminal

if TYPE_CHECKING:
    from tanksolve.errors import TanksolveError

__all__ = ["program", "run"]

_EPILOG = (
    "A tank limit holds for still liquid in this mesh; it says nothing about roll-over. "
    "The machine maker's slope limit, local codes and licensed practice come first. "
    "Exit codes: 0 answered, 2 a mistake in the input, 3 answered 'no', 4 not known."
)

# each is a module of that name, in the order of the help
_COMMANDS = (
    "envelope", "marks", "place", "size", "tolerance", "level", "dip", "compare", "inspect", "repair", "new",
    "schema", "suction", "budget", "motion", "replay", "check", "sheet", "report", "plate", "strip", "drawing",
    "view", "study", "explain", "help",
)  # fmt: skip


def program(asked: str | None = None) -> typer.Typer:
    """The program with the command ``asked`` for, where it is one, else with all of them.

    To load all takes as long as it takes to answer for a box.
    """
    app = typer.Typer(
        name="tanksolve",
        help="Where the liquid goes when a tank tilts: safe pitch-roll limits of pickups and breathers.",
        epilog=_EPILOG,
        rich_markup_mode=None,  # plain help: more on a screen, and it survives a pipe
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    for name in [asked] if asked in _COMMANDS else _COMMANDS:
        importlib.import_module(f"tanksolve_cli.{name}").register(app)
    app.callback(invoke_without_command=True)(_root)
    return app


def _root(
    context: typer.Context,
    version: bool = typer.Option(
        False, "--version", help="Print the version, and where compiled code is kept."
    ),
) -> None:
    if version:
        from tanksolve.kernel.code_store import store_words
        from tanksolve.version import __version__

        typer.echo(f"tanksolve {__version__}\n{store_words()}")
        raise typer.Exit
    if context.invoked_subcommand is None:
        from tanksolve.present.help_pages import START

        typer.echo(START)


def run() -> None:
    """Run the program and end it: whatever happens, one message on stderr and an exit code."""
    # threads that spin while they wait slow a busy machine several-fold; ours wait rarely
    os.environ.setdefault("OMP_WAIT_POLICY", "PASSIVE")
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # pictures go to files; a name that is no backend would end the program
    os.environ["MPLBACKEND"] = "agg"
    # compiling makes objects by the million, few of them garbage: looking for it costs a sixth of a first run
    gc.set_threshold(100_000, 10, 10)
    terminal.clean_streams()
    terminal.stop_on_signals()
    sys.exit(_exit_code())


def _exit_code() -> int:
    """Run the program to its end: 0 answered, 1 a fault, 2 a user's mistake, 3 no, 4 not known."""
    from tanksolve.errors import TanksolveError

    try:
        try:
            ended = program(sys.argv[1] if sys.argv[1:] else None)(standalone_mode=False)
        finally:
            sys.stdout.flush()
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else int(end.code is not None)
    except TanksolveError as error:
        return _refuse(error)
    except terminal.Stopped as signalled:
        return terminal.stopped(signalled.number)
    except terminal.LostOutput as lost:
        return terminal.unheard(lost.error)
    except Exception as error:
        refusal = refusals.mistyped(error)
        return terminal.failed(error) if refusal is None else _refuse(refusal)
    return ended if isinstance(ended, int) else 0  # the code of typer.Exit comes back as a value


def _refuse(error: "TanksolveError") -> int:
    """Tell a user's mistake on stderr; exit code 2."""
    told = refusals.wrapped(f"tanksolve: {error.message}", refusals.width_of(sys.stderr))
    typer.echo(told, err=True)
    return 2
