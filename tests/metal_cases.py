"""Metal tanks as CAD programs write them [mm], each with what it holds by a boolean of its own.

A case is the metal, the space inside it as designed (a body made without the metal), and how many
openings it has. ``slack`` is what the shape of a mouth leaves open (a rim's rounding), as a share.
"""

from typing import NamedTuple

import numpy as np
from manifold3d import CrossSection, Manifold
from walled_tank import cube, rod

__all__ = ["CASES", "Case"]


class Case(NamedTuple):
    metal: Manifold
    inside: Manifold
    openings: int
    slack: float = 1e-6


def tank(size=(900, 300, 200), wall=3.0, roof=None):
    """A closed box of plate and the space in it."""
    roof = wall if roof is None else roof
    x, y, z = size
    room = cube((x - 2 * wall, y - 2 * wall, z - wall - roof), (wall, wall, wall))
    return cube(size) - room, room


def necked(metal, at=(600, 150), top=200, bore=27.0, wall=3.0, height=50):
    """A filler neck through the roof, flush with its inner face."""
    x, y = at
    metal += rod(bore + wall, height + wall / 2, "z", (x, y, top + height / 2 - wall / 4))
    return metal - rod(bore, height + 20, "z", (x, y, top + height / 2 - 5))


def revolved(points, segments=48):
    return Manifold.revolve(CrossSection([np.asarray(points, float)]), segments)


def flared(bore, plate, radius, steps=8):
    """A hole through a plate whose lower rim is rounded: the body to take away, z = 0 its underside."""
    angle = np.linspace(0.0, np.pi / 2, steps)
    curve = np.stack(
        [bore + radius - radius * np.sin(angle), radius - radius * np.cos(angle)], axis=1
    )
    outline = [(0.0, -5.0), (bore + radius, -5.0), *curve.tolist(), (bore, plate + 5.0)]
    return revolved([*outline, (0.0, plate + 5.0)])


def bevelled(bore, plate, depth):
    outline = [(0, -1), (bore + depth + 1, -1), (bore, depth), (bore, plate + 5), (0, plate + 5)]
    return revolved(outline)


def threaded(bore, plate, pitch=2.7, depth=1.4, segments=24):
    """A threaded hole: a helical groove round a bore, as rings of slanted saw-teeth."""
    body = rod(bore, plate + 20, "z", (0, 0, plate / 2))
    turn, rows = np.linspace(0, 2 * np.pi, segments, endpoint=False), []
    n = int((plate + 2 * pitch) / pitch * segments)
    for k in range(n + 1):
        a, z = turn[k % segments], -pitch + pitch * k / segments
        c, s = np.cos(a), np.sin(a)
        rows.append(
            [
                (c * (bore - 0.5), s * (bore - 0.5), z - 0.45 * pitch),
                (c * (bore + depth), s * (bore + depth), z),
                (c * (bore - 0.5), s * (bore - 0.5), z + 0.45 * pitch),
            ]
        )
    wedges = [
        Manifold.hull_points(np.asarray(rows[k] + rows[k + 1], float)) for k in range(len(rows) - 1)
    ]
    for wedge in wedges:
        body += wedge
    return body


def plain():
    metal, room = tank()
    metal = necked(metal) - rod(19, 20, "x", (0, 150, 60)) - rod(19, 20, "x", (900, 150, 60))
    return Case(metal, room, 3)


def cup_on_floor():
    metal, room = tank()
    box = cube((120, 80, 61), (300, 100, 2)) - cube((116, 76, 80), (302, 102, 4))
    return Case(necked(metal) + box, room - box, 1)


def great_cup_on_floor():
    metal, room = tank()
    box = cube((400, 280, 121), (300, 10, 2)) - cube((394, 274, 140), (303, 13, 5))
    return Case(necked(metal, (100, 150)) + box, room - box, 1)


def suction_tube_through_roof():
    metal, room = tank()
    pipe = rod(12, 230, "z", (200, 150, 135)) - rod(10, 300, "z", (200, 150, 135))
    metal = necked(metal) - rod(11, 40, "z", (200, 150, 200)) + pipe
    return Case(metal, room - rod(12, 230, "z", (200, 150, 135)), 2)


def slanted_suction_tube():
    metal, room = tank()
    solid = rod(12, 230, "z", (200, 150, 135))
    knife = cube((200, 200, 60), (-100, -100, -60)).rotate((0, 40, 0)).translate((200, 150, 45))
    pipe = (solid - rod(10, 300, "z", (200, 150, 135))) - knife
    metal = necked(metal) - rod(11, 40, "z", (200, 150, 200)) + pipe
    return Case(metal, room - (solid - knife), 2)


def thin_plates():
    """Walls of 1 mm on 900 mm: thinner than 1 % of their size."""
    metal, room = tank(wall=1.0)
    baffle = cube((1, 299, 150), (450, 0.5, 0.5))
    return Case(necked(metal, wall=1.0) + baffle, room - baffle, 1)


def rounded_hose_hole():
    metal, room = tank(wall=6.0)
    hole = flared(19, 6, 6).rotate((0, 90, 0)).translate((894, 150, 60))
    return Case(necked(metal, top=200) - hole, room, 2, 3e-4)


def bevelled_hose_hole():
    metal, room = tank(wall=6.0)
    hole = bevelled(19, 6, 2).rotate((0, 90, 0)).translate((894, 150, 60))
    return Case(necked(metal) - hole, room, 2, 2e-4)


def rounded_filler():
    metal, room = tank(wall=6.0)
    return Case(metal - flared(27, 6, 5).translate((500, 150, 194)), room, 1, 3e-4)


def threaded_boss():
    metal, room = tank()
    metal += rod(24, 22, "z", (300, 150, 209))
    return Case(necked(metal) - threaded(14, 30).translate((300, 150, 195)), room, 2, 3e-4)


def baffles_with_clips():
    metal, room = tank()
    plates = Manifold()
    for x in (300, 600):
        plate = cube((3, 296, 196), (x, 2, 2)) - rod(25, 20, "x", (x, 150, 100))
        for y in (2, 280):
            for z in (2, 180):
                plate -= cube((10, 18, 18), (x - 3, y - 0.5, z - 0.5))
        plates += plate
    return Case(necked(metal, (450, 150)) + plates, room - plates, 1)


def two_bays_two_ports():
    metal, room = tank()
    plate = cube((3, 296, 196), (450, 2, 2)) - rod(8, 20, "x", (450, 150, 20))
    metal = necked(metal, (200, 150)) - rod(19, 20, "x", (900, 150, 100))
    return Case(metal + plate, room - plate, 2)


def flat_tank_wide_filler():
    metal, room = tank((1000, 500, 40), 2.0)
    return Case(metal - rod(27, 20, "z", (500, 250, 38)), room, 1)


def clean_out_cover_left_off():
    metal, room = tank((1000, 500, 250), 4.0)
    plate = cube((4, 494, 200), (700, 3, 3))
    metal = metal - rod(150, 20, "z", (300, 250, 250)) - rod(19, 20, "x", (0, 150, 60))
    return Case(metal + plate, room - plate, 2)


def on_a_skid_with_a_drain():
    metal, room = tank()
    for y in (20, 240):
        metal += cube((900, 40, 81), (0, y, -80))
    metal += cube((40, 300, 81), (0, 0, -80)) + cube((40, 300, 81), (860, 0, -80))
    return Case(necked(metal) - rod(15, 20, "z", (450, 150, 0)), room, 2)


def drum():
    metal = rod(150, 800, "x", (400, 0, 0)) - rod(147, 794, "x", (400, 0, 0))
    neck = rod(28, 60, "z", (300, 0, 165)) - rod(147, 794, "x", (400, 0, 0))
    metal = metal + neck - rod(25, 120, "z", (300, 0, 180))
    return Case(metal, rod(147, 794, "x", (400, 0, 0)), 1, 4e-4)


def saddle():
    """Two lobes over a tunnel, joined by a bridge 24 mm high."""
    outer = (
        cube((500, 200, 250))
        + cube((500, 200, 250), (0, 500, 0))
        + cube((500, 500, 30), (0, 100, 220))
    )
    room = (
        cube((496, 196, 246), (2, 2, 2))
        + cube((496, 196, 246), (2, 502, 2))
        + cube((496, 500, 26), (2, 100, 222))
    )
    metal = (outer - room) - rod(20, 20, "z", (100, 100, 250)) - rod(20, 20, "z", (100, 600, 250))
    return Case(metal - rod(6, 20, "z", (250, 350, 250)), room, 3)


def through_tube():
    """A fire tube from wall to wall, open to the outside at both ends."""
    metal, room = tank()
    solid = rod(30, 920, "x", (450, 150, 60))
    metal = necked(metal) + rod(30, 900, "x", (450, 150, 60)) - rod(27, 940, "x", (450, 150, 60))
    return Case(metal, room - solid, 1)


def pot_below_the_floor():
    metal, room = tank()
    pot = cube((126, 126, 61), (97, 87, -58))
    hollow = cube((120, 120, 61), (100, 90, -55))
    metal = necked(metal + pot - hollow) - rod(7, 20, "z", (160, 150, -55))
    return Case(metal, room + hollow, 2)


def cup_with_a_drain():
    """A narrow cup on the floor whose bottom is bored through to the outside."""
    metal, room = tank()
    box = cube((40, 40, 41), (300, 100, 2)) - cube((36, 36, 60), (302, 102, 3))
    return Case(necked(metal) + box - rod(6, 20, "z", (320, 120, 0)), room - box, 2)


def hollow_rail_outside():
    """A sealed hollow tube on the outside, and a jacket with its own port."""
    metal, room = tank()
    rail = cube((900, 40, 40), (0, -39, 50)) - cube((890, 34, 34), (5, -36, 53))
    return Case(necked(metal) + rail, room, 1)


def lid_with_a_gap():
    """A lid laid over an open tray, a millimetre above its rim: a gap all round."""
    tray = cube((400, 300, 200)) - cube((396, 296, 220), (2, 2, 2))
    lid = cube((420, 320, 4), (-10, -10, 201)) - rod(20, 20, "z", (200, 150, 203))
    return Case(
        tray + lid, cube((396, 296, 198), (2, 2, 2)) + cube((398, 298, 1), (1, 1, 200)), 2, 8e-3
    )


def hatch_without_its_lid():
    """An opening wider than any ball that is tried: a flat lid closes it."""
    metal, room = tank()
    return Case(metal - cube((400, 200, 20), (250, 50, 190)), room, 1)


def hollow_float():
    """A sealed hollow body that floats in the tank: it displaces all that it takes up."""
    metal, room = tank((900, 400, 300))
    solid = cube((200, 150, 100), (300, 100, 120))
    shell = solid - cube((196, 146, 96), (302, 102, 122))
    return Case(necked(metal, (100, 200), 300) + shell, room - solid, 1)


CASES = {
    make.__name__: make
    for make in (
        plain,
        cup_on_floor,
        great_cup_on_floor,
        suction_tube_through_roof,
        slanted_suction_tube,
        thin_plates,
        rounded_hose_hole,
        bevelled_hose_hole,
        rounded_filler,
        threaded_boss,
        baffles_with_clips,
        two_bays_two_ports,
        flat_tank_wide_filler,
        clean_out_cover_left_off,
        on_a_skid_with_a_drain,
        drum,
        saddle,
        through_tube,
        pot_below_the_floor,
        cup_with_a_drain,
        hollow_rail_outside,
        lid_with_a_gap,
        hatch_without_its_lid,
        hollow_float,
    )
}
