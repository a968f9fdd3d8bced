"""tanksolve: where the liquid goes when a tank tilts.

    from tanksolve import box, envelope, pickup

    tank = box(0.9, 0.3, 0.3)
    suction = pickup("suction", (0.02, 0.15, 0.03), bore=0.038)
    limits = envelope(tank, [suction], fill=0.042)
    print(limits.worst)

SI units (m, m³, rad, kg) unless a name says otherwise; x forward, y left, z up. The names below
are imported when first used, so that ``import tanksolve`` itself costs nothing.
"""

import importlib
import inspect
from typing import TYPE_CHECKING, Any

from tanksolve.version import __version__

if TYPE_CHECKING:
    from tanksolve.errors import TanksolveError
    from tanksolve.geometry.mesh_file import read_mesh
    from tanksolve.geometry.parts import box, cylinder, extrusion
    from tanksolve.model.attitude import Attitude
    from tanksolve.model.liquid import Fill
    from tanksolve.model.ports import (
        Port,
        breather,
        drain,
        filler,
        heater,
        level_switch,
        pickup,
        return_line,
        strainer,
    )
    from tanksolve.model.requirement import Requirement
    from tanksolve.model.tank import Tank
    from tanksolve.project.load import load
    from tanksolve.questions.compare import compare
    from tanksolve.questions.dip import dip
    from tanksolve.questions.envelope.envelope import Envelope, Limit, envelope
    from tanksolve.questions.level.pools import PoolsAt, pools
    from tanksolve.questions.level.surface import Level, level
    from tanksolve.questions.marks.marks import marks
    from tanksolve.questions.place.place import place
    from tanksolve.questions.size.size import smallest
    from tanksolve.questions.tolerance.tolerance import tolerances

__all__ = [
    "Attitude",
    "Envelope",
    "Fill",
    "Level",
    "Limit",
    "PoolsAt",
    "Port",
    "Requirement",
    "Tank",
    "TanksolveError",
    "__version__",
    "box",
    "breather",
    "compare",
    "cylinder",
    "dip",
    "drain",
    "envelope",
    "extrusion",
    "filler",
    "heater",
    "level",
    "level_switch",
    "load",
    "marks",
    "pickup",
    "place",
    "pools",
    "read_mesh",
    "return_line",
    "smallest",
    "strainer",
    "tolerances",
]

_HOMES = {
    "tanksolve.questions.compare": ("compare",),
    "tanksolve.questions.dip": ("dip",),
    "tanksolve.questions.envelope.envelope": ("Envelope", "Limit", "envelope"),
    "tanksolve.questions.marks.marks": ("marks",),
    "tanksolve.questions.level.pools": ("PoolsAt", "pools"),
    "tanksolve.questions.level.surface": ("Level", "level"),
    "tanksolve.questions.tolerance.tolerance": ("tolerances",),
    "tanksolve.geometry.mesh_file": ("read_mesh",),
    "tanksolve.geometry.parts": ("box", "cylinder", "extrusion"),
    "tanksolve.questions.place.place": ("place",),
    "tanksolve.questions.size.size": ("smallest",),
    "tanksolve.errors": ("TanksolveError",),
    "tanksolve.model.attitude": ("Attitude",),
    "tanksolve.model.liquid": ("Fill",),
    "tanksolve.model.ports": (
        "Port",
        "breather",
        "drain",
        "filler",
        "heater",
        "level_switch",
        "pickup",
        "return_line",
        "strainer",
    ),
    "tanksolve.model.requirement": ("Requirement",),
    "tanksolve.model.tank": ("Tank",),
    "tanksolve.project.load": ("load",),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _HOME_OF:
        raise AttributeError(f"module 'tanksolve' has no attribute '{name}'")
    value = getattr(importlib.import_module(_HOME_OF[name]), name)
    if inspect.isfunction(value):
        from tanksolve.called import called

        value = called(value)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return __all__
