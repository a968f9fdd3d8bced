"""Where the program starts: a signal is heard before what takes long is imported."""

import sys

from tanksolve_cli import terminal

__all__ = ["run"]


def run() -> None:
    """Run the program and end it, with one line for a signal whenever it comes."""
    try:
        terminal.stop_on_signals()
        from tanksolve_cli import main

        main.run()
    except terminal.Stopped as signalled:
        sys.exit(terminal.stopped(signalled.number))
    finally:
        terminal.let_go()
