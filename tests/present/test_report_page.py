"""The report opened in a browser with the network cut: its figures against the engine's, its controls, its text.

One browser serves all tests here. The limits in these pages are searched coarsely and to 10° only: what is
tested is the page.
"""

import functools
import json
import math
import re
from dataclasses import replace
from datetime import date
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from browser import Browser
from links import balance_pipe, flap, square

from tanksolve.geometry.parts import box
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.pools.pool_volume import pools_below
from tanksolve.model.attitude import Attitude
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Rule, breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.present.as_html import table_html
from tanksolve.present.document import Column, Table
from tanksolve.present.envelope_document import envelope_document
from tanksolve.present.report_answers import Answer
from tanksolve.present.report_page import Machine, report_page
from tanksolve.present.understood import Inputs
from tanksolve.project.load import load
from tanksolve.questions.envelope.envelope import envelope_under
from tanksolve.questions.level.pools import pools
from tanksolve.state.conditions import Conditions
from tanksolve.unit_systems import US, using

MESHES = Path(__file__).resolve().parents[2] / "meshes"
CLOSE = 1e-4  # m
HOSTILE = "</script><img src=x onerror=\"window.ran = 1\"> & 'tank'"


def plain_box(name="box"):
    ports = (
        pickup("suction", (0.45, 0.15, 0.04), bore=0.038, facing="down"),
        breather("cap", (0.45, 0.15, 0.3), bore=0.02),
    )
    return replace(box(0.9, 0.3, 0.3), name=name), ports, Fill.of(0.042), "all"


def from_file(name):
    project = load(MESHES / name)
    return project.tank, project.ports, project.fill, project.pickup_rule


def with_passages():
    """Two bays with a pipe low down and a flap that lets liquid forward, either pickup enough."""
    tank, ports, fill, _ = from_file("two_bays.toml")
    pipe = balance_pipe(
        [(0.45, 0.05, 0.03), (0.45, 0.05, 0.06), (0.55, 0.05, 0.06), (0.55, 0.05, 0.03)]
    )
    door = flap(0.497, 0.503, square((0.2, 0.05), (0.25, 0.1)))
    second = pickup("rear pickup", (0.1, 0.2, 0.02), bore=0.02, facing="down", cover=0.01)
    return replace(tank, links=(pipe, door)), (*ports, second), fill, "any"


CASES = {
    "box": plain_box,
    "demo": lambda: from_file("hillside_sprayer.toml"),
    "two bays": lambda: from_file("two_bays.toml"),
    "passages": with_passages,
}


def conditions_of(case):
    tank, ports, fill, rule = case
    return Conditions.of(tank, ports, fill, rule)


def page_of(case):
    tank, ports, _, rule = case
    conditions = conditions_of(case)
    limits = envelope_under(
        conditions, every_deg=90.0, search_to_deg=10.0, tolerance_deg=5.0, islands=False
    )
    document = envelope_document(Inputs(tank, ports, conditions.fill), limits)
    return report_page(
        Machine(tank, ports, rule),
        limits,
        [Answer("How steep", "steep", document)],
        requirement=Requirement.every_heading(math.radians(8.0)),
        made=date(2026, 1, 2),
    )


@functools.cache
def page_named(name):
    """The page of one of the cases, made once."""
    return page_of(CASES[name]())


@pytest.fixture(scope="module")
def browser():
    with Browser() as found:
        yield found


@pytest.fixture
def opened(browser, tmp_path):
    """Open a case's page; nothing asked for but the file itself, no complaint."""

    def show(case, *size, **media):
        path = tmp_path / "report.html"
        page = page_named(case) if isinstance(case, str) else page_of(case)
        path.write_text(page, encoding="utf-8")
        browser.requests.clear()
        browser.complaints.clear()
        browser.open(path, *size, **media)
        return browser

    yield show
    asked = [address for address in browser.requests if not address.endswith("report.html")]
    assert (asked, browser.complaints) == ([], [])


def attitudes():
    """24: level, along the axes, along and across walls, and anyhow; up to 55°."""
    slopes = np.radians([0, 6, 13, 21, 34, 55])
    headings = np.radians([0, 90, 180, 270, 37, 164, 203, 311])
    found = [(slopes[0], 0.0)]
    found += [(slopes[1 + k % 5], headings[k % 8]) for k in range(23)]
    return np.array(
        [(math.sin(s) * math.cos(k), math.sin(s) * math.sin(k), math.cos(s)) for s, k in found]
    )


READ = """(ups => ups.map(up => {
  const text = id => document.getElementById(id).textContent;
  Page.bench.up = up; Page.bench.pick = null; Page.refresh();
  const { rows, worst, levels, single, at } = Page.bench.found;
  return {
    levels, single, margins: rows.map(r => r.margin), states: rows.map(r => r.state),
    worst: worst.port.name, least: worst.margin, rule: worst.port.rule,
    own: worst.margin + Engine.edgeOf(worst.port, up),
    pools: Page.bench.pools, elsewhere: Boolean(Page.bench.state.elsewhere),
    one: Engine.pools(Engine.oneLevel(at, levels.wet)),
    yes: document.getElementById('here').classList.contains('yes'),
    table: [...document.querySelectorAll('#ports tr')].map(tr => [...tr.children].map(td => td.textContent)),
  };
}))"""
ON_PLAN = """(() => {
  const matrix = document.getElementById('plan').getScreenCTM();
  const p = new DOMPoint(0, -50).matrixTransform(matrix);
  return [p.x, p.y];
})()"""
ON_BUBBLE = """(() => {
  const r = document.getElementById('bubble').getBoundingClientRect();
  return [r.x + r.width / 2, r.y + r.height / 2, r.width];
})()"""
EDIT = """(values => {
  const form = document.getElementById('form'), fields = form.querySelectorAll('input');
  for (const [k, value] of values) fields[k].value = value;
  form.dispatchEvent(new Event('change'));
  Page.refresh();
})"""


@pytest.mark.parametrize("name", list(CASES))
def test_the_page_agrees_with_the_engine(opened, name):
    case = CASES[name]()
    tank, ports, _, _ = case
    conditions, ups = conditions_of(case), attitudes()
    margins = conditions.margins(ups[:, None, :])[:, 0]
    least, port = conditions.group_margins(margins)
    shift = ups @ tank.graph.origin
    level = levels(tank.tree, ups, conditions.least)[0]
    one = pools_below(tank.graph, ups, level)
    sure = conditions.one_surface(
        ups, less=min(conditions.least, conditions.most) - conditions.least
    )
    found = opened(name).value(f"{READ}({json.dumps(ups.tolist())})")
    for k, page in enumerate(found):
        ruled = [
            m
            for m, p in zip(page["margins"], ports, strict=True)
            if p.effective_rule is not Rule.NONE
        ]
        assert ruled == pytest.approx(margins[k], abs=CLOSE)
        assert page["levels"]["wet"] + shift[k] == pytest.approx(level[k], abs=CLOSE)
        assert page["least"] == pytest.approx(least[k], abs=CLOSE)
        assert page["worst"] == conditions.ports[port[k]].name
        assert page["yes"] == (least[k] >= 0.0)
        assert page["single"]["wet"] >= sure[k]  # what is proved there is seen here
        volumes = sorted(v for v in one.volume[k] if v > 1e-10 * tank.capacity)
        assert sorted(p["volume"] for p in page["one"]) == pytest.approx(volumes, rel=1e-6)
        if page["rule"] == "wet" and math.isfinite(page["least"]) and page["least"] < level[k]:
            held = sum(p["volume"] for p in page["pools"])
            assert held == pytest.approx(conditions.least, rel=1e-6)
            at_port = min(abs(p["level"] - page["own"]) for p in page["pools"]) < CLOSE
            assert at_port != page["elsewhere"]
        for row, margin, state, p in zip(
            page["table"], page["margins"], page["states"], ports, strict=True
        ):
            wet_words = "covered" if margin + p.required_cover >= 0.0 else "uncovered"
            dry_words = "dry" if margin + p.required_cover >= 0.0 else "flooded"
            assert state == row[1] == (dry_words if p.effective_rule is Rule.DRY else wet_words)
            told = re.match(r"-?[\d.]+ mm", row[2])
            assert told
            assert 0.0 <= margin - float(told[0].split()[0]) / 1000.0 < 1.001e-4  # rounded down


def test_liquid_carried_from_level_is_told_only_where_it_hangs_together(opened):
    case = CASES["demo"]()
    tank, ports, fill, _ = case
    page, said = opened("demo"), []
    for pitch, roll in ((-12.0, 5.0), (35.0, 0.0), (8.0, -20.0), (-40.0, 12.0)):
        page.value(f"Page.setAttitude(Words.upOf({pitch}, {roll}))")
        page.value("new Promise(done => setTimeout(done, 700))")
        level = page.value("Page.bench.carried")
        attitude = Attitude.from_inclinometer(math.radians(pitch), math.radians(roll))
        settled = pools(tank, fill.least, attitude, ports, filled_at=None)
        told = page.value("document.getElementById('stands').textContent")
        said.append(level is None)
        if level is None:
            assert "Walls part the liquid" in told
            continue
        assert len(settled.pools) == 1
        here = level + float(np.dot(attitude.up, tank.graph.origin))
        assert here == pytest.approx(settled.pools[0].level_height_m, abs=CLOSE)
    assert set(said) == {True, False}


def test_tilting_by_click_key_and_drag(opened):
    page = opened(plain_box())
    page.value("document.getElementById('plan').scrollIntoView({ block: 'center' })")
    rim = page.value("Page.data.limits.rim")
    x, y = page.value(ON_PLAN)
    for kind in ("mouseMoved", "mousePressed", "mouseReleased"):
        page.mouse(kind, x, y, kind == "mousePressed")
    page.wait(
        "Math.abs(Words.slopeOf(Page.bench.up)) > 0 && !Page.bench.stale && !Page.bench.looking"
    )
    assert page.value("Words.readings(Page.bench.up)") == pytest.approx([-rim / 2, 0.0], abs=0.3)
    assert "nose down" in page.value("document.getElementById('here').textContent")
    assert "nose down" in page.value("document.getElementById('looked').textContent")
    assert page.value("document.querySelectorAll('#looked-ports tr').length") == 2
    page.value("document.getElementById('bubble').focus()")
    page.key("Home")
    page.key("ArrowRight")
    page.key("ArrowUp")
    page.wait("!Page.bench.stale")
    assert page.value("Words.readings(Page.bench.up)") == pytest.approx([1.0, -1.0], abs=1e-9)
    told = [
        page.value(f"document.getElementById('{one}-told').textContent")
        for one in ("pitch", "roll")
    ]
    assert told == ["1.0° (1.7 % grade) nose up", "1.0° (1.7 % grade) left side down"]
    page.value("document.getElementById('bubble').scrollIntoView({ block: 'center' })")
    x, y, wide = page.value(ON_BUBBLE)
    page.mouse("mousePressed", x, y, True)
    page.mouse("mouseMoved", x + 0.24 * wide, y, True)
    page.mouse("mouseReleased", x + 0.24 * wide, y)
    page.wait("!Page.bench.stale")
    # the bubble goes to the high side, and stays under the finger whatever is told beside it
    assert page.value("Words.sides(Page.bench.up)") == "left side down"
    for pitch, roll in ((50, 0), (-18, 27)):
        page.value(f"Page.setAttitude(Words.upOf({pitch}, {roll})); Page.refresh()")
        assert page.value(ON_BUBBLE) == [x, y, wide]


def test_another_fill_and_other_sizes_are_solved_in_the_page(opened):
    page = opened(plain_box())
    page.value("Page.setAttitude(Words.upOf(20, 0)); Page.setFill(0.03); Page.refresh()")
    tank, ports, _, _ = plain_box()
    up = np.array([Attitude.from_inclinometer(math.radians(20.0), 0.0).up])
    want = Conditions.of(tank, ports, 0.03).margins(up[:, None])[0, 0]
    assert page.value("Page.bench.found.rows.map(r => r.margin)") == pytest.approx(want, abs=CLOSE)
    page.wait("Page.bench.sampled")
    assert page.value("document.getElementById('key-now').hidden") is False
    page.value(f"{EDIT}([[0, 600], [3, 300]])")
    smaller = replace(box(0.6, 0.3, 0.3), name="box")
    moved = (replace(ports[0], position=(0.3, 0.15, 0.04)), ports[1])
    want = Conditions.of(smaller, moved, 0.03).margins(up[:, None])[0, 0]
    assert page.value("Page.bench.found.rows.map(r => r.margin)") == pytest.approx(want, abs=CLOSE)
    assert "600.0 mm x 300.0 mm x 300.0 mm" in page.value(
        "document.getElementById('edited').textContent"
    )
    page.value(f"{EDIT}([[3, 700]])")
    assert "outside the tank" in page.value("document.getElementById('form-told').textContent")


def test_a_tray_has_no_editor(opened):
    """Its outline would not widen with it: the page told 12.43 degrees of a tray for which 6.29 was true."""
    tank, _, fill, rule = plain_box("tray")
    rim = ((0.45, 0.15, 0.0), (-0.45, 0.15, 0.0), (-0.45, -0.15, 0.0), (0.45, -0.15, 0.0))
    top = replace(breather("top", (0.45, 0.15, 0.3), bore=0.95, facing="up"), rim=rim)
    assert opened((tank, (replace(top, rim=()),), fill, rule)).value(
        "!document.getElementById('editor').hidden"
    )
    assert opened((tank, (top,), fill, rule)).value("document.getElementById('editor').hidden")


def test_a_route_is_blamed_only_where_one_may_be(opened):
    """In a plain box nothing hangs on the route; in two bays the pickup's own may have been emptied."""
    here = "document.getElementById('here').textContent"
    page = opened(plain_box())
    page.value("Page.setAttitude(Words.upOf(50, 0)); Page.refresh()")
    told = page.value(here)
    words = (
        r"nose up: suction is ([0-9.]+) mm short of its cover of 76.0 mm; still ([0-9.]+) mm under"
    )
    short, still = re.search(words, told).groups()
    assert float(short) + float(still) == pytest.approx(76.0, abs=0.11)
    ports = page.value("document.getElementById('ports').textContent")
    assert "short of its cover" in ports
    assert "broken" not in ports
    assert "route" not in page.value(here)
    page = opened("two bays")
    page.value("Page.setAttitude(Words.upOf(-25, 0)); Page.refresh()")
    assert "nose down: some route leaves pickup" in page.value(here)


def test_what_users_typed_is_shown_and_never_run(opened):
    tank, ports, fill, rule = plain_box(HOSTILE)
    named = (replace(ports[0], name=HOSTILE), ports[1])
    page = opened((tank, named, fill, rule))
    assert HOSTILE in page.value("document.querySelector('.lead').textContent")
    assert page.value("document.querySelector('#ports td').textContent") == HOSTILE
    page.value("Page.setAttitude(Words.upOf(35, 0)); Page.refresh()")  # broken: named once more
    page.wait("document.getElementById('at-worst').hidden === false")
    for place in ("#side .name", "#solid .tag", "#here", "#worst-told", "#worst-side .name"):
        told = page.value(f"[...document.querySelectorAll('{place}')].map(n => n.textContent)")
        assert any(HOSTILE in one for one in told), place
    assert page.value("[window.ran === undefined, document.images.length]") == [True, 0]


def test_a_phone_shows_everything_without_scrolling_sideways(opened):
    page = opened("two bays", 390, 800, prefers_color_scheme="dark")
    assert page.value("document.documentElement.scrollWidth") == 390
    assert page.value("getComputedStyle(document.body).backgroundColor") == "rgb(20, 24, 27)"


def rectangles(page, what):
    """Places on the screen of the nodes that a selector finds: left, top, right, bottom."""
    return page.value(
        f"[...document.querySelectorAll({json.dumps(what)})].map(n => n.getBoundingClientRect())"
        ".map(r => [r.left, r.top, r.right, r.bottom])"
    )


def apart(one, other, gap=0.5):
    return (
        one[2] <= other[0] + gap
        or other[2] <= one[0] + gap
        or one[3] <= other[1] + gap
        or other[3] <= one[1] + gap
    )


@pytest.mark.parametrize("width", [390, 1280])
def test_names_hide_no_port_and_no_other_name(opened, width):
    page = opened("demo", width, 800)
    for pitch, roll in ((0, 0), (-22, 6), (-2, 30), (40, -20), (55, 0)):
        page.value(f"Page.setAttitude(Words.upOf({pitch}, {roll})); Page.refresh()")
        for view in ("#side", "#front"):
            frame = rectangles(page, view)[0]
            names, marks = rectangles(page, f"{view} .name"), rectangles(page, f"{view} .port-mark")
            assert len(names) == len(marks) > 0
            for k, name in enumerate(names):
                assert frame[0] - 1 <= name[0]
                assert name[2] <= frame[2] + 1
                assert frame[1] - 1 <= name[1]
                assert all(apart(name, other) for other in (*marks, *names[:k]))


def test_a_sump_beside_the_cut_is_seen_in_it(opened):
    """Across through the middle pickup, in front of the sump: its outline lies below the cut's own walls."""
    page = opened("demo")
    page.value("Page.bench.pick = 'middle pickup'; Page.refresh()")
    wall = page.value("(b => b.y + b.height)(document.querySelector('#front .wall').getBBox())")
    path = page.value("document.querySelector('#front .beyond').getAttribute('d')")
    lines = [[float(c) for c in re.split("[ L]", line)] for line in path.split("M")[1:]]
    # the cone of the sump: 55 mm from its middle at the floor, 40 mm at its bottom, 45 mm down
    cone = [line for line in lines if {round(line[1] - wall), round(line[3] - wall)} == {0, 45}]
    for x0, _, x1, _ in cone:
        assert sorted((abs(x0), abs(x1))) == pytest.approx([40.0, 55.0], abs=0.7)
    assert {x0 > 0.0 for x0, *_ in cone} == {True, False}


def test_on_a_phone_the_cuts_stay_in_sight_while_the_sliders_are_moved(opened):
    page = opened(plain_box(), 390, 800)
    for control in ("bubble", "pitch", "roll", "fill"):
        page.value(f"document.getElementById('{control}').scrollIntoView({{ block: 'center' }})")
        (side,), (front,) = rectangles(page, "#side"), rectangles(page, "#front")
        (slider,) = rectangles(page, f"#{control}")
        assert side[1] >= 0.0
        assert side[3] <= slider[1]
        assert slider[3] <= 800.0
        assert front[1] == side[1]
        assert rectangles(page, "#short")[0][1] >= 0.0
    assert page.value("document.getElementById('short').textContent").startswith("✓ ")
    assert page.value("document.getElementById('here').textContent").startswith("✓ ")
    page.value("Page.setAttitude(Words.upOf(50, 0)); Page.refresh()")
    assert page.value("document.getElementById('short').textContent").startswith("✗ suction")
    assert page.value("document.getElementById('here').textContent").startswith("✗ ")


def test_print_shows_the_worst_attitude_beside_the_present_one(opened):
    page = opened("demo")
    page.wait("document.getElementById('at-worst').hidden === false")
    assert rectangles(page, "#at-worst")[0] == [0, 0, 0, 0]  # not on the screen
    page.call("Emulation.setEmulatedMedia", media="print")
    assert rectangles(page, "#worst-side")[0][2] > 0
    up = page.value("Page.data.limits.worst")
    told = page.value("document.getElementById('worst-told').textContent")
    assert f"{math.degrees(math.acos(up[2])):.0f}" in told
    assert "34.00 L to 46.00 L" in told
    drawn = page.value("document.querySelector('#worst-side .wall').getAttribute('transform')")
    turned = float(re.match(r"rotate\((-?[\d.]+)\)", drawn)[1])
    assert abs(turned) == pytest.approx(abs(math.degrees(math.atan2(up[0], up[2]))), abs=1e-3)
    rows = page.value("document.querySelectorAll('#worst-ports tr').length")
    assert rows == 3
    page.call("Emulation.setEmulatedMedia", media="")


def test_the_dip_of_a_fill_is_told_where_one_level_tells_it(opened):
    page = opened(plain_box())
    told = "document.getElementById('dip-told').textContent"
    assert "a dip of 155.6 mm from" in page.value(told)  # 42 L over 900 x 300 mm
    page.value("Page.setFill(0.027, 0.054)")
    assert "a dip of 100.0 mm to 200.0 mm from" in page.value(told)
    page.value("Page.data.marks = {least: 0.027001, most: 0.053994}")  # dips 100.004 and 199.978 mm
    for fill, dip in (("0.02701", "100.1 mm"), ("0.053992", "199.9 mm"), ("0.04201", "155.6 mm")):
        page.value(f"Page.setFill({fill})")
        assert f"a dip of {dip} from" in page.value(told)
    page = opened("two bays")
    page.value("Page.setFill(0.01)")
    assert "no single dip" in page.value(told)


def test_the_amount_that_is_drawn_is_told(opened):
    page = opened("demo")
    drawn = "document.getElementById('drawn').textContent"
    assert page.value(drawn) == "Drawn: 34.00 L, the least, as it is worst for middle pickup."
    page.value("Page.bench.pick = 'breather'; Page.refresh()")
    assert page.value(drawn) == "Drawn: 46.00 L, the most, as it is worst for breather."
    page.value("Page.bench.pick = 'one level'; Page.refresh()")
    assert page.value(drawn) == "Drawn: 34.00 L, the least, at one level."


def test_rings_and_the_required_outline_are_named(opened):
    page = opened(plain_box())
    told = page.value("document.getElementById('plan').textContent")
    assert "10° · 17.6 %" in told
    assert "required: up to 8.0° · 14.0 %" in told
    key = page.value("document.querySelector('.key').textContent")
    assert "required: every heading up to 8.0° (14.0 % grade)" in key


@pytest.mark.parametrize("width", [390, 1280])
def test_lines_to_write_on_stand_in_cells_for_that_only(opened, width):
    columns = [*(Column(f"c{k}") for k in range(3)), Column("read", write=True)]
    page = opened(plain_box(), width, 800)
    body = json.dumps(table_html(Table("t", columns, [["a", "b", "", ""]]), [0]))
    page.value(f"document.getElementById('words').insertAdjacentHTML('beforeend', {body})")
    after = "getComputedStyle(document.querySelectorAll('#words .cards td')[{}], '::after').content"
    assert "____" not in page.value(after.format(2))
    assert "____" in page.value(after.format(3))


def test_tables_of_many_columns_are_cards_on_a_phone(opened):
    table = Table(
        "many",
        [Column(f"column {k}", "length") for k in range(7)],
        [[0.1 * k for k in range(7)], [None] * 7],
    )
    page = opened(plain_box(), 390, 800)
    body = json.dumps(table_html(table, range(2)))
    page.value(f"document.getElementById('words').insertAdjacentHTML('beforeend', {body})")
    (frame,) = rectangles(page, "#words .wide")
    cells = rectangles(page, "#words .cards td")
    assert len(cells) == 14
    assert all(frame[0] <= left and right <= frame[2] for left, _, right, _ in cells)
    before = "getComputedStyle(document.querySelector('#words .cards td'), '::before').content"
    assert page.value(before) == '"column 0"'


SENSOR = "document.getElementById('sensor')"


def tilted_phone(page, beta, gamma):
    page.call("DeviceOrientation.setDeviceOrientationOverride", alpha=0, beta=beta, gamma=gamma)


def press(page, node):
    left, top, right, bottom = rectangles(page, node)[0]
    x, y = 0.5 * (left + right), 0.5 * (top + bottom)
    page.mouse("mousePressed", x, y, True)
    page.mouse("mouseReleased", x, y)


@pytest.fixture
def phone(browser, opened):
    """A page on a phone with a coarse pointer; ``allow`` is what its user says when asked."""

    def show(allow=None):
        browser.call("Emulation.setTouchEmulationEnabled", enabled=True)
        if allow is not None:
            browser.before_each(
                "window.asked = 0; DeviceOrientationEvent.requestPermission = "
                f"async () => {{ window.asked++; return '{allow}'; }};"
            )
        page = opened(plain_box(), 390, 800)
        assert page.value(f"{SENSOR}.hidden") is False
        page.value(f"{SENSOR}.scrollIntoView({{ block: 'center' }})")
        return page

    yield show
    browser.forget()


def test_the_phones_own_tilt_sensor_tilts_the_tank(phone):
    page = phone()
    press(page, "#sensor")
    page.wait(f"{SENSOR}.getAttribute('aria-pressed') === 'true'")
    for beta, gamma, said in (
        (12.0, 0.0, "nose up"),
        (-7.0, 0.0, "nose down"),
        (0.0, 9.0, "right side down"),
    ):
        tilted_phone(page, beta, gamma)
        page.wait(f"Words.sides(Page.bench.up) === '{said}' && !Page.bench.stale")
        pitch, roll = page.value("Words.readings(Page.bench.up)")
        assert (pitch, roll) == (pytest.approx(beta, abs=1e-6), pytest.approx(gamma, abs=1e-6))
        assert said in page.value("document.getElementById('here').textContent")
    press(page, "#sensor")
    page.wait(f"{SENSOR}.getAttribute('aria-pressed') === 'false'")
    tilted_phone(page, 30.0, 0.0)
    page.value("new Promise(done => setTimeout(done, 200))")
    assert page.value("Words.readings(Page.bench.up)")[1] == pytest.approx(9.0, abs=1e-6)


def test_the_sensor_asks_where_a_phone_wants_to_be_asked(phone):
    page = phone("granted")
    press(page, "#sensor")
    page.wait(f"{SENSOR}.getAttribute('aria-pressed') === 'true'")
    assert page.value("window.asked") == 1
    tilted_phone(page, 5.0, 0.0)
    page.wait("Words.sides(Page.bench.up) === 'nose up'")


def test_a_sensor_that_is_refused_or_silent_says_so(phone):
    page, told = phone("denied"), "document.getElementById('sensor-told').textContent"
    press(page, "#sensor")
    page.wait(f"{told} === 'The sensor was not allowed.'")
    assert page.value(f"{SENSOR}.getAttribute('aria-pressed')") == "false"
    page = phone("granted")  # allowed, and nothing comes
    press(page, "#sensor")
    page.wait(f"{told}.startsWith('No reading came')")
    assert page.value(f"{SENSOR}.getAttribute('aria-pressed')") == "false"


def luminance(colour):
    """Relative luminance of #rrggbb: Web Content Accessibility Guidelines 2.1, section 1.4.3 (from memory)."""
    parts = [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


@pytest.mark.parametrize("theme", [0, 1])
def test_words_stand_out_by_the_contrast_of_aa_in_light_and_dark(theme):
    text = (files("tanksolve.present") / "page" / "page.css").read_text()
    colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", text.split(":root {")[1 + theme]))
    pairs = [
        (ink, back)
        for ink in ("ink", "soft", "accent", "good", "bad")
        for back in ("paper", "card")
    ]
    pairs += [("warn-ink", "warn"), ("card", "accent"), ("ink", "liquid-soft")]
    for ink, back in pairs:
        one, other = sorted((luminance(colours[ink]), luminance(colours[back])))
        assert (other + 0.05) / (one + 0.05) >= 4.5, (ink, back)
    for mark in ("steel", "focus", "liquid"):  # of what is not words: 3
        one, other = sorted((luminance(colours[mark]), luminance(colours["card"])))
        assert (other + 0.05) / (one + 0.05) >= 3.0, mark


def test_without_the_library_the_sections_are_left(opened, monkeypatch):
    monkeypatch.setattr("tanksolve.present.report_page.three_script", lambda: None)
    page = opened(plain_box())
    assert page.value("document.getElementById('solid').hidden") is True
    assert page.value("document.querySelectorAll('#side .wet').length") == 1


def test_the_page_tells_in_the_units_of_the_user(opened):
    with using(US):
        page = opened(plain_box())
        assert "US gal" in page.value("document.getElementById('fill-told').textContent")
        assert " in" in page.value("document.querySelectorAll('#ports td')[2].textContent")
        style = "document.querySelector('style').textContent"
        assert page.value(f"{style}.includes('size: letter') && !{style}.includes('size: A4')")
