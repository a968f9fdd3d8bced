"""What `marks` tells as unusable and `level` as trapped, behind flaps and pipes: the same liquid, by hand.

Box 0.9 x 0.3 x 0.3 m, a wall at 0.4 m; the pickup in the rear bay gives out 30 mm over the floor. The front
bay is 0.497 x 0.3 m. As the rear one is drawn down the front one follows, to that level or its way's sill.
"""

import pytest

from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle, slot
from tanksolve.geometry.links import BalancePipe
from tanksolve.geometry.parts import box
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import pickup
from tanksolve.pump.suction_head import required_attitudes
from tanksolve.questions.level.pools import pools
from tanksolve.questions.marks.marks import marks

PORTS = (pickup("p", (0.1, 0.15, 0.02), cover=0.01),)
OWN, AHEAD = 0.3 * 0.4, 0.3 * 0.497
SHELL = box(0.9, 0.3, 0.3)


def walled(*cuts, pipes=()):
    return build(Parts(SHELL, (), (Baffle("w", "across", 0.4, 0.003, cuts=cuts),), pipes=pipes))


def flap(way, bottom):
    return walled(slot(0.1, 0.02, (0.15, bottom + 0.01), flap=way))


PIPE = walled(pipes=(BalancePipe("b", ((0.39, 0.15, 0.08), (0.42, 0.15, 0.08)), 0.04),))


@pytest.mark.parametrize(
    ("tank", "kept", "trapped"),
    [
        (flap("rearward", 0.0), 0.03, 0.0),  # opens towards the pickup: 44 L were told as unusable
        (flap("rearward", 0.05), 0.05, 0.05),
        (flap("forward", 0.0), 0.3, None),  # lets nothing back: all of it
        (PIPE, 0.06, 0.06),
    ],
)
def test_unusable_is_what_is_left_as_the_pickup_gives_out(tank, kept, trapped):
    (need,) = marks(tank, PORTS, required_attitudes(None)).attitudes
    assert need.unusable_m3 == pytest.approx(OWN * 0.03 + AHEAD * kept, rel=1e-6)
    at = pools(tank, 0.05, Attitude.level(), PORTS)
    behind = at.pools[0].volume_m3
    want = behind if trapped is None else AHEAD * trapped
    assert at.trapped_m3 == pytest.approx(want, abs=1e-9)
    # what is trapped is never more than what is told as unusable
    assert at.trapped_m3 <= need.unusable_m3 + 1e-12
