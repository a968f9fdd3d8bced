"""The notation of manoeuvres and cylinders in a few words."""

from collections.abc import Sequence

from tanksolve.errors import AttitudeError, FillError, QuantityError
from tanksolve.model.attitude import Attitude
from tanksolve.pump.budget import Action, Cylinder, Hose
from tanksolve.pump.motion import Manoeuvre, accelerate, brake, corner
from tanksolve.units import parse, parse_angle, parse_heading, parse_list

__all__ = ["parse_area", "parse_attitude", "parse_hose", "parse_manoeuvre", "parse_ram"]

_FORMS = (
    "'brake 0.4g', 'accelerate 2m/s2', 'corner left 8m/s 20m', any of them followed by 'on 15deg'"
    " (pitch, nose up +) or 'on 15deg,5deg' (and roll, right side down +)"
)


def parse_manoeuvre(text: str, where: str = "--do") -> Manoeuvre:
    """A manoeuvre such as ``brake 0.4g`` or ``corner left 8m/s 20m on -10%``.

    Raises AttitudeError or QuantityError, naming the option.
    """
    words, _, slope = (part.strip() for part in text.partition(" on "))
    ground = parse_attitude(slope, where) if slope else None
    kind, *values = words.split()
    if kind in ("brake", "accelerate") and len(values) == 1:
        push = parse(values[0], "acceleration", where)
        found = (brake if kind == "brake" else accelerate)(push, ground)
    elif kind == "corner" and len(values) == 3:
        speed = parse(values[1], "speed", where)
        found = corner(speed, parse(values[2], "length", where), values[0], ground)
    else:
        raise AttitudeError(f"'{text}' is no manoeuvre", where=where, allowed=_FORMS)
    if ground is None:
        return found
    return Manoeuvre.of(f"{found.name} on {slope}", found.acceleration_m_s2, ground)


def parse_attitude(text: str, where: str = "--attitude") -> Attitude:
    """One attitude, in the words of every command.

    ``15deg,-5deg`` are two readings (pitch, nose up +; roll, right side down +), or pitch alone;
    ``slope=9deg,heading=90deg`` a slope and the direction of uphill; ``nose_up=10deg`` (``nose_down``,
    ``left_down``, ``right_down``) a reading with its side; ``pitch=..,roll=..[,as=rotations]`` in full.

    Raises AttitudeError or QuantityError, naming the option.
    """
    if "=" in text:
        return _keyed_attitude(text, where)
    pitch, _, roll = text.partition(",")
    across = parse_angle(roll, where) if roll else 0.0
    return Attitude.from_inclinometer(parse_angle(pitch, where), across)


def _keyed_attitude(text: str, where: str) -> Attitude:
    pairs = [part.partition("=") for part in text.split(",")]
    given = {key.strip(): value.strip() for key, _, value in pairs}
    if len(given) != len(pairs):
        raise AttitudeError(f"'{text}' says one thing twice", where=where, allowed=_ATTITUDES)
    meaning = given.pop("as", "inclinometer")
    keys = set(given)
    if keys == {"slope"}:
        slope = given["slope"]
        raise AttitudeError(
            f"slope={slope} has no heading",
            where=where,
            allowed=_ATTITUDES,
            next_step=f"write {where} slope={slope},heading=0deg for nose up, "
            "heading=90deg for right side down",
        )
    if keys == {"slope", "heading"}:
        uphill = parse_heading(given["heading"], where)
        return Attitude.from_slope(parse_angle(given["slope"], where), uphill)
    sides = {"nose_up": 1.0, "nose_down": -1.0, "right_down": 1.0, "left_down": -1.0}
    along, across = (
        keys & {"pitch", "nose_up", "nose_down"},
        keys
        & {
            "roll",
            "right_down",
            "left_down",
        },
    )
    if not keys or keys - along - across or len(along) > 1 or len(across) > 1:
        raise AttitudeError(
            f"'{text}' is no attitude: {', '.join(sorted(keys)) or 'nothing'} cannot be joined",
            where=where,
            allowed=_ATTITUDES,
        )
    pitch, roll = (
        sum(sides.get(key, 1.0) * parse_angle(given[key], where) for key in one)
        for one in (along, across)
    )
    makers = {
        "inclinometer": Attitude.from_inclinometer,
        "rotations": Attitude.from_rotations,
        "projected": Attitude.from_projected,
    }
    if meaning not in makers:
        raise AttitudeError(
            f"as={meaning} is not a meaning of pitch and roll",
            where=where,
            allowed=", ".join(makers),
        )
    return makers[meaning](pitch, roll)


_ATTITUDES = (
    "15deg,-5deg (pitch, roll), slope=9deg,heading=90deg, nose_up=10deg (nose_down, left_down, "
    "right_down), pitch=10deg,roll=5deg,as=rotations"
)


def parse_ram(text: str, where: str = "--ram") -> Cylinder:
    """A hydraulic cylinder ``80,40,500mm``: bore, rod, stroke; ``x2`` for two, ``single`` acting.

    Raises FillError or QuantityError, naming the option.
    """
    parts = [part.strip() for part in text.split(",")]
    action = Action.SINGLE if "single" in parts else Action.DOUBLE
    counts = [part for part in parts if part.startswith("x") and part[1:].isdigit()]
    sizes = [part for part in parts if part not in (*counts, "single")]
    if len(sizes) != 3 or len(counts) > 1:
        raise FillError(
            f"'{text}' is no cylinder",
            where=where,
            allowed="bore, rod, stroke: 80,40,500mm, then x2 for two, single for single acting",
        )
    bore, rod, stroke = parse_list(",".join(sizes), "length", ",", 3, where)
    return Cylinder(bore, rod, stroke, int(counts[0][1:]) if counts else 1, action)


def parse_area(text: str, where: str = "--strainer-area") -> float:
    """An area [m²]. Raises QuantityError, also for one that is not positive."""
    area = parse(text, "area", where)
    if not area > 0.0:
        raise QuantityError(f"an area of '{text}' is not positive", where=where)
    return area


def parse_hose(texts: Sequence[str], where: str = "--hose") -> tuple[Hose, ...]:
    """Hoses ``25mm,2m``: bore and length. Raises FillError or QuantityError, naming the option."""
    return tuple(Hose(*parse_list(text, "length", ",", 2, where)) for text in texts)
