"""The notation of limits on where a port may be: a box, a tube's reach, a spot; and of a sump."""

from tanksolve.errors import PortError, TankError
from tanksolve.geometry.sumps import Sump, round_sump
from tanksolve.questions.place.drop_tube import TubeLimits
from tanksolve.units import parse_length, parse_list, split_quantity

__all__ = ["parse_spot", "parse_sump", "parse_tube", "parse_within"]

Point = tuple[float, float, float]
_WITHIN = "X0..X1,Y0..Y1,Z0..Z1mm, from rear wall, right wall and floor"
_TUBE = "WALL,height=200mm,run=300mm,drop=150mm with rear, front, right or left; top,drop=250mm"


def parse_within(text: str, where: str = "--within") -> tuple[Point, Point]:
    """Lower and upper corner [m] of ``X0..X1,Y0..Y1,Z0..Z1mm``. Raises PortError, QuantityError."""
    ranges = [item.split("..") for item in text.split(",")]
    if len(ranges) != 3 or any(len(ends) != 2 for ends in ranges):
        raise PortError(f"'{text}' is not a box", where=where, allowed=_WITHIN)
    unit = split_quantity(ranges[-1][-1], where, "length")[1]
    read = [
        tuple(parse_length(e if split_quantity(e, where)[1] else f"{e}{unit}", where) for e in ends)
        for ends in ranges
    ]
    (x0, x1), (y0, y1), (z0, z1) = read
    if not (x0 < x1 and y0 < y1 and z0 < z1):
        raise PortError(f"'{text}' ends before it begins", where=where, allowed=_WITHIN)
    return (x0, y0, z0), (x1, y1, z1)


def parse_tube(text: str, where: str = "--tube") -> TubeLimits:
    """A tube's reach ``rear,height=200mm,run=300mm,drop=150mm``. Raises PortError, QuantityError."""
    wall, *items = (item.strip() for item in text.split(","))
    given = dict(item.split("=", 1) for item in items if "=" in item)
    if len(given) != len(items) or not set(given) <= {"height", "run", "drop"}:
        raise PortError(f"'{text}' is not a tube's reach", where=where, allowed=_TUBE)
    if wall != "top" and "height" not in given:
        raise PortError(f"'{text}' does not say how high the hole is", where=where, allowed=_TUBE)
    lengths = {key: parse_length(value, f"{where}, {key}") for key, value in given.items()}
    try:
        return TubeLimits(wall, **lengths)  # type: ignore[arg-type]
    except PortError as error:
        raise error.at(where) from None


def parse_spot(text: str, where: str = "--at") -> tuple[float, float]:
    """A spot ``X,Ymm`` from rear and right wall [m]. Raises QuantityError."""
    x, y = parse_list(text, "length", ",", 2, where)
    return x, y


def parse_sump(text: str, where: str = "--sump") -> Sump:
    """A round sump ``X,Ymm,diameter=150mm,depth=60mm``. Raises TankError, QuantityError."""
    items = [item.strip() for item in text.split(",")]
    given = dict(item.split("=", 1) for item in items if "=" in item)
    place = [item for item in items if "=" not in item]
    twice = len(given) + len(place) != len(items)
    if set(given) != {"diameter", "depth"} or items[: len(place)] != place or twice:
        raise TankError(
            f"'{text}' is not a sump", where=where, allowed="X,Ymm,diameter=150mm,depth=60mm"
        )
    x, y = parse_list(",".join(place), "length", ",", 2, where)
    sizes = (parse_length(given[key], f"{where}, {key}") for key in ("diameter", "depth"))
    return round_sump("sump", (x, y), *sizes)
