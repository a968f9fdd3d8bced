"""Thirty variants of a box: killed, cut, with a worker lost, on a cluster; always the same bytes."""

import contextlib
import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from program import run
from studies import BOX, STUDY, written

from tanksolve.errors import FileFormatError, OutputError
from tanksolve.project.load import load
from tanksolve.questions.envelope.envelope import envelope
from tanksolve.study.process import WorkerProcess
from tanksolve.study.run import run_study
from tanksolve.study.study import read_study

RESULTS = ("results.csv", "results.parquet")


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """The study run to its end at once."""
    folder = tmp_path_factory.mktemp("whole")
    study = read_study(written(folder))
    return run_study(study, folder / "out", processes=1)


def same_bytes(folder, whole):
    return all((folder / f).read_bytes() == (whole.folder / f).read_bytes() for f in RESULTS)


def table(folder):
    return list(csv.DictReader(io.StringIO((folder / "results.csv").read_text())))


def test_rows_are_what_the_question_itself_answers(whole):
    rows = table(whole.folder)
    assert [row["row"] for row in rows] == [str(k) for k in range(1, 31)]
    assert [row["tank.length [mm]"] for row in rows[::6]] == [
        "600.0",
        "700.0",
        "800.0",
        "900.0",
        "1000.0",
    ]
    row = rows[21]  # 900 mm, 40 mm, 30 L..42 L: the tank file as it stands
    tank = load(whole.study.tank_source)
    own = envelope(
        tank.tank, tank.ports, tank.fill, every_deg=90.0, search_to_deg=40.0, tolerance_deg=2.0
    )
    assert float(row["worst_slope_deg"]) == own.worst.held_to_deg
    assert row["worst_slope_port"] == own.worst.port
    assert float(row["capacity_m3"]) == tank.tank.capacity
    assert float(row["liquid_mass_kg"]) == 870.0 * tank.fill.most


def test_a_port_outside_is_a_row_with_its_reason(whole):
    refused = [row for row in table(whole.folder) if row["status"] == "refused"]
    assert len(refused) == whole.found.counts["refused"] == 10
    for row in refused:
        assert row["port.suction.at.up [mm]"] == "400.0"
        assert row["reason"].startswith("box.toml, line 12, port.1.at, port 'suction'")
        assert row["worst_slope_deg"] == ""
        assert (row["meets_limits"], row["pareto"]) == ("False", "False")


def test_provenance_stands_in_each_row(whole):
    rows = table(whole.folder)
    assert len({row["inputs_sha256"] for row in rows}) == 30
    assert {row["tolerance_deg"] for row in rows} == {"2.0"}
    assert all(row["version"].startswith("0.") for row in rows)


def test_winners_meet_the_limits_and_load_as_what_was_computed(whole):
    rows = table(whole.folder)
    best = [row for row in rows if row["pareto"] == "True"]
    assert best
    assert all(float(row["worst_slope_deg"]) >= 5.0 for row in best)
    files = sorted((whole.folder / "winners").iterdir())
    assert [int(file.stem[4:]) for file in files] == sorted(int(row["row"]) for row in best)
    assert load(files[0]).tank.capacity == float(best[0]["capacity_m3"])
    assert "a comment that the winners keep" in files[0].read_text()


def test_run_again_nothing_is_computed_and_nothing_changes(whole):
    before = {f: (whole.folder / f).read_bytes() for f in RESULTS}
    again = run_study(whole.study, whole.folder)
    assert again.computed == 0
    assert before == {f: (whole.folder / f).read_bytes() for f in RESULTS}


def test_killed_and_cut_short_it_goes_on_and_ends_in_the_same_bytes(tmp_path, whole):
    file, out = written(tmp_path), tmp_path / "out"
    for rows_then in (4, 12):
        command = [
            sys.executable,
            "-m",
            "tanksolve_cli",
            "study",
            file,
            "--out",
            out,
            "--processes",
            "2",
        ]
        places = os.pathsep.join(place or os.curdir for place in sys.path)
        program = subprocess.Popen(
            command, env={**os.environ, "PYTHONPATH": places}, stderr=subprocess.DEVNULL
        )
        until(lambda n=rows_then: lines(out) >= n, "no rows came")
        children = children_of(program.pid)
        program.send_signal(signal.SIGKILL)
        program.wait()
        until(lambda c=children: not any(map(alive, c)), "its processes went on")
        done = lines(out)
        assert rows_then <= done < 30
        with (out / "rows.log").open("r+b") as rows:
            rows.truncate(rows.seek(0, 2) - 5)  # as a machine that stops would leave it
        assert not (out / "results.csv").exists()
    last = run_study(read_study(file), out, processes=1)
    assert last.computed == 30 - (done - 1)
    assert last.dropped == 1
    assert same_bytes(out, whole)


def until(true, complaint):
    end = time.monotonic() + 120.0
    while not true():
        assert time.monotonic() < end, complaint
        time.sleep(0.005)


def lines(out):
    rows = out / "rows.log"
    return rows.read_bytes().count(b"\n") if rows.exists() else 0


def children_of(pid):
    found = []  # each belongs to the thread that started it
    with contextlib.suppress(OSError):  # a thread may end meanwhile
        for task in Path(f"/proc/{pid}/task").iterdir():
            found += [int(word) for word in (task / "children").read_text().split()]
    return found


def alive(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_a_worker_that_is_killed_costs_nothing_but_time(tmp_path, whole, monkeypatch):
    asked = []
    ask = WorkerProcess._ask

    def killed_first(self, request):
        asked.append(request)
        if len(asked) in (3, 8):
            os.kill(self.pid, signal.SIGKILL)
        return ask(self, request)

    monkeypatch.setattr(WorkerProcess, "_ask", killed_first)
    done = run_study(read_study(written(tmp_path)), tmp_path / "out", processes=1)
    assert len(asked) == 32
    assert done.found.counts["lost"] == 0
    assert same_bytes(tmp_path / "out", whole)


def test_a_row_that_always_ends_its_process_is_given_up_and_tried_again_by_the_next_run(
    tmp_path, whole, monkeypatch
):
    ask = WorkerProcess._ask

    def fatal(self, request):
        if request[0][:2] == ["800 mm", "20 mm"]:
            os.kill(self.pid, signal.SIGKILL)
        return ask(self, request)

    study = read_study(written(tmp_path))
    with monkeypatch.context() as patch:
        patch.setattr(WorkerProcess, "_ask", fatal)
        done = run_study(study, tmp_path / "out", processes=1)
    assert done.found.counts["lost"] == 2
    assert "ended 3 times" in table(tmp_path / "out")[12]["reason"]
    assert run_study(study, tmp_path / "out", processes=1).computed == 2
    assert same_bytes(tmp_path / "out", whole)


def test_a_row_that_takes_too_long_is_a_row(tmp_path):
    slow = STUDY.replace('tolerance = "2 deg"', 'tolerance = "0.000001 deg"\ntime_limit = "1 s"')
    slow = slow.replace('headings_every = "90 deg"', 'headings_every = "0.1 deg"')
    slow = slow.replace('"1000 mm"', '"601 mm"').replace('step = "100 mm"', 'step = "1 mm"')
    slow = slow.replace('["20 mm", "40 mm", "400 mm"]', '["20 mm"]')
    slow = slow.replace('["30 L", "30 L..42 L"]', '["30 L"]')
    done = run_study(read_study(written(tmp_path, slow)), tmp_path / "out", processes=1)
    assert done.found.counts["out of time"] == 2  # a fresh process for each
    assert all("more than 1 s of processor time" in row["reason"] for row in table(done.folder))


def test_a_disk_that_fills_up_is_told_and_then_gone_on_from(tmp_path, whole, monkeypatch):
    from tanksolve.study.rows_file import RowsFile

    append = RowsFile.append

    def full(self, number, row):
        if self.done == 7:
            raise self._cannot(OSError(28, "No space left on device"))
        append(self, number, row)

    study = read_study(written(tmp_path))
    with monkeypatch.context() as patch:
        patch.setattr(RowsFile, "append", full)
        with pytest.raises(OutputError, match="what is done is kept"):
            run_study(study, tmp_path / "out", processes=1)
    assert run_study(study, tmp_path / "out", processes=1).computed == 23
    assert same_bytes(tmp_path / "out", whole)


def test_other_inputs_do_not_mix(tmp_path, whole):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "letter.txt").write_text("keep me")
    study = read_study(written(tmp_path))
    with pytest.raises(OutputError, match="holds other files"):
        run_study(study, tmp_path / "out", force=True)
    changed = read_study(written(tmp_path, STUDY.replace('"2 deg"', '"1.5 deg"')))
    with pytest.raises(OutputError, match="results of other inputs"):
        run_study(changed, whole.folder)


def test_a_changed_mesh_is_another_study(tmp_path):
    tank = 'tanksolve_file = 1\nfill = "1 L"\n[tank]\nshape = "mesh"\nfile = "x.stl"\nunit = "mm"\n'
    text = 'tanksolve_study = 1\ntank = "box.toml"\ncompute = ["capacity"]\n'
    (tmp_path / "x.stl").write_text("one")
    before = read_study(written(tmp_path, text, tank)).identity
    (tmp_path / "x.stl").write_text("two")
    assert read_study(written(tmp_path, text, tank)).identity != before


def test_a_folder_of_logs_is_put_through_the_tank(tmp_path):
    (tmp_path / "logs").mkdir()
    for name, pitch in (("calm", 2), ("steep", 30)):
        rows = "".join(f"{k},{pitch},0\n" for k in range(5))
        (tmp_path / "logs" / f"{name}.csv").write_text("time_s,pitch_deg,roll_deg\n" + rows)
    (tmp_path / "logs" / "torn.csv").write_text("a,b\n")
    text = (
        'tanksolve_study = 1\ntank = "box.toml"\n[logs]\nfiles = "logs/*.csv"\n'
        '[[want]]\nmeasure = "log_kept"\nat_least = "100 %"\n'
    )
    text = text.replace("[logs]", 'compute = ["log_kept", "log_broken", "log_margin"]\n[logs]')
    low = BOX.replace("450, 150, 40 mm", "450, 150, 20 mm")
    done = run_study(read_study(written(tmp_path, text, low)), tmp_path / "out", processes=1)
    calm, steep, torn = table(done.folder)
    assert (calm["log"], calm["log_verdict"], float(calm["log_kept_share"])) == (
        "calm.csv",
        "kept",
        1.0,
    )
    assert (steep["log_verdict"], float(steep["log_broken_share"])) == ("broken", 1.0)
    assert float(steep["log_margin_m"]) < 0.0 < float(calm["log_margin_m"])
    assert (torn["status"], torn["log"]) == ("refused", "torn.csv")
    assert [row["meets_limits"] for row in (calm, steep, torn)] == ["True", "False", "False"]


def test_the_command_tells_the_best_and_writes_its_files(tmp_path, whole):
    written(tmp_path)
    for name in (
        "rows.log",
        "study.json",
    ):  # all is computed already: the text is what is looked at
        (tmp_path / "study_results").mkdir(exist_ok=True)
        (tmp_path / "study_results" / name).write_bytes((whole.folder / name).read_bytes())
    done = run("study", "study.toml", "--json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["format"] == "tanksolve-study"
    assert told["rows"] == 30
    assert told["computed_now"] == 0
    assert told["by_status"]["refused"] == 10
    out = tmp_path / "study_results"
    assert (out / "worst-slope-capacity.png").read_bytes().startswith(b"\x89PNG")


def test_no_variant_within_the_limits_answers_no(tmp_path, whole):
    file = written(tmp_path, STUDY.replace('at_least = "5 deg"', 'at_least = "39 deg"'))
    out = tmp_path / "study_results"
    out.mkdir()
    for name in ("rows.log", "study.json"):
        (out / name).write_bytes((whole.folder / name).read_bytes())
    (out / "capacity-length.png").write_text("of other aims")
    done = run("study", file, cwd=tmp_path)
    assert done.returncode == 3
    assert not (out / "capacity-length.png").exists()
    assert not list(out.glob("winners/*"))


def test_a_cluster_gives_the_same_bytes(tmp_path, whole):
    distributed = pytest.importorskip("distributed")
    study = read_study(written(tmp_path))
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=2, processes=False, dashboard_address=":0"
    ) as cluster:
        done = run_study(study, tmp_path / "out", cluster=cluster.scheduler_address)
    assert done.computed == 30
    assert same_bytes(tmp_path / "out", whole)


def test_a_cluster_that_is_not_there_is_told(tmp_path, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("tanksolve.study.cluster._PATIENCE", 1.0)
    study = read_study(written(tmp_path))
    for address in ("tcp://127.0.0.1:9", "nonsense://x", "none.json"):
        with pytest.raises(OutputError, match="--cluster"):
            run_study(study, tmp_path / "out", cluster=address)


def test_a_study_whose_tank_is_gone_is_told(tmp_path):
    file = written(tmp_path)
    (tmp_path / "box.toml").unlink()
    with pytest.raises(FileFormatError, match="cannot be read"):
        read_study(file)
