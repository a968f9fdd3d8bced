"""``tanksolve compare`` over tanks, pickups and fills."""

from program import answer, run

BASE = ["compare", "--box", "900x300x300mm", "--fill", "42L", "--pickup", "rear=100,150,50mm"]


def test_tanks_times_pickups_times_fills():
    found = answer(
        *BASE, "--pickup", "middle=400,150,50mm", "--also-box", "800x300x340mm",
        "--also-fill", "35L", "--rank-by", "unusable", "--require", "5deg",
    )  # fmt: skip
    names = [c["name"] for c in found["contenders"]]
    assert len(names) == len(set(names)) == 8
    assert found["ranked_by"] == "unusable"
    unusable = [c["unusable_m3"] for c in found["contenders"]]
    assert unusable == sorted(unusable)
    assert all(c["area_deg2"] > 0.0 for c in found["contenders"])
    assert any("35" in name and "800" in name and "rear" in name for name in names)


def test_one_pickup_at_two_fills_is_enough_and_the_table_says_the_measure(tmp_path):
    plan = tmp_path / "plan.svg"
    shown = run(*BASE, "--also-fill", "30L", "--rank-by", "area", "--overlay", plan)
    assert shown.returncode == 0, shown.stderr
    assert "ranked by area" in shown.stdout
    assert "°²" in shown.stdout
    assert plan.exists()


def test_mistakes():
    assert "nothing to compare" in run(*BASE).stderr
    wrong = run(*BASE, "--also-fill", "30L", "--rank-by", "beauty")
    assert wrong.returncode == 2
    assert "--rank-by" in wrong.stderr
