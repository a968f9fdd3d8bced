"""What stands in words beside the picture of a port's zone."""

import math

from tanksolve.bound_words import safe_length_words
from tanksolve.model.attitude import uphill_words
from tanksolve.questions.place.place import Place
from tanksolve.units import length_words, slope_words, volume_words

__all__ = ["MOST", "key_words", "mm_words", "spot_names", "zone_cells"]

MOST = ("most margin", "least bad")


def zone_cells(result: Place, unit: str | None) -> list[tuple[str, str]]:
    """Cells under the picture of a zone: what is asked, the places, how sure; ``unit`` is of volumes."""
    by = result.best_set_by
    slope = slope_words(math.radians(by.slope_deg))
    advised = f"none {length_words(result.off_floor_m)} off floor and walls"
    if result.recommended_margin_m is not None:
        margin = safe_length_words(result.recommended_margin_m, up=False)
        advised = f"margin {margin}, {length_words(result.off_floor_m)} off floor and walls"
    if not result.feasible:
        advised = f"NO such place: {advised}"
    cells = [
        ("REQUIREMENT", "\n".join(result.requirement)),
        (
            spot_names(result)[0].upper(),
            f"{safe_length_words(result.best_margin_m, up=False)}\nleast at {slope}, uphill at heading "
            f"{uphill_words(by.heading_deg)}",
        ),
        (
            f"{spot_names(result)[1].upper()}; ZONE",
            f"{advised}\n{_sure(result, unit)}",
        ),
    ]
    tube = result.tube
    if tube is None:
        return cells
    run = f"runs {mm_words(tube.run_m)} in, " if tube.wall != "top" else ""
    hole = "through the roof" if tube.wall == "top" else f"through the {tube.wall} wall"
    way = "" if tube.clear else "\nsomething in the tank is in its way"
    return [*cells, ("DROP TUBE", f"{hole}, {run}drops {mm_words(tube.drop_m)}{way}")]


def _sure(result: Place, unit: str | None) -> str:
    """The zone's volume and how sure it is."""
    if not result.zones:
        return "no zone"
    volume = f"zone {volume_words(result.zone_volume_m3, unit)}"
    parts = f" in {len(result.zones)} parts" if len(result.zones) > 1 else ""
    any_route = "" if result.one_surface else ", whatever the machine did before"
    return f"{volume}{parts}, all of it proved{any_route}"


def spot_names(result: Place) -> tuple[str, str]:
    """Names of the place of most margin and of the one kept off floor and walls."""
    best = MOST[0] if result.zones else MOST[1]
    return best, "recommended" if result.feasible else "least bad, kept off"


def key_words(result: Place) -> str:
    """What the colour of the zone stands for."""
    if result.one_surface:
        return "zone: every place in it meets the requirement"
    return "zone: every place in it meets the requirement, whatever the machine did before"


def mm_words(metres: float) -> str:
    """A length in the units in force."""
    return length_words(metres)
