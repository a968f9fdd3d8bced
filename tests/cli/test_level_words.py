"""What ``tanksolve level`` says of the fill drawn, the angles, ports without a rule, and any pickup."""

from program import answer, run

CASE = (
    *("level", "--box", "900x300x300mm", "--fill", "20L..40L"),
    *("--pickup", "front=850,150,50mm", "--pickup", "rear=50,150,50mm"),
)


def test_the_meaning_of_pitch_and_roll_is_told():
    readings = run(*CASE, "--pitch", "10deg").stdout
    assert "as an inclinometer reads them: each axis against the horizontal\n" in readings
    rotated = run(*CASE, "--pitch", "10deg", "--roll", "20deg", "--rotations").stdout
    assert "horizontal; given as rotations: pitch first, then roll" in rotated
    assert answer(*CASE, "--rotations")["inputs"]["rotations"] is True
    assert answer(*CASE)["inputs"]["rotations"] is False


def test_any_pickup_has_a_verdict():
    up, any_ = ("--pitch", "10deg"), "--any-pickup"
    assert "one pickup is enough: held, by rear\n" in run(*CASE, *up, any_).stdout
    assert answer(*CASE, *up, any_)["any_pickup_holds"] is True
    assert "one pickup" not in run(*CASE, *up).stdout
    assert answer(*CASE, *up)["any_pickup_holds"] is None
    over = ("--roll", "25deg", "--fill", "5L")
    assert "one pickup is enough: NOT HELD" in run(*CASE, *over, any_).stdout
    assert answer(*CASE, *over, any_)["any_pickup_holds"] is False


def test_the_margin_of_a_port_without_a_rule_is_said_to_be_liquid_over_it():
    words = "where a port sets no limit, its margin is the liquid over its highest point"
    assert words not in run(*CASE).stdout
    assert words in run(*CASE, "--return", "back=700,150,40mm").stdout


def test_a_picture_of_a_fill_range_says_which_end_it_shows(tmp_path):
    for option, end, volume in ((), "least", "20.00 L"), (("--most",), "most", "40.00 L"):
        for view in ("--side", "--front", "--solid"):
            file = tmp_path / "view.svg"
            run(*CASE, *option, view, file, "--return", "back=700,150,40mm")
            told = " ".join(words_of(file))
            assert f"the {end} fill is drawn, {volume}; for the" in told, view
            if view != "--solid":
                deep = "34.1 mm under liquid" if end == "least" else "108.1 mm under liquid"
                assert f"back: {deep}" in told
    one = tmp_path / "one.svg"
    run(*CASE, "--fill", "20L", "--side", one)
    assert "fill is drawn" not in " ".join(words_of(one))


def words_of(svg):
    """Words of a picture: matplotlib leaves each text as a comment where it draws letters as paths."""
    import re

    return re.findall(r"<!-- (.*?) -->", svg.read_text())
