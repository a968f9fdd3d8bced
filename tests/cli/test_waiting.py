"""What a waiting user is told, and that nobody is told about a wait that is none."""

import time

from numba.core import event
from program import run
from tanksolve_cli.waiting import busy


def test_a_quick_answer_says_nothing(capfd):
    with busy("adding up"):
        pass
    assert capfd.readouterr().err == ""


def test_a_slow_answer_says_what_it_does(capfd):
    with busy("adding up"):
        time.sleep(1.2)
    assert capfd.readouterr().err == "adding up ...\n"


def test_compiling_is_told_while_it_happens(capfd):
    with busy("adding up"), event.trigger_event("numba:compile"):
        time.sleep(1.2)
    told = capfd.readouterr().err
    assert told.startswith("adding up (compiling the solver for this machine")
    with busy("adding up"):
        time.sleep(1.2)
    assert capfd.readouterr().err == "adding up ...\n"


def test_a_tank_file_may_begin_with_the_mark_of_a_windows_editor(tmp_path):
    text = 'tanksolve_file = 1\nfill = "42 L"\n[tank]\nshape = "box"\n'
    text += 'length = "900 mm"\nwidth = "300 mm"\nheight = "300 mm"\n'
    file = tmp_path / "tank.toml"
    file.write_bytes(b"\xef\xbb\xbf" + text.encode())
    done = run("level", str(file))
    assert done.returncode == 0, done.stderr
    assert "42.00 L" in done.stdout
    file.write_bytes(b"\xef\xbb\xbf" + text.replace("box", "bux").encode())
    assert "line 3" in run("level", str(file)).stderr
