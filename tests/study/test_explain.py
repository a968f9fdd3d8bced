"""A figure traced back: the row is the same anew, and the plane at its edge cuts off what the port needs."""

import json
import shutil
import zlib

import pytest
from program import run
from studies import STUDY, written

from tanksolve.errors import OutputError
from tanksolve.project.load import load
from tanksolve.questions.level.surface import level
from tanksolve.study.explain import explain
from tanksolve.study.run import run_study
from tanksolve.study.study import read_study

TEXT = STUDY.replace('"capacity", ', '"capacity", "least_fill", "most_fill", ')
TEXT = TEXT.replace("[settings]", '[settings]\nrequire = "4 deg"').replace('"1000 mm"', '"700 mm"')


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    folder = tmp_path_factory.mktemp("explained")
    return run_study(read_study(written(folder, TEXT)), folder / "out", processes=1)


def test_the_chain_holds_link_by_link(done):
    found = explain(done.folder, 1)  # 600 mm, 20 mm, 30 L..42 L
    assert found.same
    assert [chain.measure for chain in found.chains] == ["worst_slope", "least_fill", "most_fill"]
    tank = load(done.study.tank_source)
    for chain in found.chains:
        held = chain.need_m3 if chain.wet else 0.6 * 0.3 * 0.3 - chain.need_m3
        assert chain.below_m3 == pytest.approx(held, rel=1e-9)
        assert (chain.port.name == "suction") is chain.wet
        changes = done.study.changes(done.study.row(1)[0])
        assert changes["tank", "length"] == "600 mm"
        assert chain.pools.pools[0].volume_m3 == pytest.approx(chain.pools.volume_m3)
    slope, least, most = found.chains
    assert slope.need_m3 == pytest.approx(slope.have_m3, rel=1e-6)  # at the root
    assert found.row["values"]["worst_slope_deg"] <= slope.root
    assert least.need_m3 == pytest.approx(least.root, rel=1e-6)
    assert most.below_m3 == pytest.approx(most.root, rel=1e-6)
    assert found.row["values"]["least_fill_m3"] >= least.root
    assert found.row["values"]["most_fill_m3"] <= most.root
    assert tank.tank.capacity == pytest.approx(0.9 * 0.3 * 0.3)


def test_the_plane_is_where_that_volume_stands(done):
    from tanksolve import box

    (chain,) = (c for c in explain(done.folder, 0).chains if c.measure == "worst_slope")
    tank = box(0.6, 0.3, 0.3)
    at = level(tank, chain.below_m3, chain.attitude)
    lowest = float((tank.vertices @ chain.attitude.up).min())
    assert at.level_height_m - lowest == pytest.approx(chain.edge_m, abs=1e-9)


def test_a_row_that_is_not_what_it_was_is_told(done, tmp_path):
    other = tmp_path / "out"
    shutil.copytree(done.folder, other)
    lines = (other / "rows.log").read_bytes().splitlines(keepends=True)
    number, row = json.loads(lines[0][9:])
    row["values"]["capacity_m3"] *= 1.0 + 1e-15
    body = json.dumps([number, row]).encode()
    lines[0] = b"%08x %s\n" % (zlib.crc32(body), body)
    (other / "rows.log").write_bytes(b"".join(lines))
    assert not explain(other, number).same
    done_ = run("explain", other, number + 1)
    assert done_.returncode == 3


def test_a_row_without_figures_tells_why(done):
    text = run("explain", done.folder, 5).stdout
    assert "Row 5 has no figures: box.toml, line 12" in text


def test_the_command_tells_version_hash_tolerances_and_formula(done):
    text = " ".join(run("explain", done.folder / "results.csv", "2", "--full").stdout.split())
    row = explain(done.folder, 1).row
    for word in (row["inputs"], row["version"], "2.00°", "tank.length = 600 mm", "docs/theory/"):
        assert word in text
    told = json.loads(run("explain", done.folder, "2", "--json").stdout)
    assert told["same"] is True
    assert told["chains"]["worst_slope"]["port"] in ("suction", "no. 2")


def test_what_is_no_result_or_no_row_or_has_changed_is_refused(done, tmp_path):
    with pytest.raises(OutputError, match="no result of a study"):
        explain(tmp_path)
    with pytest.raises(OutputError, match="there is no row 99"):
        explain(done.folder, 98)
    text = done.study.source.read_text()
    try:
        done.study.source.write_text(text.replace('"2 deg"', '"1 deg"'))
        with pytest.raises(OutputError, match="has changed since"):
            explain(done.folder, 0)
    finally:
        done.study.source.write_text(text)
