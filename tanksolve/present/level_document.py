"""Where the liquid stands at one attitude, and how far each port is from its rule, as a document."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import Rule
from tanksolve.present.document import (
    Cell,
    Column,
    Document,
    Fact,
    Quantity,
    Said,
    Table,
    Verdict,
    Words,
    say,
    slope,
)
from tanksolve.present.flow_facts import FLOW_CAUTION
from tanksolve.present.running_facts import running_facts, running_tables
from tanksolve.present.understood import TANK_CAUTIONS, Inputs, wall_cautions
from tanksolve.pump.level_answer import LevelAnswer
from tanksolve.questions.level.air import Air
from tanksolve.questions.level.any_route import AnyRoute
from tanksolve.questions.level.pools import PoolsAt, PortInPool
from tanksolve.record import as_plain
from tanksolve.state.route import CLOSE
from tanksolve.units import volume_words

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["level_document"]

_SAME = 1e-6  # m
_OF_ONE_LEVEL = ("level_height_m", "depth_m", "surface_centroid_m", "surface_second_moment_m4")
_LINK = {
    "open": "open, one level on both sides",
    "shut": "shut, held by the higher level behind it",
    "not reached": "nothing stands above its sill before it",
    "full beyond": "what it leads to is full",
}


def level_document(inputs: Inputs, found: LevelAnswer, cautions: Sequence[Words] = ()) -> Document:
    """Where the liquid stands, which port is as it should be, and what the air does."""
    first = (FLOW_CAUTION,) if found.running is not None else ()
    return Document(
        "level",
        "Where does the liquid stand at this attitude?",
        Verdict.TOLD,
        _sentence(found),
        facts=tuple(_facts(found)),
        tables=tuple(_tables(found)),
        cautions=(
            *inputs.cautions(),
            *first,
            *cautions,
            *wall_cautions(inputs.tank),
            *TANK_CAUTIONS,
        ),
        understood=inputs.facts(),
        figures=_figures(inputs, found),
        data=_keys(found),
    )


def _judged(found: LevelAnswer) -> list[PortInPool]:
    """Each port with a rule at the end of the fill range that is worst for it."""
    dry = {port.name: port for port in found.dry_at_most or ()}
    ports = [dry.get(port.name, port) for port in found.settled.ports]
    return [port for port in ports if port.rule != str(Rule.NONE)]


def _sentence(found: LevelAnswer) -> Said:
    at = slope(found.attitude.slope)
    way = "At {at}, {pitch}, {roll}: "
    told: dict[str, Quantity | str] = {"at": at, **_axes(found.attitude)}
    if found.any_route is not None:
        return _any_route_said(way, told, found.any_route)
    ports = _judged(found)
    if not ports:
        told["depth"] = Quantity(found.level.depth_m, "length")
        return say(way + "the liquid stands {depth} over the lowest point along up", **told)
    broken = [port for port in ports if not port.holds]
    if found.any_pickup_holds:
        broken = [port for port in broken if port.rule != str(Rule.WET)]
    worst = min(broken or ports, key=lambda port: port.margin_m)
    told |= {"port": worst.name, "margin": Quantity(abs(worst.margin_m), "length", "down")}
    if not broken:
        return say(way + "every port keeps its rule, {port} by the least: {margin}", **told)
    told["margin"] = Quantity(abs(worst.margin_m), "length", "up")
    told["state"] = _state(worst).removesuffix(": rule broken")
    more = f"; {len(broken) - 1} more are broken" if len(broken) > 1 else ""
    return say(way + "{port} breaks its rule by {margin} ({state})" + more, **told)


def _any_route_said(way: str, told: dict[str, Quantity | str], found: AnyRoute) -> Said:
    margin = Quantity(abs(found.margin_m), "length", "down" if found.holds else "up")
    told |= {"port": found.port, "margin": margin}
    if found.holds:
        words = "every port keeps its rule whatever the machine did before, {port} by the least: {margin}"
        return say(way + words, **told)
    more = sum(not port.holds for port in found.ports if port.name != found.port)
    others = f"; {more} more may be broken" if more else ""
    return say(way + "some route leaves {port} short of its rule by {margin}" + others, **told)


def _axes(attitude: Attitude) -> dict[str, Quantity | str]:
    """Pitch and roll as two inclinometers read them, with their sides."""
    pitch, roll = (math.degrees(angle) for angle in attitude.inclinometer)
    return {
        "pitch": f"{abs(pitch):.1f}° nose {'up' if pitch >= 0.0 else 'down'}",
        "roll": f"{abs(roll):.1f}° {'right' if roll >= 0.0 else 'left'} side down",
    }


def _facts(found: LevelAnswer) -> Iterator[Fact]:
    result, settled = found.level, found.settled
    told = {
        "volume": Quantity(result.volume_m3, "volume"),
        "air": Quantity(result.ullage_m3, "volume"),
        "depth": Quantity(result.depth_m, "length"),
    }
    depth = "" if found.parted else ", {depth} over the lowest point along up"
    yield Fact(
        "liquid",
        say("{volume}" + depth + "; {air} of air above", **told),
    )
    if found.fill.least != found.fill.most and not found.most:
        yield Fact(
            "liquid", "this is for the least of the fill; what must stay dry is judged at the most"
        )
    yield Fact("surface", Quantity(found.surface_area_m2, "area"), brief=False)
    x, y, z = (Quantity(c, "length") for c in found.centroid_m)
    yield Fact(
        "centroid",
        say("{x} forward, {y} left, {z} up from the tank frame's origin", x=x, y=y, z=z),
        brief=False,
    )
    if result.liquid_mass_kg is not None:
        yield Fact("mass", Quantity(result.liquid_mass_kg, "mass"))
    yield Fact(
        "attitude",
        "pitch and roll as an inclinometer reads them: each axis against the horizontal",
        brief=False,
    )
    if settled.trapped_m3 and len(settled.pools) > 1:
        trapped = Quantity(settled.trapped_m3, "volume", "up")
        yield Fact("trapped", say("{much} out of reach of the pickups", much=trapped))
    for link in settled.links:
        yield Fact(link.kind, _link_said(link.name, link.state, link.sill_height_m))
    if found.any_pickup_holds is not None:
        wet = [port for port in settled.ports if port.rule == str(Rule.WET) and port.holds]
        names = ", ".join(port.name for port in wet)
        yield Fact(
            "one pickup is enough",
            f"kept, by {names}" if names else "broken: every pickup's rule is broken",
        )
    if any(port.rule == str(Rule.NONE) for port in settled.ports):
        yield Fact(
            "margin",
            f"of a port that {Rule.NONE}: the liquid over its highest point; minus, it is above",
        )
    yield from _route_facts(settled)
    yield from running_facts(found.running)
    for air in (found.air, found.air_at_most):
        fill = found.fill.most if air is found.air_at_most else result.volume_m3
        at = f" (at {volume_words(fill)})" if found.air_at_most is not None else ""
        yield from (Fact("WARNING", warning + at) for warning in (air.warnings if air else ()))


def _link_said(name: str, state: str, sill: float) -> Said:
    return say(
        "{name}: {state}; sill at {sill} along up",
        name=name,
        state=_LINK[state],
        sill=Quantity(sill, "length"),
    )


def _tables(found: LevelAnswer) -> Iterator[Table]:
    settled = found.settled
    along = ""
    if found.any_route is not None:
        yield _any_route_table(found.any_route)
        along = f"carried along this route ({settled.filled}; {settled.path}):"
    if settled.ports:
        yield _port_table(settled.ports, along)
    if found.dry_at_most:
        yield _port_table(found.dry_at_most, f"at the most, {volume_words(found.fill.most)}:")
    if len(settled.pools) > 1:
        yield _pool_table(settled)
    yield from running_tables(found.running)
    for air in (found.air, found.air_at_most):
        if air and (len(air.pockets) > 1 or any(one.vented is False for one in air.pockets)):
            yield _air_table(air)


def _route_facts(settled: PoolsAt) -> Iterator[Fact]:
    """What is left open of the liquid carried along a route."""
    if settled.level_crest:
        yield Fact(
            "level crest",
            "a hair's turn sends liquid the other way over a crest; told is the side that is worse for the ports",
        )
    if settled.close_to_m > CLOSE:
        yield Fact(
            "route",
            say(
                "levels at its end moved by {moved} when its steps were halved last: not known more closely",
                moved=Quantity(settled.close_to_m, "length", "up"),
            ),
        )


def _any_route_table(found: AnyRoute) -> Table:
    columns = (Column("port"), Column("rule"), Column("margin", "length", "down"), Column("state"))
    rows: list[tuple[Cell, ...]] = [
        (port.name, port.rule, port.margin_m, "kept" if port.holds else "may be broken")
        for port in found.ports
    ]
    return Table("whatever the machine did before:", columns, rows)


def _port_table(ports: Sequence[PortInPool], title: str) -> Table:
    columns = (Column("port"), Column("rule"), Column("margin", "length", "down"), Column("state"))
    rows = [(port.name, port.rule, port.margin_m, _state(port)) for port in ports]
    return Table(title, columns, rows)


def _state(port: PortInPool) -> str:
    if port.rule == str(Rule.DRY):
        state = "flooded" if port.wet else "dry"
    else:
        state = "covered" if port.covered else "partly covered" if port.wet else "uncovered"
    return state if port.holds else f"{state}: rule broken"


def _pool_table(settled: PoolsAt) -> Table:
    heights = [pool.level_height_m for pool in settled.pools]
    one = "not at one level" if max(heights) - min(heights) > _SAME else "all at one level"
    rows: list[tuple[Cell, ...]] = [
        (
            str(number),
            pool.volume_m3,
            pool.surface_area_m2,
            pool.level_height_m,
            ", ".join(pool.ports) or "none",
        )
        for number, pool in enumerate(settled.pools, start=1)
    ]
    return Table(
        f"the liquid stands in {len(settled.pools)} pools, {one} ({settled.filled}; {settled.path})",
        (
            Column("pool"),
            Column("holds", "volume"),
            Column("surface", "area"),
            Column("level along up", "length"),
            Column("ports"),
        ),
        rows,
    )


def _air_table(air: Air) -> Table:
    rows: list[tuple[Cell, ...]] = [
        (
            str(number),
            pocket.volume_m3,
            "not known" if pocket.vented is None else ", ".join(pocket.breathers) or "nothing",
            *pocket.top_point_m,
        )
        for number, pocket in enumerate(air.pockets, start=1)
    ]
    places = (Column(f"top {way}", "length") for way in ("forward", "left", "up"))
    return Table(
        "bodies of air; the levels take all of them as open to the atmosphere",
        (Column("air body"), Column("holds", "volume"), Column("vents through"), *places),
        rows,
    )


def _keys(found: LevelAnswer) -> dict[str, Any]:
    """The JSON's own keys: the level, the pools with the ports judged by them, and the air."""
    plain: dict[str, Any] = as_plain(found.level)
    pools = as_plain(found.settled)
    for name in (
        "pools",
        "ports",
        "links",
        "trapped_m3",
        "path",
        "filled",
        "level_crest",
        "close_to_m",
    ):
        plain[name] = pools[name]
    plain |= _air_keys(found.air)
    plain["surface_area_m2"], plain["liquid_centroid_m"] = found.surface_area_m2, found.centroid_m
    if found.parted:
        plain |= dict.fromkeys(_OF_ONE_LEVEL)
    plain["any_route"] = as_plain(found.any_route)
    plain["running"] = as_plain(found.running)
    plain["ports_at_most"] = as_plain(found.dry_at_most or ())
    if found.air_at_most is not None:
        plain["volume_at_most_m3"] = found.fill.most
        plain |= {f"{key}_at_most": value for key, value in _air_keys(found.air_at_most).items()}
    plain["any_pickup_holds"] = found.any_pickup_holds
    plain["basins"] = [] if found.tank.is_convex else _basins(found)
    return plain


def _basins(found: LevelAnswer) -> list[dict[str, Any]]:
    """How the tank parts liquid at this attitude; heights over the lowest point along up."""
    from tanksolve.questions.level.pool_shapes import merge_record

    basins = merge_record(found.tank, found.settled).basins
    base = min(basin.from_height_m for basin in basins)
    return [
        {
            "from_m": basin.from_height_m - base,
            "to_m": basin.to_height_m - base,
            "holds_m3": basin.holds_m3,
            "joins": basin.joins,
            "pools": list(basin.pools),
            "lowest_from_rear_right_m": [rear, right],
            "lowest_above_floor_m": max(above, 0.0),
            "lowest_below_floor_m": max(-above, 0.0),
        }
        for basin in basins
        for rear, right, above in [found.tank.from_walls(basin.pit_m)]
    ]


def _air_keys(air: Air) -> dict[str, Any]:
    return {
        "air": as_plain(air.pockets),
        "breathers_under_liquid": list(air.breathers_under_liquid),
        "air_warnings": list(air.warnings),
    }


def _figures(inputs: Inputs, found: LevelAnswer) -> "Mapping[str, Callable[[], Figure]]":
    def note() -> str:
        said = [inputs.first_note] if inputs.first_note else []
        if found.fill.least != found.fill.most:
            end, other = ("most", "least") if found.most else ("least", "most")
            shown = volume_words(found.level.volume_m3)
            how = "leave out --most" if found.most else "add --most"
            said.append(f"the {end} fill is drawn, {shown}; for the {other} {how}")
        return "; ".join(said)

    def cut(seen_from: Literal["right", "front"]) -> "Figure":
        from tanksolve.present.section_view import section_figure

        return section_figure(
            *(found.tank, found.level, found.ports),
            settled=found.settled,
            seen_from=seen_from,
            note=note(),
        )

    def solid() -> "Figure":
        from tanksolve.present.solid_view import solid_figure

        return solid_figure(found.tank, found.settled, found.ports, note=note())

    def tree() -> "Figure":
        from tanksolve.present.tree_view import tree_figure

        return tree_figure(found.tank, found.settled, note=note())

    return {
        "side": lambda: cut("right"),
        "front": lambda: cut("front"),
        "solid": solid,
        "tree": tree,
    }
