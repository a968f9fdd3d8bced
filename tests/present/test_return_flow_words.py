"""What the screen says, as a user runs it. The return flow from the command line: orifice and equalising fi."""

import pytest
from program import run
from two_bays_flow import MESH, PORTS, tank_file, walled_mesh


def test_what_an_opening_cannot_carry_is_told(tmp_path):
    file = tank_file(tmp_path)
    done = run("level", file, "--flow", "3000L/min")
    assert "NO steady state at 3000.0 L/min: " in done.stdout
    done = run("envelope", file, "--flow", "3000L/min", "--every", "90deg", "--full")
    assert done.returncode == 3
    told = " ".join(done.stdout.split())
    assert "the openings cannot carry it on level ground with the least fill" in told
    assert done.stdout.startswith("No: not kept on level ground: suction is short by")


@pytest.fixture(scope="module")
def mesh(tmp_path_factory):
    return walled_mesh(tmp_path_factory.mktemp("mesh"))


def test_flows_that_cannot_be_read_are_refused(tmp_path):
    file = tank_file(tmp_path)
    for option, told in (
        (("--flow", "other=60L/min"), "'other=60L/min' names no pickup"),
        (("--opening-area", "20cm2"), "the openings of this tank are known from its plates"),
        (("--flow", "60L/min", "--flow", "50L/min"), "is given twice"),
        (("--pickup", "second=100,100,60mm", "--flow", "60L/min"), "names no pickup"),
    ):
        done = run("envelope", file, *option)
        assert done.returncode == 2, option
        assert told in done.stderr
    done = run("level", "--box", "900x300x300mm", "--fill", "42L", "--opening-area", "20cm2")
    assert "no flow through it" in done.stderr
    box_words = ("--box", "900x300x300mm", "--fill", "42L", "--pickup", "s=20,150,30mm")
    done = run("envelope", *box_words, "--flow", "60L/min")
    assert "no return is given" in done.stderr


def test_where_openings_are_only_stated_the_table_claims_no_bound(mesh):
    words = (mesh, *MESH, *PORTS, "--flow", "60L/min", "--opening-area", "20cm2")
    told = " ".join(run("envelope", *words, "--every", "90deg", "--full").stdout.split())
    assert "no bound unless the openings stated stay under liquid" in told
    assert "no gap between" not in told
    rest = run("envelope", mesh, *MESH, *PORTS, "--every", "90deg", "--full").stdout
    rest = " ".join(rest.split())
    assert "bound, no gap between attitudes" in rest
    assert "limits are for the pump at rest" in rest, "a mesh's plate is seen too"
