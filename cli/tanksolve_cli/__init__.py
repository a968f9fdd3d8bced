"""The command line: parse, call one analysis, print or write. No arithmetic."""

import tanksolve

if getattr(tanksolve, "__file__", None) is None:  # a folder without the program's files
    # versions before 0.1.0 kept compiled code in the package: what stays after an uninstall hides an
    # editable install
    raise SystemExit(
        f"tanksolve: '{next(iter(tanksolve.__path__))}' was left behind by an earlier version and hides the "
        "program\n  next: delete that folder"
    )
