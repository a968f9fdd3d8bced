"""A command that draws nothing must not pay for the drawing library; no hidden global state."""

import subprocess
import sys
from pathlib import Path

REPORT = Path(__file__).resolve().parents[2] / "tanksolve" / "present"


def test_reports_are_imported_without_matplotlib():
    modules = ", ".join(
        f"tanksolve.present.{path.stem}" for path in sorted(REPORT.glob("[a-z]*.py"))
    )
    code = f"import sys, {modules}; sys.exit('matplotlib' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_no_pyplot():
    assert [p.name for p in REPORT.glob("*.py") if "pyplot" in p.read_text()] == []
