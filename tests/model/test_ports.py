"""Ports: the rule each keeps, the cover it needs, the shape it hands to the kernel."""

import math

import numpy as np
import pytest

from tanksolve.errors import PortError
from tanksolve.geometry.parts import box
from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.model import ports
from tanksolve.model.mounting import mount
from tanksolve.model.ports import FACINGS, Port, PortKind, Rule

HERE = (0.1, 0.2, 0.3)


@pytest.mark.parametrize(
    ("make", "rule"),
    [
        (ports.pickup, Rule.WET),
        (ports.heater, Rule.WET),
        (ports.level_switch, Rule.WET),
        (ports.breather, Rule.DRY),
        (ports.filler, Rule.DRY),
        (ports.return_line, Rule.NONE),
        (ports.drain, Rule.NONE),
    ],
)
def test_each_kind_has_its_rule_and_can_be_told_another(make, rule):
    assert make("a", HERE).effective_rule is rule
    other = Rule.DRY if rule is not Rule.DRY else Rule.WET
    assert make("a", HERE, rule=other).effective_rule is other


def test_cover_is_given_or_two_bores_or_nothing_and_says_which():
    bare, bored = ports.pickup("a", HERE), ports.pickup("a", HERE, bore=0.038)
    given = ports.pickup("a", HERE, bore=0.038, cover=0.05)
    assert (bare.required_cover, bored.required_cover, given.required_cover) == (0.0, 0.076, 0.05)
    assert "edge of drawing air, no cover" in bare.cover_words
    assert "76 mm, 2 x bore" in bored.cover_words
    assert given.cover_words == "50 mm, as given"
    assert ports.breather("b", HERE, bore=0.02).required_cover == 0.0


def test_a_bare_point_has_no_extent():
    up = np.eye(3)
    point = ports.pickup("a", HERE).discs
    np.testing.assert_allclose(support_high(point, up), HERE)
    np.testing.assert_allclose(support_low(point, up), HERE)


def test_a_bore_without_facing_is_taken_as_a_ball():
    ball = ports.pickup("a", HERE, bore=0.04).discs
    np.testing.assert_allclose(support_high(ball, np.eye(3)), np.array(HERE) + 0.02)


def test_an_open_end_is_a_disc_of_half_the_bore():
    disc = ports.pickup("a", HERE, bore=0.04, facing="down").discs
    np.testing.assert_allclose(support_high(disc, np.eye(3)), np.add(HERE, (0.02, 0.02, 0.0)))


def test_a_strainer_reaches_from_its_base_along_its_facing():
    cage = ports.strainer("a", HERE, bore=0.04, length=0.1, facing=(2.0, 0.0, 0.0)).discs
    np.testing.assert_allclose(support_high(cage, np.eye(3)), np.add(HERE, (0.1, 0.02, 0.02)))
    np.testing.assert_allclose(support_low(cage, np.eye(3)), np.subtract(HERE, (0.0, 0.02, 0.02)))


@pytest.mark.parametrize("word", FACINGS)
def test_facings_in_words_are_unit_axes_for_every_maker(word):
    assert ports.pickup("a", HERE, bore=0.04, facing=word).facing == FACINGS[word]
    cage = ports.strainer("a", HERE, bore=0.04, length=0.1, facing=word)
    assert cage.facing == FACINGS[word]
    assert math.hypot(*FACINGS[word]) == 1.0


def test_facing_is_made_a_unit_vector():
    assert Port("a", PortKind.PICKUP, HERE, bore=0.04, facing=(0.0, 3.0, 4.0)).facing == (
        pytest.approx((0.0, 0.6, 0.8))
    )


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"bore": 0.0}, "not positive"),
        ({"bore": -0.01}, "not positive"),
        ({"bore": math.nan}, "not a finite"),
        ({"cover": -0.01}, "cannot be negative"),
        ({"cover": math.inf}, "not a finite"),
        ({"length": -0.1, "facing": "up"}, "cannot be negative"),
        ({"length": 0.1}, "needs a facing"),
        ({"facing": (0.0, 0.0, 0.0)}, "no direction"),
        ({"facing": (math.nan, 0.0, 1.0)}, "no direction"),
        ({"facing": "sideways"}, "not known"),
    ],
)
def test_ports_that_are_refused(options, message):
    with pytest.raises(PortError, match=message) as caught:
        ports.pickup("suction", HERE, **options)
    assert "port 'suction'" in caught.value.where


def test_a_position_must_be_finite():
    with pytest.raises(PortError, match="not a finite"):
        ports.pickup("a", (0.0, math.nan, 0.0))


RECTANGLE = ((0.2, 0.05, 0.0), (-0.2, 0.05, 0.0), (-0.2, -0.05, 0.0), (0.2, -0.05, 0.0))


def test_an_outline_reaches_to_its_corners():
    port = Port("a", PortKind.BREATHER, HERE, bore=0.4124, facing=FACINGS["up"], rim=RECTANGLE)
    up = np.array([[0.6, 0.0, 0.8], [0.0, 0.6, 0.8], [-0.6, 0.0, 0.8]])
    np.testing.assert_allclose(support_low(port.discs, up), up @ HERE - [0.12, 0.03, 0.12])
    np.testing.assert_allclose(support_high(port.discs, up), up @ HERE + [0.12, 0.03, 0.12])
    np.testing.assert_allclose(port.discs[0, :3], HERE)
    np.testing.assert_allclose(port.ends, [HERE])


def test_an_outline_turns_with_the_tank():
    port = Port("a", PortKind.BREATHER, HERE, bore=0.4124, facing=FACINGS["up"], rim=RECTANGLE)
    turn = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    (turned,) = mount(box(1.0, 1.0, 1.0), [port], turn.T)[1]
    up = np.array([[0.6, 0.0, 0.8], [0.0, 0.6, 0.8]])
    np.testing.assert_allclose(support_low(turned.discs, up @ turn.T), support_low(port.discs, up))


def test_corners_lie_in_a_plane_that_faces_somewhere():
    with pytest.raises(PortError, match="an opening with corners needs a facing"):
        Port("a", PortKind.BREATHER, HERE, bore=0.4, rim=RECTANGLE)
    with pytest.raises(PortError, match="not a finite number"):
        Port("a", PortKind.BREATHER, HERE, facing=FACINGS["up"], rim=((math.nan, 0.0, 0.0),))
    with pytest.raises(PortError, match="needs a bore"):
        Port("a", PortKind.BREATHER, HERE, facing=FACINGS["up"], rim=RECTANGLE)
    with pytest.raises(PortError, match="on one line"):
        Port("a", PortKind.BREATHER, HERE, bore=0.4, facing=FACINGS["up"], rim=RECTANGLE[::2])
    for facing in (FACINGS["forward"], (1.0, 0.0, 0.005)):
        with pytest.raises(PortError, match="in the plane of the opening"):
            Port("a", PortKind.BREATHER, HERE, bore=0.42, facing=facing, rim=RECTANGLE)
    aslant = Port("a", PortKind.BREATHER, HERE, bore=0.42, facing=(1.0, 0.0, 0.02), rim=RECTANGLE)
    assert len(aslant.outline) == 4
