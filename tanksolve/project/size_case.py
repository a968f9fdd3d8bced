"""What a tank as it was read is sized for: the volume between the marks, which sizes vary, a sump."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tanksolve.model.requirement import Requirement
    from tanksolve.project.case import TankCase
    from tanksolve.project.tank_words import TankWords
    from tanksolve.questions.size.size import Smallest
    from tanksolve.questions.size.sump_gain import SumpGain

__all__ = ["gain_of", "smallest_of", "usable_of"]


def usable_of(text: str | None, words: "TankWords") -> float | None:
    """The usable volume asked for [m³], if any. Raises QuantityError, FillError."""
    from tanksolve.errors import FillError
    from tanksolve.units import parse_volume

    if text is None:
        return None
    if words.fill is not None:
        raise FillError(
            "two things to size the tank for: a fill that stays, and a volume between the marks",
            where="--fill, --usable",
            next_step="give one of them",
        )
    volume = parse_volume(text, "--usable")
    if not 0.0 < volume < float("inf"):
        raise FillError(
            f"'{text}' is no volume to size a tank for", where="--usable", allowed="more than 0 L"
        )
    return volume


def smallest_of(
    case: "TankCase",
    requirement: "Requirement",
    usable: float | None,
    vary: list[str] | None,
) -> "list[Smallest]":
    """The smallest of each dimension that is to vary, all without a word. Raises TankError."""
    from tanksolve.errors import TankError
    from tanksolve.questions.size.size import smallest
    from tanksolve.questions.size.stretch import DIMENSIONS

    wanted = list(dict.fromkeys(vary or DIMENSIONS))
    for name in wanted:
        if name not in DIMENSIONS:
            raise TankError(
                f"'{name}' is no dimension", where="--vary", allowed=", ".join(DIMENSIONS)
            )
    return [
        smallest(
            case.tank,
            case.ports,
            requirement,
            name,  # type: ignore[arg-type]
            fill=case.fill if usable is None else None,
            usable=usable,
            pickups=case.pickups,
        )
        for name in wanted
    ]


def gain_of(case: "TankCase", requirement: "Requirement", sump: str | None) -> "SumpGain | None":
    """What a sump ``X,Ymm,diameter=..,depth=..`` would gain; None where none is asked for."""
    if sump is None:
        return None
    from tanksolve.project.limits import parse_sump
    from tanksolve.questions.size.sump_gain import sump_gain

    return sump_gain(
        case.tank,
        case.ports,
        requirement,
        parse_sump(sump),
        pickups=case.pickups,
    )
