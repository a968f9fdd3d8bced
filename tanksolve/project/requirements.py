"""The notation of ``--require``, of dipsticks and sight glasses: a few words each."""

import dataclasses
import difflib
from collections.abc import Sequence
from functools import reduce
from operator import or_

from tanksolve.errors import PortError, QuantityError, RequirementError, TanksolveError
from tanksolve.model.attitude import Attitude
from tanksolve.model.requirement import Meaning, Requirement
from tanksolve.model.requirement_moving import moving
from tanksolve.model.requirement_presets import PRESETS, preset
from tanksolve.questions.marks.gauge import Gauge
from tanksolve.units import parse, parse_angle, parse_heading, parse_list

__all__ = ["parse_gauge", "parse_requirement", "parse_requirements"]

_SIDES = ("nose_up", "nose_down", "left_down", "right_down")
_ACCELERATIONS = ("brake", "accelerate", "corner")
_FORMS = (
    "15deg (every heading), pitch=20deg,roll=10deg (both ways), nose_up=30deg,nose_down=15deg,"
    "left_down=10deg,right_down=10deg, brake=0.5g,corner=0.8g on level ground, the same on a slope "
    "10deg,brake=0.5g, one attitude slope=20deg,heading=90deg or at_pitch=10deg,at_roll=-5deg, "
    "several joined by ';'\n    or a preset: " + ", ".join(PRESETS)
)


def parse_requirements(texts: Sequence[str], where: str = "--require") -> Requirement:
    """Join all that is required. Raises RequirementError or QuantityError, naming the option."""
    parts = [part for text in texts for part in text.split(";") if part.strip()]
    if not parts:
        raise RequirementError("no attitude is required", where=where, allowed=_FORMS)
    return reduce(or_, (parse_requirement(part, where) for part in parts))


def parse_requirement(text: str, where: str = "--require") -> Requirement:
    """Read one requirement: ``15deg``, ``pitch=20deg,roll=10deg``, a preset, ... .

    Raises RequirementError or QuantityError, naming the option.
    """
    text = text.strip()
    where = f"{where} {text}"
    plain, _, rest = text.partition(",")
    if "," in text and "=" not in text:
        raise _two_angles(text, where)
    if "=" not in text:
        return _plain(text, where)
    if "=" not in plain:
        ground = _plain(plain.strip(), where)
        given = _items(rest, where)
        if not set(given) <= set(_ACCELERATIONS):
            raise RequirementError(
                f"only accelerations can be added to '{plain.strip()}'", where=where, allowed=_FORMS
            )
        try:
            return moving(ground, *_sizes(given, where))
        except RequirementError as error:
            raise error.at(where) from None
    try:
        return _keyed(_items(text, where), where)
    except TanksolveError as error:
        raise error if where in error.where else error.at(where) from None


def _two_angles(text: str, where: str) -> RequirementError:
    """Asks what two figures without names are: readings up to which, one attitude, or two slopes."""
    first, second, *more = (item.strip() for item in text.split(","))
    return RequirementError(
        f"'{text}' does not say what each angle is",
        where=where,
        allowed=_FORMS,
        next_step=f"write {first} for every heading up to it"
        if more
        else f"write pitch={first},roll={second} for all up to these, both ways; "
        f"at_pitch={first},at_roll={second} for that one attitude; {first} for every heading",
    )


def _items(text: str, where: str) -> dict[str, str]:
    """``key=value`` pairs, each key once."""
    given: dict[str, str] = {}
    for item in text.split(","):
        key, _, value = (part.strip() for part in item.partition("="))
        if key in given or not value:
            raise RequirementError(
                f"'{key}' is given twice or not at all", where=where, allowed=_FORMS
            )
        given[key] = value
    return given


def _plain(text: str, where: str) -> Requirement:
    if text in PRESETS:
        return preset(text)
    try:
        angle = parse_angle(text, where)
    except QuantityError as error:
        if text[:1].isdigit() or text[:1] in "+-.":
            raise
        near = difflib.get_close_matches(text, PRESETS, n=1, cutoff=0.4)
        raise RequirementError(
            f"'{text}' is neither a slope nor a preset",
            where=where,
            allowed=_FORMS,
            next_step=f"did you mean '{near[0]}'?" if near else "",
        ) from error
    try:
        return Requirement.every_heading(angle)
    except RequirementError as error:
        raise error.at(where) from None


def _sizes(given: dict[str, str], where: str) -> list[float]:
    """Accelerations [m/s²], nought where not given."""
    return [
        parse(given[key], "acceleration", where) if key in given else 0.0 for key in _ACCELERATIONS
    ]


def _keyed(given: dict[str, str], where: str) -> Requirement:
    pushed = {key: given.pop(key) for key in _ACCELERATIONS if key in given}
    if not given and pushed:
        return Requirement.accelerations(*_sizes(pushed, where))
    return moving(_ground(given, where), *_sizes(pushed, where))


def _ground(given: dict[str, str], where: str) -> Requirement:
    meaning = _meaning(given.pop("as", None), where)
    keys = set(given)
    if keys <= {"pitch", "roll"}:
        pitch, roll = (_angle(given, key, where) for key in ("pitch", "roll"))
        return _with_hint(Requirement.box(pitch, roll, meaning), given)
    if keys <= set(_SIDES):
        up, down, left, right = (_angle(given, key, where) for key in _SIDES)
        return _with_hint(Requirement.sides(up, down, left, right, meaning), given)
    if keys == {"slope"}:
        raise RequirementError(
            f"slope={given['slope']} has no heading",
            where=where,
            allowed=_FORMS,
            next_step=f"write --require {given['slope']} for every heading, or "
            f"--require slope={given['slope']},heading=90deg for that one",
        )
    if keys == {"slope", "heading"}:
        uphill = parse_heading(given["heading"], where)
        return Requirement.single(Attitude.from_slope(_angle(given, "slope", where), uphill))
    if keys <= {"at_pitch", "at_roll"}:
        pitch, roll = (_angle(given, key, where) for key in ("at_pitch", "at_roll"))
        makers = {
            Meaning.INCLINOMETER: Attitude.from_inclinometer,
            Meaning.ROTATIONS: Attitude.from_rotations,
            Meaning.PROJECTED: Attitude.from_projected,
        }
        return Requirement.single(makers[meaning](pitch, roll))
    known = ("pitch", "roll", *_SIDES, *_ACCELERATIONS, "slope", "heading", "at_pitch", "at_roll")
    odd = sorted(keys - set(known))
    near = difflib.get_close_matches(odd[0], known, n=1) if odd else []
    raise RequirementError(
        f"'{odd[0]}' is not known here" if odd else f"{', '.join(sorted(keys))} do not go together",
        where=where,
        allowed=_FORMS,
        next_step=f"did you mean '{near[0]}'?" if near else "",
    )


def _with_hint(found: Requirement, given: dict[str, str]) -> Requirement:
    """Pitch or roll alone told with what asks for every heading: it is easily taken for that."""
    ((patch,), steepest) = found.patches, max(given.values(), key=parse_angle)
    if "alone" not in patch.words:
        return found
    words = f"{patch.words} (every heading: --require {steepest})"
    return Requirement((dataclasses.replace(patch, words=words),), found.source)


def _angle(given: dict[str, str], key: str, where: str) -> float:
    return parse_angle(given[key], where) if key in given else 0.0


def _meaning(text: str | None, where: str) -> Meaning:
    if text is None:
        return Meaning.INCLINOMETER
    if text not in list(Meaning):
        raise RequirementError(
            f"as={text} is not a meaning of pitch and roll",
            where=where,
            allowed=", ".join(Meaning),
        )
    return Meaning(text)


def parse_gauge(name: str, text: str, where: str) -> Gauge:
    """A dipstick or sight glass ``X,Y,Zmm[,lean=10deg][,towards=90deg]``.

    Raises QuantityError or PortError, naming the option.
    """
    items = [item.strip() for item in text.split(",")]
    place = [item for item in items if "=" not in item]
    options = dict(item.split("=", 1) for item in items if "=" in item)
    if items[: len(place)] != place or not set(options) <= {"lean", "towards"}:
        raise PortError(
            f"'{text}' is not a gauge", where=where, allowed="X,Y,Zmm[,lean=10deg][,towards=90deg]"
        )
    x, y, z = parse_list(",".join(place), "length", ",", 3, where)
    lean = parse_angle(options["lean"], where) if "lean" in options else 0.0
    towards = parse_heading(options["towards"], where) if "towards" in options else 0.0
    return Gauge(name, (x, y, z), lean, towards)
