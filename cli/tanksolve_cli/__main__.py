"""``python -m tanksolve_cli`` is the same as ``tanksolve``."""

from tanksolve_cli.start import run

if __name__ == "__main__":
    run()
