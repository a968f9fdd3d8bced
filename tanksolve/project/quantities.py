"""Values of the tank file with their units, read to SI while pydantic validates."""

import re
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, WithJsonSchema
from pydantic_core import PydanticCustomError

from tanksolve.errors import QuantityError, TanksolveError
from tanksolve.project import patterns
from tanksolve.project.inline import parse_facing
from tanksolve.unit_systems import stated
from tanksolve.units import parse, parse_angle, parse_length, parse_list

__all__ = [
    "Angle",
    "Density",
    "Facing",
    "Flow",
    "Length",
    "PlacePair",
    "PlaceTriple",
    "Places",
    "Points",
    "Strict",
]

_FARTHEST = 1000.0  # m


class Strict(BaseModel):
    """A table of the tank file in which an unknown key is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def _reading(read: Callable[[str], object], *examples: str) -> BeforeValidator:
    """Read a text with ``read``; what it refuses, pydantic reports at the key.

    examples : as the text may be written; the unit of the first is offered for a bare number.
    """
    unit = re.sub(r"^[\d., ;]+", "", examples[0])
    single = examples[0].removesuffix(unit).strip().replace(".", "").isdigit()

    def validate(value: Any) -> object:
        if not isinstance(value, str):
            number = isinstance(value, int | float) and not isinstance(value, bool)
            advice = (
                f'write it in quotes with its unit: "{value} {unit}", if that is what is meant'
                if number and unit and single
                else f'write a text, as in "{examples[0]}"'
            )
            raise PydanticCustomError(
                "tanksolve",
                "{what}",
                {
                    "what": f"{value!r} is not a text with a unit",
                    "allowed": f"a quoted text, as in {', '.join(examples)}",
                    "next": advice,
                },
            )
        try:
            return read(value)
        except TanksolveError as error:
            context = {"what": error.what, "allowed": error.allowed, "next": error.next_step}
            raise PydanticCustomError("tanksolve", "{what}", context) from None

    return BeforeValidator(validate)


def _within_reach(lengths: tuple[float, ...], text: str) -> None:
    """Refuse what no tank has: it would only overflow further on."""
    if max((abs(length) for length in lengths), default=0.0) > _FARTHEST:
        raise QuantityError(
            f"'{text}' is too far for a tank", allowed=f"up to {stated(_FARTHEST, 'distance')}"
        )


def _read_length(text: str) -> float:
    length = parse_length(text)
    _within_reach((length,), text)
    return length


def _reading_places(count: int, *examples: str) -> BeforeValidator:
    def read(text: str) -> tuple[float, ...]:
        lengths = parse_list(text, "length", ",", count)
        _within_reach(lengths, text)
        return lengths

    return _reading(read, *examples)


def _text(description: str, pattern: str, *examples: str) -> WithJsonSchema:
    told = {"type": "string", "description": description, "examples": list(examples)}
    return WithJsonSchema({**told, "pattern": pattern})


def _said(
    read: Callable[[str], object], pattern: str, description: str, *examples: str
) -> tuple[BeforeValidator, WithJsonSchema]:
    """How a text is read and how the schema describes it, with the same examples."""
    return _reading(read, *examples), _text(description, pattern, *examples)


def _placed(count: int, description: str, *examples: str) -> tuple[BeforeValidator, WithJsonSchema]:
    """The same for so many lengths."""
    return _reading_places(count, *examples), _text(description, patterns.places(count), *examples)


def _read_places(text: str) -> tuple[tuple[float, ...], ...]:
    """``"0,0,50; 0,400,50 mm"`` as places; the last unit holds for all."""
    items = [item.strip() for item in text.strip().rstrip(";").split(";")]
    flat = parse_list(",".join(items), "length", ",", 3 * len(items))
    _within_reach(flat, text)
    return tuple(zip(flat[::3], flat[1::3], flat[2::3], strict=True))


def _read_points(text: str) -> tuple[tuple[float, ...], ...]:
    """``"0,0; 300,0; 300,200 mm"`` as points; the last unit holds for all."""
    items = [item.strip() for item in text.strip().rstrip(";").split(";")]
    flat = parse_list(",".join(items), "length", ",", 2 * len(items))
    _within_reach(flat, text)
    return tuple(zip(flat[::2], flat[1::2], strict=True))


Length = Annotated[
    float, *_said(_read_length, patterns.LENGTH, "a length with its unit", "300 mm", "11.8 in")
]
Angle = Annotated[
    float,
    *_said(
        parse_angle,
        patterns.ANGLE,
        "an angle: degrees, grade percent or a ratio",
        "15 deg",
        "26.8 %",
        "1:4",
    ),
]
Density = Annotated[
    float,
    *_said(
        lambda text: parse(text, "density"),
        patterns.DENSITY,
        "a density with its unit",
        "870 kg/m3",
    ),
]
Flow = Annotated[
    float,
    *_said(lambda text: parse(text, "flow"), patterns.FLOW, "a flow with its unit", "60 L/min"),
]
PlacePair = Annotated[
    tuple[float, float],
    *_placed(2, "two lengths that share the last unit", "300, 150 mm"),
]
PlaceTriple = Annotated[
    tuple[float, float, float],
    *_placed(3, "three lengths that share the last unit: forward, left, up", "20, 150, 100 mm"),
]
Points = Annotated[
    tuple[tuple[float, float], ...],
    *_said(
        _read_points,
        patterns.POINTS,
        "corners in order, separated by ';', sharing the last unit",
        "0,0; 300,0; 300,200; 0,200 mm",
    ),
]
Places = Annotated[
    tuple[tuple[float, float, float], ...],
    *_said(
        _read_places,
        patterns.PLACES,
        "places in order, separated by ';', sharing the last unit: forward, left, up",
        "450, 300, 50; 450, 700, 50 mm",
    ),
]
Facing = Annotated[
    tuple[float, float, float],
    *_said(
        parse_facing,
        patterns.FACING,
        "forward, rearward, left, right, up, down, or two joined",
        "down",
        "rearward+down",
    ),
]
