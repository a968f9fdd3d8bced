"""The notation of the pump side: liquids, suction lines, strainers and pump limits in a few words."""

from collections.abc import Sequence

from tanksolve.errors import LineError, LiquidError, QuantityError
from tanksolve.model.fluid import Liquid, user_liquid
from tanksolve.model.fluid_catalogue import liquid_by_name
from tanksolve.model.fluid_laws import LinearExpansion, VapourLine
from tanksolve.model.suction_line import (
    LineSection,
    PumpLimits,
    Strainer,
    SuctionLine,
    fitting,
)
from tanksolve.units import parse

__all__ = [
    "parse_line",
    "parse_liquid",
    "parse_part",
    "parse_pump",
    "parse_strainer",
    "parse_temperature",
]

_POINTS = "46cSt@40C,6.8cSt@100C"


def parse_liquid(
    name: str | None,
    viscosity: str | None = None,
    density: str | None = None,
    vapour: str | None = None,
) -> Liquid:
    """A liquid by name, or by the user's figures.

    Parameters
    ----------
    viscosity : two points, ``46cSt@40C,6.8cSt@100C``.
    density : ``870kg/m3`` (at 15 °C) or ``870kg/m3@20C``.
    vapour : two points, ``0.4kPa@40C,101kPa@170C``; left out it is taken as 0, and said so.

    Raises LiquidError or QuantityError, naming the option.
    """
    if viscosity is None:
        if name is None:
            raise LiquidError(
                "no liquid is given",
                where="--liquid",
                allowed="a name such as 'ISO VG 46', or --viscosity and --liquid-density",
            )
        if density is not None or vapour is not None:
            raise LiquidError(
                "a density or vapour pressure of your own goes with viscosity points of your own",
                where="--liquid",
                next_step=f"give --viscosity {_POINTS}",
            )
        return liquid_by_name(name)
    if density is None:
        raise LiquidError("no density is given", where="--liquid-density", allowed="870kg/m3@15C")
    first, second = _two_points(viscosity, "viscosity", "--viscosity", _POINTS)
    rho, _, at = density.partition("@")
    temperature = parse(at, "temperature", "--liquid-density") if at else 288.15
    law = LinearExpansion(parse(rho, "density", "--liquid-density"), temperature)
    line = None
    if vapour is not None:
        line = VapourLine(*_two_points(vapour, "pressure", "--vapour", "0.4kPa@40C,101kPa@170C"))
    return user_liquid(name or "liquid of your own", (first, second), law, line)


def _two_points(
    text: str, kind: str, where: str, form: str
) -> tuple[tuple[float, float], tuple[float, float]]:
    parts = [part.partition("@") for part in text.split(",")]
    if len(parts) != 2 or not all(at for _, _, at in parts):
        raise QuantityError(f"'{text}' is not two points", where=where, allowed=form)
    first, second = ((parse(at, "temperature", where), parse(v, kind, where)) for v, _, at in parts)
    return first, second


def parse_line(texts: Sequence[str]) -> SuctionLine:
    """Sections in order from the tank, each ``38.1mm,1.5m,drop tube,2 elbow``: bore, length, fittings.

    Raises LineError or QuantityError, naming the option.
    """
    sections = []
    for text in texts:
        bore, _, rest = text.partition(",")
        length, *names = [part.strip() for part in rest.split(",")]
        if not length:
            raise LineError(
                f"'{text}' has no length",
                where="--line",
                allowed="bore, length and fittings: 38.1mm,1.5m,drop tube,2 elbow",
            )
        fittings = []
        for name in names:
            count, _, kind = name.partition(" ")
            times = int(count) if count.isdigit() else 1
            try:
                fittings += [fitting(kind if count.isdigit() else name)] * times
            except LineError as error:
                raise error.at("--line") from None
        sections.append(
            LineSection(
                parse(bore, "length", "--line"), parse(length, "length", "--line"), tuple(fittings)
            )
        )
    return SuctionLine(tuple(sections))


def parse_part(text: str, where: str) -> float:
    """A part in percent, ``50%``, as a number from 0 to 1. Raises QuantityError."""
    number = text.strip().removesuffix("%")
    try:
        value = float(number) / 100.0
    except ValueError:
        raise QuantityError(f"'{text}' is not a part", where=where, allowed="as in 50%") from None
    if number == text.strip():
        raise QuantityError(
            f"'{text}' has no unit", where=where, next_step=f"write '{text.strip()}%'"
        )
    return value


def parse_strainer(text: str, blocked: str) -> Strainer:
    """A strainer ``3kPa@60L/min@32cSt``: its drop when clean, at that flow and viscosity."""
    where = "--strainer"
    parts = text.split("@")
    if len(parts) not in (2, 3):
        raise QuantityError(
            f"'{text}' is no strainer",
            where=where,
            allowed="its drop when clean, the flow, and perhaps the viscosity, with @ between",
            next_step="write it as in 3kPa@60L/min or 3kPa@60L/min@32cSt",
        )
    viscosity = parse(parts[2], "viscosity", where) if len(parts) == 3 else 3.2e-5
    drop, flow = parse(parts[0], "pressure", where), parse(parts[1], "flow", where)
    return Strainer(drop, flow, viscosity, parse_part(blocked, "--blocked"))


def parse_pump(
    vacuum: str | None = None, least_pressure: str | None = None, npsh: str | None = None
) -> PumpLimits:
    """The pump's limits from any of: greatest vacuum, least absolute pressure, NPSH required.

    With none of them, 5 inHg of vacuum is taken as common practice, and said so.
    """
    if vacuum is None and least_pressure is None and npsh is None:
        return PumpLimits.common_practice()
    least = (
        None if least_pressure is None else parse(least_pressure, "pressure", "--least-pressure")
    )
    source = "as given"
    if vacuum is not None:
        from_vacuum = PumpLimits.from_vacuum(parse(vacuum, "pressure", "--vacuum"))
        least = max(least or 0.0, from_vacuum.least_pressure_pa or 0.0)
        source = from_vacuum.source
    return PumpLimits(least, None if npsh is None else parse(npsh, "length", "--npsh"), source)


def parse_temperature(text: str | None, where: str) -> float | None:
    """A temperature [K], or None where none is given. Raises QuantityError."""
    return None if text is None else parse(text, "temperature", where)
