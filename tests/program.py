"""Running the program from a test: in this process, so that compiled code is loaded once."""

import contextlib
import io
import json
import os
import sys
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from tanksolve_cli.main import run as run_program


@dataclass(frozen=True)
class Done:
    returncode: int
    stdout: str
    stderr: str

    @property
    def told(self):
        """What was printed, without regard to where lines end."""
        return " ".join(self.stdout.split())


def run(*words, cwd=None):
    """Run ``tanksolve WORDS`` and return what a shell would see of it."""
    out, err = io.StringIO(), io.StringIO()
    before = Path.cwd()
    code = 0
    try:
        if cwd is not None:
            os.chdir(cwd)
        with (
            mock.patch.object(sys, "argv", ["tanksolve", *map(str, words)]),
            contextlib.redirect_stdout(out),
            contextlib.redirect_stderr(err),
        ):
            run_program()
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else int(end.code is not None)
    finally:
        os.chdir(before)
    return Done(code, out.getvalue(), err.getvalue())


def answer(*words, code=0, cwd=None):
    """Run with ``--json`` and return the object printed."""
    done = run(*words, "--json", cwd=cwd)
    assert done.returncode == code, done.stderr
    return json.loads(done.stdout)
