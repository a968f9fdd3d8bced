"""What is written about a plate on the command line: the maker's limit with its source, the allowance."""

from tanksolve.errors import QuantityError
from tanksolve.plain_text import clean
from tanksolve.unit_systems import stated
from tanksolve.units import parse_angle, parse_sizes

__all__ = ["parse_allowance", "parse_machine_limit", "parse_plate", "parse_plate_size"]

_LARGEST = 1.0  # m
_SMALLEST = 0.04  # m
_NO_SOURCE = {
    "",
    "none",
    "no",
    "n/a",
    "n.a",
    "na",
    "unknown",
    "not known",
    "no source",
    "tbd",
    "nil",
}


def parse_plate(limit: str | None, allowance: str | None) -> tuple[float, str, float]:
    """The machine maker's limit [rad], where it stands, and the allowance [rad].

    Raises QuantityError, which names all that is missing at once.
    """
    if limit is None and allowance is None:
        raise QuantityError(
            "a plate needs the machine maker's slope limit with its source, and an allowance for rough ground",
            where="--machine-limit, --allowance",
            allowed="a slope, a comma, its source; a slope, 0deg where none is wanted",
            next_step="look the limit up in the machine's manual, or ask its maker, and add "
            "--machine-limit '15deg, operating manual p. 12' --allowance 3deg with your own figures",
        )
    return *parse_machine_limit(limit), parse_allowance(allowance)


def parse_machine_limit(text: str | None) -> tuple[float, str]:
    """``15deg, operating manual p. 12``: the figure [rad] and where it stands.

    Raises QuantityError where either is missing: a plate is never made from the tank's limit alone.
    """
    where = "--machine-limit"
    figure, _, source = (text or "").partition(",")
    if not figure.strip() or not source.strip():
        raise QuantityError(
            "a plate needs the machine maker's slope limit and where that figure stands"
            if text is None
            else f"'{clean(text)}' lacks its source: where the figure stands"
            if figure.strip()
            else f"'{clean(text)}' has no figure before its source",
            where=where,
            allowed="a slope, a comma, its source: '15deg, operating manual p. 12'",
            next_step="look it up in the machine's manual, or ask its maker, and add "
            "--machine-limit '15deg, operating manual p. 12' with your own figures",
        )
    if source.strip().strip(".?!-–—_/ ").casefold() in _NO_SOURCE:
        raise QuantityError(
            f"'{clean(source.strip())}' is no source of the machine maker's limit",
            where=where,
            allowed="where the figure stands: '15deg, operating manual p. 12'",
            next_step="look it up in the machine's manual, or ask its maker; no plate is made without it",
        )
    angle = parse_angle(figure, where)
    if not 0.0 < angle < 1.5:
        raise QuantityError(
            f"'{figure.strip()}' is no slope limit", where=where, allowed="above 0°"
        )
    return angle, clean(source.strip())


def parse_allowance(text: str | None) -> float:
    """What is taken off for rough ground [rad]. Raises QuantityError where it is missing or negative."""
    where = "--allowance"
    if text is None:
        raise QuantityError(
            "a plate needs an allowance for rough ground: wheels in ruts tilt the machine more than the slope",
            where=where,
            allowed="a slope, as in 3deg; 0deg says that none is wanted",
            next_step="add --allowance 3deg, or what your ground asks for",
        )
    angle = parse_angle(text, where)
    if angle < 0.0:
        raise QuantityError(f"'{text}' is below 0°", where=where, allowed="0° or more")
    return angle


def parse_plate_size(text: str) -> tuple[float, float]:
    """Width and height of a plate [mm]. Raises QuantityError for one that cannot be read or made."""
    width, height = parse_sizes(text, 2, "--size")
    if not all(_SMALLEST <= side <= _LARGEST for side in (width, height)):
        raise QuantityError(
            f"a plate of '{text}' cannot be read or made",
            where="--size",
            allowed=f"{stated(_SMALLEST, 'length', figures=3)} to {stated(_LARGEST, 'length', figures=3)} a side",
        )
    return 1000.0 * width, 1000.0 * height
