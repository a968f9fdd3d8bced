"""The notation of the command line: a tank, its ports and its fill in a few words, no file needed."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tanksolve.errors import FillError, PortError, QuantityError, TankError
from tanksolve.geometry.parts import box, cylinder
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import FACINGS, Port, PortKind, Rule
from tanksolve.model.tank import Tank
from tanksolve.project.bounds import check_name
from tanksolve.units import (
    length_words,
    parse,
    parse_length,
    parse_list,
    parse_sizes,
    parse_volume,
    split_quantity,
    volume_words,
)

__all__ = [
    "RULES",
    "ReadFill",
    "fill_words",
    "parse_facing",
    "parse_fill",
    "parse_port",
    "parse_tank",
    "volume_at_depth",
]

RULES = {"wet": Rule.WET, "dry": Rule.DRY, "none": Rule.NONE}
_PORT_OPTIONS = ("bore", "facing", "cover", "length", "rule", "flow")
_PORT_FORM = "NAME=X,Y,Zmm[,bore=38mm][,facing=down][,cover=50mm][,length=80mm][,rule=wet|dry|none][,flow=60L/min]"


@dataclass(frozen=True)
class ReadFill:
    """A fill as it was written: the volumes, the unit to answer in, and what was understood."""

    fill: Fill
    unit: str
    words: str


def parse_tank(
    *,
    box_text: str | None = None,
    cylinder_text: str | None = None,
    lies: str = "along",
    outside: bool = False,
    wall: str | None = None,
) -> Tank:
    """A box ``900x300x300mm`` or a cylinder ``450x1200mm`` (diameter x length) from its option.

    ``outside`` takes the sizes over the plates, each ``wall`` (such as ``3mm``) thick.
    Raises TankError or QuantityError, naming the option.
    """
    if (box_text is None) == (cylinder_text is None):
        raise TankError(
            "give one tank: either --box or --cylinder, not both", allowed="--box 900x300x300mm"
        )
    thickness = 0.0 if wall is None else parse_length(wall, "--wall")
    if box_text is not None:
        where = "--box"
        length, width, height = parse_sizes(box_text, 3, where)
    else:
        where = "--cylinder"
        diameter, length = parse_sizes(cylinder_text or "", 2, where)
    try:
        if box_text is not None:
            return box(length, width, height, outside=outside, wall=thickness)
        return cylinder(diameter, length, lies, outside=outside, wall=thickness)
    except TankError as error:
        raise error.at(where) from None


def parse_port(kind: PortKind | str, text: str, where: str = "") -> Port:
    """A port ``NAME=X,Y,Zmm[,bore=38mm][,facing=down][,cover=50mm][,length=..][,rule=wet|dry|none]``.

    Raises PortError or QuantityError, naming the option (``where``).
    """
    kind = PortKind(kind)
    where = where or f"--{kind.value.replace(' ', '-')}"
    name, equals, rest = text.partition("=")
    if not equals or not name.strip():
        raise PortError(
            f"'{text}' does not name the port",
            where=where,
            allowed=_PORT_FORM,
            next_step=f"write '{kind.value.replace(' ', '_')}={rest if equals else text}', or another name",
        )
    check_name(name.strip(), where)
    where = f"{where} {name.strip()}"
    items = [item.strip() for item in rest.split(",")]
    place = [item for item in items if "=" not in item]
    if items[: len(place)] != place:
        raise PortError(f"'{text}' mixes positions and options", where=where, allowed=_PORT_FORM)
    x, y, z = parse_list(",".join(place), "length", ",", 3, where)
    options: dict[str, str] = {}
    for item in items[len(place) :]:
        key, _, value = (part.strip() for part in item.partition("="))
        if key not in _PORT_OPTIONS or key in options:
            near = difflib.get_close_matches(key, _PORT_OPTIONS, n=1)
            problem = (
                f"'{key}' is given twice"
                if key in options
                else f"'{key}' is not an option of a port"
            )
            raise PortError(
                problem,
                where=where,
                allowed=", ".join(_PORT_OPTIONS),
                next_step=f"did you mean '{near[0]}'?" if near and key not in options else "",
            )
        options[key] = value
    return _port(kind, name.strip(), (x, y, z), options, where)


def _port(
    kind: PortKind,
    name: str,
    position: tuple[float, float, float],
    options: dict[str, str],
    where: str,
) -> Port:
    def length_of(key: str) -> float | None:
        return parse_length(options[key], f"{where}, {key}") if key in options else None

    rule = options.get("rule")
    if rule is not None and rule not in RULES:
        raise PortError(f"rule '{rule}' is not known", where=where, allowed=", ".join(RULES))
    try:
        return Port(
            name,
            kind,
            position,
            bore=length_of("bore"),
            facing=parse_facing(options["facing"], where) if "facing" in options else None,
            length=length_of("length") or 0.0,
            rule=RULES[rule] if rule is not None else None,
            cover=length_of("cover"),
            flow=parse(options["flow"], "flow", f"{where}, flow") if "flow" in options else None,
        )
    except PortError as error:
        raise error if error.where.startswith(where) else error.at(where) from None


def parse_facing(text: str, where: str = "") -> tuple[float, float, float]:
    """A direction out of an opening: a word (``down``), two or three joined (``rearward+down``).

    Joined words point half-way between them. Raises PortError.
    """
    words = [word.strip() for word in text.split("+")]
    unknown = [word for word in words if word not in FACINGS]
    direction = np.sum([FACINGS.get(word, (0.0, 0.0, 0.0)) for word in words], axis=0)
    if unknown or not np.any(direction):
        raise PortError(
            f"facing '{text}' is not a direction",
            where=where,
            allowed=f"{', '.join(FACINGS)}, or two joined as in rearward+down",
            next_step=_facing_hint(words),
        )
    x, y, z = (float(c) for c in direction / np.linalg.norm(direction))
    return x, y, z


_AFT = {
    "back": "rearward",
    "backward": "rearward",
    "aft": "rearward",
    "bottom": "down",
    "top": "up",
}


def _facing_hint(words: Sequence[str]) -> str:
    """What may have been meant by words that are no directions."""
    near = [
        _AFT.get(word)
        or next((known for known in FACINGS if word.startswith(known)), "")  # downward, upwards
        or next(iter(difflib.get_close_matches(word, FACINGS, n=1)), "")
        for word in (word.lower() for word in words)
    ]
    if all(near):
        return f"write '{'+'.join(near)}' if that is what is meant"
    return "write which way the opening's mouth looks, as in 'down'"


def parse_fill(
    text: str,
    tank: Tank,
    up: Sequence[float] = (0.0, 0.0, 1.0),
    where: str = "--fill",
    ports: Sequence[Port] = (),
) -> ReadFill:
    """A fill: a volume ``42L``, a range ``30L..42L``, or a depth ``120mm`` (or a range of depths).

    Parameters
    ----------
    text : as written by the user; in a range the first unit may be left out.
    tank : what the liquid stands in.
    up : the up vector (3,) while the depth is read: the machine standing level.

    ports : where the stick may be that reads a depth, if walls part the liquid (``deepest``).

    A depth is measured standing level, from the lowest point of the liquid. Where bays do not join below
    it, the fill is all from what the bay of the stick holds to that with all others brim-full.
    Raises QuantityError for units, FillError for a fill that the tank cannot hold.
    """
    ends = [end.strip() for end in text.split("..")]
    if len(ends) > 2 or not all(ends):
        raise FillError(
            f"'{text}' is not a fill",
            where=where,
            allowed="42L, 30L..42L, or a depth such as 120mm",
        )
    _, unit = split_quantity(ends[-1], where, "volume")
    read = [end if split_quantity(end, where, "volume")[1] else f"{end}{unit}" for end in ends]
    try:
        amounts = [parse_volume(end, where) for end in read]
        depths = None
    except QuantityError as error:
        depths = _depths(read, error, where)
        held = [volume_at_depth(tank, depth, up, where, ports) for depth in depths]
        amounts = [held[0][0], held[-1][1]]
        unit = "L"
    try:
        fill = Fill(amounts[0], amounts[-1])
        fill.check(tank.capacity)
    except FillError as error:
        raise error.at(where) from None
    return ReadFill(fill, unit, fill_words(fill, depths))


def _depths(read: list[str], error: QuantityError, where: str) -> list[float]:
    """The same texts as depths; where they are no lengths either, the error about volumes."""
    try:
        return [parse_length(end, where) for end in read]
    except QuantityError:
        sure = "is a unit of" in error.next_step or "has no unit" in error.what
        raise type(error)(
            error.what,
            where=error.where,
            allowed="a volume (42L, 11gal, 9imperial_gallon, 0.042m3), a range 30L..42L, or a depth (120mm, 5in)",
            next_step=error.next_step.replace("give a volume", "give a volume or a depth")
            if sure
            else "give a volume or a depth with its unit",
        ) from None


def volume_at_depth(
    tank: Tank,
    depth: float,
    up: Sequence[float] = (0.0, 0.0, 1.0),
    where: str = "",
    ports: Sequence[Port] = (),
) -> tuple[float, float]:
    """Least and most liquid [m³] that stands ``depth`` [m] deep over its lowest point: see :func:`parse_fill`.

    Raises FillError for a depth that is not in the tank.
    """
    from tanksolve.questions.marks.gauge import deepest
    from tanksolve.state.stick import held_at

    low, high = (float(end[0]) for end in tank.height_range(up))
    if not 0.0 < depth <= (high - low) * (1.0 + 1e-12):
        raise FillError(
            f"a depth of {length_words(depth)} is not in the tank",
            where=where,
            allowed=f"more than 0, up to {length_words(high - low)}",
        )
    least, most = held_at(tank, deepest(tank, ports, up)[1], low + depth, up)
    return float(least[0]), float(most[0])


def fill_words(fill: Fill, depths: list[float] | None = None) -> str:
    """Say a fill back in the units in force, and the depths that it was given as, if any [m]."""
    ends = [fill.least] if fill.least == fill.most else [fill.least, fill.most]
    volume = " to ".join(volume_words(end) for end in ends)
    if depths is None:
        return f"fill {volume}"
    deep = " to ".join(length_words(depth) for depth in depths)
    one_bay = ", from its bay alone to all others brim-full" if len(ends) > len(set(depths)) else ""
    return (
        f"fill {deep} deep standing level, from the lowest point of the liquid: {volume}{one_bay}"
    )
