import math

import numpy as np
import pytest
from mesh_checks import is_closed, part_volume
from tanks import to_manifold

from tanksolve.errors import TankError
from tanksolve.geometry.assemble import Parts, assemble
from tanksolve.geometry.assemble import build as build_parts
from tanksolve.geometry.baffles import CORNERS, EDGES, STANDS, Baffle, clip, hole, notch, slot
from tanksolve.geometry.booleans import from_body, to_body, union
from tanksolve.geometry.internals import block, drop_tube, rib, rod, tube
from tanksolve.geometry.parts import box, cylinder
from tanksolve.geometry.sections import shaped_floor
from tanksolve.geometry.solids import cuboid
from tanksolve.geometry.sumps import box_sump, round_sump

SHELL = box(0.9, 0.3, 0.3)
SHELL_VOLUME = 0.9 * 0.3 * 0.3
PLATE = 0.3 * 0.3 * 0.003  # volume of a whole plate across
CIRCLE_40 = math.pi * 0.02**2


def build(shell, sumps=(), baffles=(), internals=()):
    return build_parts(Parts(shell, tuple(sumps), tuple(baffles), tuple(internals)))


def across(*cuts, at=0.3, **options):
    return Baffle("rear", "across", at, 0.003, cuts=cuts, **options)


def test_without_parts_the_shell_is_left_alone():
    assert build(SHELL) is SHELL


def test_box_sump_adds_its_pot():
    tank = build(SHELL, [box_sump("pot", (0.45, 0.15), 0.12, 0.1, 0.05)])
    assert tank.capacity - SHELL_VOLUME == pytest.approx(0.12 * 0.1 * 0.05, rel=1e-12)
    assert tank.lower.tolist() == [0.0, 0.0, -0.05]
    assert is_closed(tank)
    assert tank.winding([[0.45, 0.15, -0.01]])[0] == pytest.approx(1.0, abs=1e-9)


def test_tapered_and_conical_sumps_have_frustum_volumes():
    tapered = build(
        SHELL,
        [box_sump("pot", (0.45, 0.15), 0.12, 0.1, 0.06, bottom_length=0.06, bottom_width=0.05)],
    )
    top, bottom = 0.12 * 0.1, 0.06 * 0.05
    frustum = 0.06 / 3 * (top + bottom + math.sqrt(top * bottom))
    assert tapered.capacity - SHELL_VOLUME == pytest.approx(frustum, rel=1e-11)
    cone = build(SHELL, [round_sump("cone", (0.45, 0.15), 0.1, 0.06, bottom_diameter=0.0)])
    assert cone.capacity - SHELL_VOLUME == pytest.approx(math.pi * 0.05**2 * 0.06 / 3, rel=1e-11)
    pot = build(SHELL, [round_sump("round", (0.45, 0.15), 0.1, 0.06)])
    assert pot.capacity - SHELL_VOLUME == pytest.approx(math.pi * 0.05**2 * 0.06, rel=1e-11)
    assert pot.volume_error == 0.0


def test_sump_under_a_round_floor_reaches_its_lowest_point():
    shell = cylinder(0.4, 1.0)
    tank = build(shell, [box_sump("pot", (0.5, 0.2), 0.1, 0.1, 0.05)])
    assert tank.lower[2] == pytest.approx(-0.05, abs=2e-4)
    # the pot's plan area times its depth, and what its rim cuts from the segment beside the lowest line
    assert 0.1 * 0.1 * 0.05 < tank.capacity - shell.capacity < 0.1 * 0.1 * 0.06
    assert is_closed(tank)


@pytest.mark.parametrize("at", [(0.02, 0.15), (0.45, 0.29), (2.0, 0.15)])
def test_sump_beyond_the_floor_is_refused(at):
    with pytest.raises(TankError, match=r"sump 'pot'.*not wholly under"):
        build(SHELL, [box_sump("pot", at, 0.12, 0.1, 0.05)])


@pytest.mark.parametrize(
    ("cut", "area"),
    [
        (hole(0.04, (0.1, 0.15)), CIRCLE_40),
        (slot(0.06, 0.02, (0.1, 0.15)), 0.06 * 0.02),
        (slot(0.06, 0.02, (0.1, 0.15), 0.01), 0.04 * 0.02 + math.pi * 0.01**2),
        (notch("bottom", 0.15, 0.05, 0.03), 0.05 * 0.03),
        (notch("top", 0.15, 0.05, 0.03), 0.05 * 0.03),
        (notch("right", 0.15, 0.05, 0.03), 0.05 * 0.03),
        (notch("left", 0.15, 0.05, 0.03), 0.05 * 0.03),
        (clip("bottom right", 0.03), 0.03**2 / 2),
        (clip("top left", 0.03), 0.03**2 / 2),
    ],
)
def test_each_opening_gives_back_its_area(cut, area):
    assembly = assemble(Parts(SHELL, baffles=(across(cut),)))
    (opening,) = assembly.openings
    assert opening.area_m2 == pytest.approx(area, rel=1e-11)
    assert assembly.tank.capacity == pytest.approx(SHELL_VOLUME - PLATE + area * 0.003, rel=1e-13)
    assert is_closed(assembly.tank)


@pytest.mark.parametrize(
    ("cut", "inside"),
    [
        (hole(0.04, (0.1, 0.2)), (0.1, 0.2)),
        (notch("bottom", 0.1, 0.05, 0.03), (0.1, 0.02)),
        (notch("top", 0.1, 0.05, 0.03), (0.1, 0.28)),
        (notch("right", 0.1, 0.05, 0.03), (0.02, 0.1)),
        (notch("left", 0.1, 0.05, 0.03), (0.28, 0.1)),
        (clip("bottom right", 0.03), (0.01, 0.01)),
        (clip("bottom left", 0.03), (0.29, 0.01)),
        (clip("top right", 0.03), (0.01, 0.29)),
        (clip("top left", 0.03), (0.29, 0.29)),
    ],
)
def test_each_opening_is_where_a_welder_would_cut_it(cut, inside):
    tank = build(SHELL, baffles=[across(cut)])
    y, z = inside
    mirrored = (0.3 - y, 0.3 - z)
    assert tank.winding([[0.3015, y, z], [0.3015, *mirrored]]) == pytest.approx(
        [1.0, 0.0], abs=1e-9
    )


def test_gaps_and_heights_of_openings():
    assembly = assemble(Parts(SHELL, baffles=(across(gaps={"top": 0.03, "bottom": 0.01}),)))
    assert assembly.tank.capacity == pytest.approx(SHELL_VOLUME - 0.3 * 0.26 * 0.003, rel=1e-13)
    heights = {o.words: (o.lowest_m, o.highest_m) for o in assembly.openings}
    assert heights["top gap 30 mm"] == pytest.approx((0.27, 0.30))
    assert heights["bottom gap 10 mm"] == pytest.approx((0.0, 0.01))


def test_plates_along_and_flat():
    along = build(
        SHELL, baffles=[Baffle("keel", "along", 0.1, 0.003, cuts=(hole(0.04, (0.2, 0.1)),))]
    )
    assert along.capacity == pytest.approx(
        SHELL_VOLUME - (0.9 * 0.3 - CIRCLE_40) * 0.003, rel=1e-13
    )
    assert along.winding([[0.2, 0.1015, 0.1], [0.7, 0.1015, 0.1]]) == pytest.approx(
        [1, 0], abs=1e-9
    )
    flat = build(
        SHELL, baffles=[Baffle("shelf", "flat", 0.1, 0.003, cuts=(hole(0.04, (0.2, 0.1)),))]
    )
    assert flat.winding([[0.2, 0.1, 0.1015], [0.7, 0.1, 0.1015]]) == pytest.approx([1, 0], abs=1e-9)


def test_leaning_and_turned_plates_have_their_slant_area():
    leaning = build(SHELL, baffles=[across(lean=math.radians(20.0), at=0.3)])
    assert leaning.capacity == pytest.approx(
        SHELL_VOLUME - PLATE / math.cos(math.radians(20.0)), rel=1e-12
    )
    top = 0.3 + 0.29 * math.tan(math.radians(20.0)) + 0.0015  # leans forward
    assert leaning.winding([[top, 0.1, 0.29]])[0] == pytest.approx(0.0, abs=1e-9)
    turned = build(SHELL, baffles=[across(turn=math.radians(25.0), at=0.3)])
    assert turned.capacity == pytest.approx(
        SHELL_VOLUME - PLATE / math.cos(math.radians(25.0)), rel=1e-12
    )
    left = 0.3 + 0.29 * math.tan(math.radians(25.0)) + 0.0015  # left end forward
    assert turned.winding([[left, 0.29, 0.1]])[0] == pytest.approx(0.0, abs=1e-9)
    for tank in (leaning, turned):
        assert is_closed(tank)
        assert len(tank.faces) <= 24  # two plain bays: no film left between plate and wall


def test_plate_over_a_sump_does_not_hang_into_it():
    pot = box_sump("pot", (0.3015, 0.15), 0.12, 0.1, 0.05)
    tank = build(SHELL, [pot], [across()])
    # a hundredth of a millimetre of plate reaches below the floor, no more
    assert tank.capacity == pytest.approx(
        SHELL_VOLUME + 0.12 * 0.1 * 0.05 - PLATE - 0.1 * 0.003 * 1e-5, rel=1e-13
    )
    assert tank.winding([[0.3015, 0.15, -0.001]])[0] == pytest.approx(1.0, abs=1e-9)
    assert is_closed(tank)


def test_internals_take_their_volume():
    cases = [
        (block("b", (0.4, 0.1, 0.0), 0.1, 0.05, 0.04), 0.1 * 0.05 * 0.04),
        (block("free", (0.4, 0.1, 0.1), 0.1, 0.05, 0.04), 0.1 * 0.05 * 0.04),
        (rod("p", (0.5, 0.2, 0.1), 0.05, 0.08), math.pi * 0.025**2 * 0.08),
        (rod("q", (0.5, 0.2, 0.1), 0.05, 0.08, "along"), math.pi * 0.025**2 * 0.08),
        (tube("t", (0.1, 0.2), 0.03, "along"), math.pi * 0.015**2 * 0.9),
        (tube("u", (0.1, 0.2), 0.03, "across"), math.pi * 0.015**2 * 0.3),
        (drop_tube("d", (0.1, 0.2), 0.04, 0.03), math.pi * 0.02**2 * 0.27),
        (rib("r", "floor", "across", 0.5, 0.02, 0.003, SHELL), 0.3 * 0.02 * 0.003),
        (
            rib("s", "left", "along", 0.1, 0.02, 0.003, SHELL, start=0.2, stop=0.7),
            0.5 * 0.02 * 0.003,
        ),
    ]
    for internal, volume in cases:
        tank = build(SHELL, internals=[internal])
        assert tank.capacity == pytest.approx(SHELL_VOLUME - volume, rel=1e-13), internal.name
        assert tank.volume_error == 0.0, internal.name
        assert is_closed(tank)
        assert any(
            f"internal '{internal.name}' takes {1000 * volume:.3f} L" in note for note in tank.notes
        )


def test_a_rib_on_the_left_wall_stands_on_the_left_wall():
    tank = build(SHELL, internals=[rib("s", "left", "along", 0.1, 0.02, 0.003, SHELL)])
    assert tank.winding([[0.5, 0.29, 0.1015], [0.5, 0.01, 0.1015]]) == pytest.approx(
        [0, 1], abs=1e-9
    )


def test_round_part_cut_askew_leaves_the_faceting_error_unknown():
    tank = build(cylinder(0.4, 1.0), internals=[tube("t", (0.3, 0.2), 0.05, "across")])
    assert tank.volume_error is None
    assert any("faceting errs by less than" in note for note in tank.notes)


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"baffles": [across(hole(0.04, (0.5, 0.1)))]}, "hole 40 mm takes nothing off"),
        ({"baffles": [across(at=2.0)]}, "does not touch"),
        (
            {"internals": [block("b", (2.0, 0.0, 0.0), 0.1, 0.1, 0.1)]},
            "internal 'b': it lies outside the tank",
        ),
        ({"internals": [block("b", (0.0, 0.0, 0.0), 0.9, 0.3, 0.3)]}, "nothing is left"),
        (
            {
                "internals": [
                    block("b", (0.1, 0.1, 0.1), 0.1, 0.05, 0.05),
                    block("c", (0.2, 0.15, 0.1), 0.1, 0.05, 0.05),
                ]
            },
            "touch along an edge",
        ),
    ],
)
def test_parts_that_make_no_sense_are_refused(parts, words):
    with pytest.raises(TankError, match=words):
        build(SHELL, **parts)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Baffle("b", "sideways", 0.1, 0.003), "no way for a plate"),
        (lambda: Baffle("b", "across", 0.1, 0.0), "not positive"),
        (lambda: Baffle("b", "across", 0.1, 0.003, gaps={"front": 0.1}), "no front edge"),
        (
            lambda: Baffle("b", "across", 0.1, 0.003, cuts=(clip("bottom front", 0.1),)),
            "no bottom front corner",
        ),
        (lambda: Baffle("b", "across", 0.1, 0.003, lean=1.5), "too great"),
        (lambda: Baffle("b", "flat", 0.1, 0.003, turn=0.1), "no turn"),
        (
            lambda: Baffle("b", "across", 0.1, 0.003, cuts=(slot(0.1, -0.1, (0.1, 0.1)),)),
            "not positive",
        ),
        (lambda: box_sump("s", (0.1, 0.1), 0.1, 0.1, 0.0), "depth of 0 mm"),
        (lambda: rib("r", "floor", "upright", 0.1, 0.1, 0.1, SHELL), "cannot run upright"),
        (lambda: rod("r", (0.1, 0.1, 0.1), 0.0, 0.1), "not positive"),
        (lambda: tube("r", (0.1, 0.1), 0.1, "down"), "not a direction"),
    ],
)
def test_bad_parts_are_refused_at_birth(make, words):
    with pytest.raises(TankError, match=words):
        make()


def test_part_volumes_of_an_assembled_tank_add_up():
    tank = build(
        SHELL,
        [box_sump("pot", (0.1, 0.15), 0.12, 0.1, 0.05)],
        [
            across(hole(0.04, (0.1, 0.1)), clip("bottom left", 0.03), gaps={"top": 0.03}),
            across(at=0.6),
        ],
        [drop_tube("d", (0.7, 0.1), 0.04, 0.03)],
    )
    up = (0.3, -0.2, math.sqrt(1 - 0.13))
    down = (-0.3, 0.2, -up[2])
    for height in (0.05, 0.2, 0.3):
        whole = part_volume(tank, up, height) + part_volume(tank, down, -height)
        assert whole == pytest.approx(tank.capacity, rel=1e-12)


def test_places_in_a_round_tank_are_measured_from_the_ideal_wall():
    # the facets' corners stand outside the circle; the drawing's dimensions do not
    shell = cylinder(0.4, 1.0, chord_tolerance=2e-3)
    assert shell.lower[1] < -5e-4
    tank = build(
        shell,
        [box_sump("pot", (0.5, 0.2), 0.1, 0.06, 0.05)],
        [Baffle("keel", "along", 0.1, 0.003, gaps={"top": 0.1})],
        [rod("pump", (0.3, 0.25, 0.15), 0.05, 0.1, "along")],
    )
    for plane in (
        (1, 0.1, 0.5),  # the keel's right face, at any height
        (1, 0.103, 0.5),
        (2, 0.3, 0.5),  # its top edge, 100 mm below the ideal roof
        (0, 0.3, 0.3),  # rear end of the pump body
    ):
        axis, where, _ = plane
        assert (abs(tank.vertices[:, axis] - where) < 1e-12).any(), plane
    round_part = tank.vertices[abs(tank.vertices[:, 0] - 0.3) < 1e-12]
    assert round_part.mean(axis=0)[1:] == pytest.approx([0.25, 0.15], abs=1e-9)


def closed_surfaces(tank):
    """Number of closed surfaces that bound the tank: faces joined along edges."""
    parent = list(range(len(tank.vertices)))

    def root(k):
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = parent[k]
        return k

    for a, b, c in tank.faces.tolist():
        parent[root(a)] = root(b)
        parent[root(b)] = root(c)
    return len({root(k) for k in range(len(tank.vertices))})


def test_a_block_on_the_floor_but_for_rounding_is_welded_to_it():
    off = 0.1 + 0.2 - 0.3  # 5.6e-17
    assert off != 0.0
    for gap in (off, -off, 1e-9):
        tank = build(SHELL, internals=[block("b", (0.4, 0.1, gap), 0.1, 0.05, 0.04)])
        assert closed_surfaces(tank) == 1  # no film of liquid under it
        assert tank.vertices[:, 2][tank.vertices[:, 2] < 0.01] == pytest.approx(0.0, abs=1e-15)
    free = build(SHELL, internals=[block("b", (0.4, 0.1, 0.001), 0.1, 0.05, 0.04)])
    assert closed_surfaces(free) == 2


def test_round_sump_under_a_round_floor_leaves_the_faceting_error_unknown():
    tank = build(cylinder(0.4, 1.0), [round_sump("pot", (0.5, 0.2), 0.1, 0.05)])
    assert tank.volume_error is None


def test_slivers_of_rounding_are_dropped():
    body = union(
        [to_body(cuboid((0, 0, 0), (1, 1, 1))), to_body(cuboid((2, 0, 0), (2 + 1e-5, 1e-5, 1e-5)))]
    )
    assert len(body.decompose()) == 2
    vertices, faces = from_body(body, "test")
    assert len(faces) == 12
    assert vertices[:, 0].max() == 1.0


def test_sumps_and_plates_on_a_sloped_floor_leave_no_slivers():
    shell = shaped_floor(0.9, 0.3, 0.3, [(0, 0.037), (0.61, 0.0), (0.9, 0.0613)])
    pots = [
        round_sump("round", (0.2, 0.11), 0.083, 0.05),
        box_sump("box", (0.7, 0.2), 0.1, 0.07, 0.03),
    ]
    plates = [
        across(*(hole(0.031, (y, 0.17)) for y in (0.1, 0.26)), at=0.21, lean=0.21, turn=0.17),
        Baffle(
            "keel", "along", 0.19, 0.003, lean=-0.13, turn=0.05, cuts=(hole(0.04, (0.4, 0.12)),)
        ),
    ]
    tank = build(shell, pots, plates)
    assert is_closed(tank)
    assert closed_surfaces(tank) == 1
    corners = tank.vertices[tank.faces]
    sides = [((corners[:, k] - corners[:, k - 1]) ** 2).sum(axis=1) ** 0.5 for k in range(3)]
    assert min(side.min() for side in sides) > 5e-6  # the shortest made on purpose is 10 µm


@pytest.mark.parametrize(
    ("edge", "gap", "options"),
    [
        ("top", 0.02, {}),
        ("bottom", 0.02, {}),
        ("left", 0.02, {}),
        ("top", 0.02, {"lean": math.radians(20.0)}),
    ],
)
def test_a_notch_begins_at_the_edge_that_a_gap_leaves(edge, gap, options):
    plate = across(notch(edge, 0.15, 0.05, 0.03), gaps={edge: gap}, **options)
    done = assemble(Parts(SHELL, baffles=(plate,)))
    slant = 1.0 / math.cos(options.get("lean", 0.0))
    listed = {opening.words: opening.area_m2 for opening in done.openings}
    assert listed == pytest.approx(
        {f"{edge} gap 20 mm": 0.3 * gap * slant, f"{edge} notch 50 x 30 mm": 0.05 * 0.03},
        rel=1e-3 if slant == 1.0 else 0.02,  # a gap's edge is level, through a plate that leans
    )
    # what the mesh has lost to the plate says the same: no opening is listed that is not cut
    left = (SHELL_VOLUME - done.tank.capacity) / 0.003
    assert left == pytest.approx(0.3 * 0.3 * slant - sum(listed.values()), rel=1e-3)


def test_what_two_openings_share_is_counted_once():
    plate = across(hole(0.038, (0.15, 0.15)), slot(0.04, 0.04, (0.15, 0.15)))
    done = assemble(Parts(SHELL, baffles=(plate,)))
    assert sum(opening.area_m2 for opening in done.openings) == pytest.approx(0.04**2, rel=1e-9)


def test_an_opening_where_another_is_already_is_refused():
    with pytest.raises(TankError, match="takes nothing off"):
        build(SHELL, baffles=[across(hole(0.03, (0.15, 0.15)), gaps={"top": 0.2})])


def _random_plate(rng):
    """A plate with two to four openings, one of a kind, some on others, perhaps leaning."""
    stands = STANDS[rng.integers(3)]
    sides = {"across": (0.3, 0.3), "along": (0.9, 0.3), "flat": (0.9, 0.3)}[stands]
    cuts = []
    for kind in rng.permutation(["hole", "slot", "notch", "clip"])[: rng.integers(2, 5)]:
        at = tuple(rng.uniform(0.2, 0.8, 2) * sides)
        edge = str(rng.choice(EDGES[stands]))
        along = at[1] if edge in EDGES[stands][:2] else at[0]
        cuts.append(
            {
                "hole": lambda at=at: hole(rng.uniform(0.02, 0.06), at),
                "slot": lambda at=at: slot(*rng.uniform(0.02, 0.08, 2), at),
                "notch": lambda edge=edge, along=along: notch(
                    edge, along, *rng.uniform(0.02, 0.06, 2)
                ),
                "clip": lambda: clip(str(rng.choice(CORNERS[stands])), rng.uniform(0.02, 0.05)),
            }[kind]()
        )
    gaps = {str(rng.choice(EDGES[stands])): 0.015} if rng.random() < 0.5 else {}
    lean = rng.choice([0.0, math.radians(15.0)])
    return Baffle("plate", stands, 0.12, 0.004, lean, cuts=tuple(cuts), gaps=gaps)


@pytest.mark.parametrize("seed", range(12))
def test_what_is_listed_is_the_opening_of_the_mesh(seed):
    """The mesh cut along the middle of the plate shows as much area as the openings listed together."""
    plate = _random_plate(np.random.default_rng(seed))
    done = assemble(Parts(SHELL, baffles=(plate,)))
    turn = plate.axes.T
    middle = plate.axes[:, 2] @ plate.foot(SHELL) + 0.5 * plate.thickness
    across_it = to_manifold(done.tank).transform(np.column_stack([turn, np.zeros(3)]))
    shown = across_it.slice(middle).area()
    listed = sum(opening.area_m2 for opening in done.openings)
    assert listed > 1e-4
    # a gap ends level and a wall cuts upright: through a plate that leans both faces are not quite alike
    assert shown == pytest.approx(listed, rel=1e-6 if plate.lean == 0.0 else 0.02)
