"""A study file that is wrong ends in one message that names file, line and key, before anything is computed."""

import re
from pathlib import Path

import pytest
from program import run
from studies import BOX, STUDY, written

from tanksolve.errors import FileFormatError, TanksolveError
from tanksolve.study.study import read_study

MUCH = ", ".join(f'"{k} mm"' for k in range(300))
WRONG = [  # (what stands in the file, what instead, what the message says)
    (STUDY, "", "empty"),
    (STUDY, "\x00\x01", "not"),
    (STUDY, "a" * 40 + ".b" * 40 + " = 1", "too many parts"),
    (STUDY, "[" * 5000, "TOML"),
    ("tanksolve_study = 1", "tanksolve_study = 2", "tanksolve_study"),
    ("tanksolve_study = 1\n", "", "tanksolve_study"),
    ('tank = "box.toml"', 'tank = "none.toml"', "none.toml"),
    ('tank = "box.toml"', 'tank = "."', "folder"),
    ('tank = "box.toml"', "tank = 3", "line 3, tank"),
    ('tank = "box.toml"', 'tank = "box.toml"\ncolour = "red"', "unknown key 'colour'"),
    ('"capacity", ', '"colour", ', "'colour' is nothing that is computed"),
    ('compute = ["worst_slope"', 'compute = ["log_kept", "worst_slope"', "is of a log"),
    ('compute = ["worst_slope"', 'compute = ["metal_mass", "worst_slope"', "needs the plate"),
    ('key = "fill"', 'key = "fil"', "unknown key 'fil'"),
    ('key = "fill"', 'key = "tank.lenght"', "did you mean 'length'"),
    ('key = "fill"', 'key = "tank.length"', "varies twice"),
    ('key = "fill"', 'key = "port.9.bore"', "there is no '9'"),
    ('key = "fill"', 'key = "fill.x"', "holds no 'x'"),
    ('key = "fill"', 'key = ".."', "no key of a tank file"),
    ('key = "fill"', 'key = "fill"\nkeys = ["tank.width"]', "give one of"),
    ('values = ["30 L", "30 L..42 L"]', "values = []", "values"),
    ('values = ["30 L", "30 L..42 L"]', "values = [[1]]", "values"),
    ('values = ["30 L", "30 L..42 L"]', f"values = [{MUCH}]", "300"),
    ('values = ["30 L", "30 L..42 L"]', 'values = ["30 L\\u001b[2J"]', "not seen"),
    ('values = ["20 mm", "40 mm", "400 mm"]', 'values = ["1 in"]', "in mm"),
    ('step = "100 mm"', 'step = "0 mm"', "a step of '0 mm'"),
    ('step = "100 mm"', "", "without a step"),
    ('to = "1000 mm"', 'to = "500 mm"', "is no range"),
    ('to = "1000 mm"', 'to = "9 in"', "not in one unit"),
    ('step = "100 mm"', 'step = "100 mm"\nvalues = ["1 mm"]', "a list of values or a range"),
    ('search_to = "40 deg"', 'search_to = "95 deg"', "95° cannot be used"),
    ('search_to = "40 deg"', "search_to = 40", "40 deg"),
    ('tolerance = "2 deg"', 'tolerance = "0 deg"', "cannot be used"),
    ('tolerance = "2 deg"', 'require = "steep"', "steep"),
    ('tolerance = "2 deg"', 'time_limit = "1 week"', "86400"),
    ('tolerance = "2 deg"', 'time_limit = "0 s"', "1"),
    ('at_least = "5 deg"', 'at_least = "5 mm"', "mm"),
    ('at_least = "5 deg"\naim = "most"', "", "nothing is wanted"),
    ('measure = "worst_slope"', 'measure = "least_fill"', "wanted but not computed"),
    ('aim = "most"', 'aim = "best"', "aim"),
    ("[[want]]", '[[want]]\nmeasure = "capacity"\naim = "least"\n' * 12 + "[[want]]", "12"),
    ("[settings]", "[sample]\nvariants = 0\n[settings]", "variants"),
    ("[settings]", "[sample]\nvariants = 2000000\n[settings]", "2,000,000"),
    ("[settings]", "[sample]\nvariants = true\n[settings]", "variants"),
    ("[settings]", '[logs]\nfiles = "*.csv"\n[settings]', "no figure of the logs"),
]


@pytest.mark.parametrize(("there", "instead", "said"), WRONG, ids=range(len(WRONG)))
def test_a_wrong_study_file_ends_in_one_message(tmp_path, there, instead, said):
    assert there in STUDY
    file = written(tmp_path, STUDY.replace(there, instead, 1))
    done = run("study", file)
    assert done.returncode == 2, done.stdout + done.stderr
    assert done.stderr.count("tanksolve: ") == 1
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "study_results").exists()


@pytest.mark.parametrize("files", ["none*.csv", "/etc/*.csv", "**x", "\x00", "..", ""])
def test_logs_that_are_not_there_are_told(tmp_path, files):
    logs = f"[logs]\nfiles = {files!r}\n[settings]".replace("\x00", "\\u0000").replace("'", '"')
    text = STUDY.replace('"capacity", ', '"capacity", "log_kept", ').replace("[settings]", logs, 1)
    with pytest.raises(FileFormatError):
        read_study(written(tmp_path, text))


def test_an_aim_beside_logs_is_refused(tmp_path):
    (tmp_path / "day.csv").write_text("time_s,pitch_deg,roll_deg\n0,0,0\n")
    text = STUDY.replace('"capacity", ', '"capacity", "log_kept", ')
    text = text.replace("[settings]", '[logs]\nfiles = "*.csv"\n[settings]', 1)
    with pytest.raises(FileFormatError, match="an aim beside logs"):
        read_study(written(tmp_path, text))


def test_the_tank_file_itself_may_be_wrong_in_one_variant_but_not_as_toml(tmp_path):
    assert read_study(written(tmp_path, tank=BOX.replace('"900 mm"', '"long"'))).count == 30
    with pytest.raises(TanksolveError, match="not TOML"):
        read_study(written(tmp_path, tank=BOX + "[["))


def test_one_value_may_go_to_several_keys(tmp_path):
    text = STUDY.replace(
        'key = "port.suction.at.up"', 'keys = ["port.suction.at.up", "port.2.at.left"]'
    )
    study = read_study(written(tmp_path, text))
    changes = study.changes(study.row(2)[0])
    assert changes[("port", 0, "at")] == "450, 150, 40 mm"
    assert changes[("port", 1, "at")] == "450, 40, 300 mm"


def test_what_is_wanted_changes_nothing_that_is_computed(tmp_path):
    before = read_study(written(tmp_path)).identity
    assert read_study(written(tmp_path, STUDY.replace('"5 deg"', '"6 deg"'))).identity == before
    assert read_study(written(tmp_path, STUDY.replace('"2 deg"', '"1 deg"'))).identity != before
    assert read_study(written(tmp_path, tank=BOX.replace("870", "871"))).identity != before
    assert read_study(written(tmp_path, tank=BOX.replace("a comment", "one"))).identity == before


def test_the_example_of_the_page_is_a_study_that_answers(tmp_path):
    from tanksolve.study.worker import Evaluator

    root = Path(__file__).resolve().parents[2]
    text = re.search(r"```toml\n(.*?)```", (root / "docs" / "study.md").read_text(), re.S)[1]
    (tmp_path / "study.toml").write_text(text)
    (tmp_path / "hillside_sprayer.toml").write_text(
        (root / "meshes/hillside_sprayer.toml").read_text()
    )
    study = read_study(tmp_path / "study.toml")
    assert study.count == 8
    job = {**study.job, "compute": ("capacity", "liquid_mass")}  # the others take seconds
    row = Evaluator(job).row(study.row(0)[0], None)
    assert row["status"] == "ok", row["reason"]
