"""The study file, version 1: which tank, what varies, what is computed and what is wanted."""

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationError, WithJsonSchema
from pydantic_core import PydanticCustomError

from tanksolve.errors import TanksolveError
from tanksolve.project.quantities import Angle, Density, Length, Strict
from tanksolve.study.measures import MEASURES
from tanksolve.units import parse

__all__ = ["STUDY_VERSION", "LogsTable", "SettingsTable", "StudyFile", "VaryTable", "WantTable"]

STUDY_VERSION = 1
_MOST_KEYS = 30
_MOST_WANTS = 12  # a figure of each for every row stays in memory
_LONGEST = 86400.0  # s


def _quantity(kind: str, example: str) -> BeforeValidator:
    def read(value: object) -> float:
        try:
            if not isinstance(value, str):
                raise TanksolveError(f"{value!r} is not a text with a unit")
            return parse(value, kind)
        except TanksolveError as error:
            context = {"what": error.what, "allowed": f'as in "{example}"', "next": ""}
            raise PydanticCustomError("tanksolve", "{what}", context) from None

    return BeforeValidator(read)


def _measure(name: object) -> object:
    if name not in MEASURES:
        context = {"what": f"{name!r} is nothing that is computed", "allowed": ", ".join(MEASURES)}
        raise PydanticCustomError("tanksolve", "{what}", {**context, "next": "see docs/study.md"})
    return name


Seconds = Annotated[
    float,
    _quantity("time", "60 s"),
    WithJsonSchema({"type": "string", "description": "a time", "examples": ["60 s"]}),
]
MeasureName = Annotated[str, BeforeValidator(_measure)]
Value = bool | int | float | str


class VaryTable(Strict):
    """One thing that varies: a key, or several that take the same value, and its values."""

    key: Annotated[str | None, Field(description="a dotted key of the tank file")] = None
    keys: Annotated[
        tuple[str, ...] | None,
        Field(description="several keys that take the same value", min_length=1),
    ] = None
    values: Annotated[
        tuple[Value, ...] | None,
        Field(description="the values, as the tank file writes them", min_length=1),
    ] = None
    from_: Annotated[
        str | None, Field(description="the least quantity of a range", alias="from")
    ] = None
    to: Annotated[str | None, Field(description="the greatest, in the same unit")] = None
    step: Annotated[str | None, Field(description="from one to the next, in the same unit")] = None


class SampleTable(Strict):
    """A Latin hypercube instead of every combination."""

    variants: Annotated[int, Field(description="how many", ge=1, strict=True)]
    seed: Annotated[
        int, Field(description="the same seed gives the same variants", ge=0, le=2**63, strict=True)
    ] = 0


class SettingsTable(Strict):
    """How closely to look."""

    require: Annotated[
        str | None,
        Field(description="attitudes at which fills count, as `--require`; else level ground"),
    ] = None
    search_to: Annotated[
        Angle,
        Field(description="slope up to which to look", json_schema_extra={"left_out": "60 deg"}),
    ] = 1.0471975511965976
    headings_every: Annotated[
        Angle,
        Field(
            description="spacing of the headings listed", json_schema_extra={"left_out": "5 deg"}
        ),
    ] = 0.08726646259971647
    tolerance: Annotated[
        Angle,
        Field(
            description="how far bounds of slopes may stay back",
            json_schema_extra={"left_out": "0.05 deg"},
        ),
    ] = 0.0008726646259971648
    fill_tolerance: Annotated[
        Length,
        Field(
            description="how far bounds of fills may go beyond, a mean depth",
            gt=0.0,
            json_schema_extra={"left_out": "0.1 mm"},
        ),
    ] = 1e-4
    plate: Annotated[
        Length | None, Field(description="thickness of the wall, for `metal_mass`", gt=0.0)
    ] = None
    metal_density: Annotated[
        Density | None, Field(description="of the wall, for `metal_mass`", gt=0.0)
    ] = None
    time_limit: Annotated[
        Seconds,
        Field(
            description="processor time that a variant may take",
            ge=1.0,
            le=_LONGEST,
            json_schema_extra={"left_out": "600 s"},
        ),
    ] = 600.0


class LogsTable(Strict):
    """Recorded days that each variant is put through."""

    files: Annotated[
        str, Field(description="which, beside the study file: `logs/*.csv`", min_length=1)
    ]
    columns: Annotated[
        dict[str, str],
        Field(description="what is which column, as `--column`", default_factory=dict),
    ]
    units: Annotated[
        dict[str, str],
        Field(description="a column's unit, as `--column-unit`", default_factory=dict),
    ]
    reverse: Annotated[
        tuple[str, ...], Field(description="columns signed the other way, as `--reverse`")
    ] = ()
    reading: Annotated[
        Literal["inclinometer", "rotations", "projected"],
        Field(description="what pitch and roll are"),
    ] = "inclinometer"
    acceleration: Annotated[
        Literal["own", "felt"] | None, Field(description="what accelerations are")
    ] = None
    decimal: Annotated[Literal["comma", "point"] | None, Field(description="the decimal mark")] = (
        None
    )
    gap: Annotated[Seconds | None, Field(description="rows further apart are a gap")] = None
    filter: Annotated[Seconds | None, Field(description="time constant of smoothing")] = None


class WantTable(Strict):
    """What is wanted of a figure: a limit, or that it be small or great."""

    measure: Annotated[MeasureName, Field(description="one of those computed")]
    at_least: Annotated[str | None, Field(description="a limit, with its unit")] = None
    at_most: Annotated[str | None, Field(description="a limit, with its unit")] = None
    aim: Annotated[
        Literal["least", "most"] | None, Field(description="whether less or more is better")
    ] = None


class StudyFile(Strict):
    """A whole study file."""

    tanksolve_study: Annotated[Literal[1], Field(description="version of this format: 1")]
    name: Annotated[str, Field(description="what the study is called", min_length=1)] = "study"
    tank: Annotated[str, Field(description="the tank file, beside this one", min_length=1)]
    compute: Annotated[
        tuple[MeasureName, ...], Field(description="what is computed, see below", min_length=1)
    ]
    vary: Annotated[
        tuple[VaryTable, ...], Field(description="what varies", max_length=_MOST_KEYS)
    ] = ()
    sample: Annotated[
        SampleTable | None, Field(description="a Latin hypercube; else every combination")
    ] = None
    settings: Annotated[SettingsTable, Field(description="how closely to look")] = SettingsTable()
    logs: Annotated[LogsTable | None, Field(description="recorded days to put them through")] = None
    want: Annotated[
        tuple[WantTable, ...], Field(description="limits and objectives", max_length=_MOST_WANTS)
    ] = ()


def validated(data: dict[str, Any], numbers: Any, name: str) -> StudyFile:
    """Check the parsed TOML of a study file. Raises FileFormatError for the first thing that is wrong."""
    from tanksolve.project.complaints import complaint

    try:
        return StudyFile.model_validate(data)
    except ValidationError as error:
        raise complaint(error, data, numbers, name, StudyFile, "docs/study.md") from None
