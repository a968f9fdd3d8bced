"""A liquid: viscosity, density and vapour pressure against temperature, each with its source."""

import math
from dataclasses import dataclass, field, replace

from tanksolve.errors import LiquidError
from tanksolve.model.fluid_laws import (
    D341Line,
    LinearExpansion,
    TemperatureLaw,
    VapourLine,
    check_temperature,
)
from tanksolve.unit_systems import stated

__all__ = ["Figure", "Liquid", "user_liquid"]

FLAMMABLE = (
    "Its vapour can be lit by a spark: no hot work (welding, cutting, drilling, grinding) on a tank"
    " that has held it until it is certified free of vapour."
)
D341 = "ASTM D341 through two points"


@dataclass(frozen=True)
class Figure:
    """One figure of a liquid and where it comes from, in words."""

    quantity: str
    value: str
    source: str


@dataclass(frozen=True)
class Liquid:
    """A liquid whose viscosity, density and vapour pressure are known against temperature.

    Attributes
    ----------
    name : how the user calls it.
    lowest, highest : temperatures [K] between which the figures may be used.
    figures : each figure with its source.
    cautions : what may hurt someone, or mislead.
    pour_point, cloud_point : temperatures [K] at which it stops pouring and at which wax comes out;
        None where not known, or where there is none.
    seen_to_flow : coldest temperature [K] at which a viscosity was measured; None as above.
    """

    name: str
    viscosity_law: TemperatureLaw = field(metadata={"json": False})
    density_law: TemperatureLaw = field(metadata={"json": False})
    vapour_law: TemperatureLaw | None = field(metadata={"json": False})
    lowest: float
    highest: float
    figures: tuple[Figure, ...]
    cautions: tuple[str, ...] = ()
    pour_point: float | None = None
    cloud_point: float | None = None
    seen_to_flow: float | None = None

    @property
    def flows_from(self) -> float:
        """The coldest temperature [K] at which a start may pass.

        The pour point, or the cloud point where that is warmer. Without either, the coldest at which a
        viscosity was measured: nothing is known of colder ones.
        """
        known = [t for t in (self.pour_point, self.cloud_point) if t is not None]
        if self.pour_point is None and self.seen_to_flow is not None:
            known.append(self.seen_to_flow)
        return max(known, default=self.lowest)

    def with_points(self, pour: float | None, cloud: float | None) -> "Liquid":
        """The same with the product's own pour point or cloud point [K]; None leaves it as it is.

        Its own pour point alone puts an end to a typical cloud point. Raises LiquidError.
        """
        if pour is None and cloud is None:
            return self
        replaced = {"pour point": pour, "cloud point": cloud}
        own = {name: value for name, value in replaced.items() if value is not None}
        for name, value in own.items():
            check_temperature(value, f"a {name}")
        gone = {"pour point", "cloud point"} if pour is not None else {"cloud point"}
        kept = [figure for figure in self.figures if figure.quantity not in gone]
        given = [Figure(n, stated(value, "temperature"), "as given") for n, value in own.items()]
        cautions = [c for c in self.cautions if pour is None or "pour point" not in c.lower()]
        return replace(
            self,
            figures=(*kept, *given),
            cautions=tuple(cautions),
            pour_point=self.pour_point if pour is None else pour,
            cloud_point=cloud,
        )

    def check(self, temperature: float) -> None:
        """Refuse a temperature [K] at which the figures do not hold. Raises LiquidError."""
        check_temperature(temperature)
        if not self.lowest - 1e-9 <= temperature <= self.highest + 1e-9:
            raise LiquidError(
                f"{stated(temperature, 'temperature')} is outside the range of the figures",
                where=f"liquid '{self.name}'",
                allowed=f"{stated((self.lowest, self.highest), 'temperature', ' to ')}",
            )

    def viscosity(self, temperature: float) -> float:
        """Kinematic viscosity [m²/s] at a temperature [K]."""
        self.check(temperature)
        return self.viscosity_law.at(temperature)

    def density(self, temperature: float) -> float:
        """Density [kg/m³] at a temperature [K]."""
        self.check(temperature)
        return self.density_law.at(temperature)

    def vapour_pressure(self, temperature: float) -> float:
        """Vapour pressure [Pa] at a temperature [K]; 0 where none is known (and said so)."""
        self.check(temperature)
        return 0.0 if self.vapour_law is None else self.vapour_law.at(temperature)

    def volume_ratio(self, temperature: float, reference: float) -> float:
        """Volume at a temperature over the volume of the same liquid at ``reference`` [K]."""
        return self.density(reference) / self.density(temperature)

    def temperature_of_viscosity(self, viscosity: float) -> float | None:
        """Temperature [K] at which the viscosity [m²/s] is met; None where it never is."""
        from scipy.optimize import brentq

        def excess(temperature: float) -> float:
            return math.log(self.viscosity(temperature) / viscosity)

        if excess(self.lowest) < 0.0 or excess(self.highest) > 0.0:
            return None
        return float(brentq(excess, self.lowest, self.highest, xtol=1e-9))


def user_liquid(
    name: str,
    viscosity_points: tuple[tuple[float, float], tuple[float, float]],
    density: LinearExpansion,
    vapour: VapourLine | None = None,
    lowest: float = 223.15,
    highest: float = 423.15,
) -> Liquid:
    """Make a liquid from the user's figures.

    Parameters
    ----------
    viscosity_points : two (temperature [K], kinematic viscosity [m²/s]); the line through them is
        ASTM D341's, made for petroleum liquids.
    density : with its temperature and growth with heat.
    vapour : two points, or None: the vapour pressure is then taken as 0, and a caution says so.

    Raises LiquidError for figures that no liquid has.
    """
    first, second = viscosity_points
    line = D341Line(first, second)
    words = " and ".join(
        f"{v * 1e6:g} cSt at {stated(t, 'temperature')}" for t, v in viscosity_points
    )
    given = "as given"
    cautions = [FLAMMABLE + " (If it burns at all: the data sheet says.)"]
    if vapour is None:
        cautions.append(
            "No vapour pressure was given and it is taken as 0: do not trust the hot limit of a"
            " light or watery liquid."
        )
    cautions.append(
        "Without its pour point nothing is known of starts colder than the coldest viscosity point:"
        " give it, from the data sheet."
    )
    return Liquid(
        name,
        line,
        density,
        vapour,
        lowest,
        highest,
        (
            Figure("viscosity", words, f"{given}; {D341} between and beyond (from memory)"),
            Figure(
                "density",
                f"{density.density:g} kg/m³ at {stated(density.temperature, 'temperature')}",
                given,
            ),
            Figure("growth with heat", f"{density.expansion:g} per K", given),
            Figure(
                "vapour pressure",
                "0" if vapour is None else "a line through two points",
                "not given" if vapour is None else given,
            ),
        ),
        tuple(cautions),
        seen_to_flow=min(first[0], second[0]),
    )
