"""What must hold of a tank's ports, as margins and as yes-or-no tests over many attitudes.

Ports that must stay wet are judged at the least fill, ports that must stay dry at the most. Of
several pickups either all must be covered or any one suffices.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import PortError
from tanksolve.kernel.attitude.cells import hull_slack
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.attitude.slack import cell_centres, cell_slack
from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.kernel.capacity.level import levels_along
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, PortKind, Rule
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Pickups = Literal["all", "any"]

__all__ = ["Conditions", "Pickups"]


@dataclass(frozen=True, eq=False)
class Conditions:
    """A tank, its fill and the ports that limit it.

    Attributes
    ----------
    ports : those with a rule, in the user's order; ``margins`` has a column for each.
    groups : column indices; each group needs one of its ports to hold.
    tank_ports : all ports, those without a rule too.
    """

    tank: Tank
    fill: Fill
    ports: tuple[Port, ...]
    groups: tuple[tuple[int, ...], ...]
    tank_ports: tuple[Port, ...] = ()

    @classmethod
    def of(
        cls, tank: Tank, ports: Sequence[Port], fill: Fill | float, pickups: Pickups = "all"
    ) -> "Conditions":
        """Check ports and fill against the tank. Raises PortError, FillError."""
        tank.check_ports(ports)
        fill = Fill.of(fill)
        fill.check(tank.capacity)
        ruled = tuple(port for port in ports if port.effective_rule is not Rule.NONE)
        if not ruled:
            raise PortError(
                "no port sets a limit",
                allowed="a pickup (must stay wet), a breather or filler (must stay dry)",
                next_step="give a pickup: its name, and its place from rear wall, right wall, floor",
            )
        joined = tuple(
            i
            for i, port in enumerate(ruled)
            if pickups == "any" and port.kind is PortKind.PICKUP and _wet(port)
        )
        single = tuple((i,) for i in range(len(ruled)) if i not in joined)
        groups = ((joined,) if joined else ()) + single
        return cls(tank, fill, ruled, groups, tuple(ports))

    @property
    def least(self) -> float:
        """Volume for wet ports [m³]; a hair below brim-full, where no plane marks the top."""
        return min(self.fill.least, self.tank.capacity * (1.0 - 1e-9))

    @property
    def most(self) -> float:
        """Volume for dry ports [m³]."""
        return min(self.fill.most, self.tank.capacity)

    def columns(self, *, wet: bool) -> list[int]:
        """Columns of the ports that must stay wet, or of those that must stay dry."""
        return [i for i, port in enumerate(self.ports) if _wet(port) is wet]

    def margins(self, paths: Array) -> Array:
        """Margin of each port [m] along K paths of P attitudes (K, P, 3): (K, P, ports).

        Liquid over a wet port beyond its required cover, or air under a dry one beyond its
        clearance; negative where the rule is broken.
        """
        out = np.empty((*paths.shape[:2], len(self.ports)))
        flat = np.ascontiguousarray(paths.reshape(-1, 3))
        for wet, volume in ((True, self.least), (False, self.most)):
            columns = self.columns(wet=wet)
            if not columns:
                continue
            level = levels_along(self.tank.tree, paths, volume, lowest=not wet)[0]
            for i in columns:
                edge = self.edge(i, flat).reshape(level.shape)
                out[..., i] = level - edge if wet else edge - level
        return out

    def margins_within(self, up: Array, hulls: Array) -> Array:
        """Bounds of the margins [m] all over each of D hulls (D, J, 3) about ``up`` (D, 3): (D, ports)."""
        margins = self.margins(up[:, None, :])[:, 0]
        for column in range(len(self.ports)):
            margins[:, column] -= self.hull_slack(column, up, hulls)
        return margins

    def hull_slack(self, column: int, up: Array, hulls: Array) -> Array:
        """How far a port's margin may fall from ``up`` (D, 3) to any attitude of a hull (D,) [m]."""
        lower, upper, dry = self.tank.lower, self.tank.upper, not _wet(self.ports[column])
        return hull_slack(lower, upper, self.points(column), up, hulls, dry=dry)

    @property
    def is_one_level_sure(self) -> bool:
        """Whether one level of the whole tank, where it is certain, is all that margins rest on."""
        return True

    def held(self, up: Array) -> Bools:
        """Whether each group's rule is kept at ``up`` (D, 3): (D, groups). One pass a port."""
        return self._tests(up, np.zeros((len(up), len(self.ports))))

    def held_over(self, cells: Array) -> Bools:
        """Whether all rules are certainly kept all over each cell (C, 4) of attitudes: (C,).

        True leaves no gap between samples; False proves nothing. See ``kernel.bounds``.
        """
        centres = cell_centres(cells)
        up = up_from_slope_heading(centres[:, 0], centres[:, 1])
        lower, upper = self.tank.lower, self.tank.upper
        slack = [
            cell_slack(lower, upper, self.points(i), cells, dry=not _wet(port))
            for i, port in enumerate(self.ports)
        ]
        return np.asarray(self._tests(up, np.stack(slack, axis=-1)).all(axis=1))

    def group_margins(self, margins: Array) -> tuple[Array, NDArray[np.intp]]:
        """Margin of the whole tank (...,) [m] and the port column that sets it, from port margins.

        A group's margin is that of its best port; the tank's is that of its worst group.
        """
        best = [margins[..., list(g)].max(axis=-1) for g in self.groups]
        which = [np.asarray(g)[margins[..., list(g)].argmax(axis=-1)] for g in self.groups]
        worst = np.argmin(np.stack(best, axis=-1), axis=-1)
        port = np.take_along_axis(np.stack(which, axis=-1), worst[..., None], axis=-1)[..., 0]
        return np.min(np.stack(best, axis=-1), axis=-1), port

    def edge(self, column: int, up: Array) -> Array:
        """Height that the liquid must reach (wet port) or stay below (dry port)."""
        port = self.ports[column]
        if _wet(port):
            return support_high(port.discs, up) + port.required_cover
        return support_low(port.discs, up) - port.required_cover

    def needed(self, column: int, up: Array, edge: Array, slack: Array) -> Array:
        """Liquid [m³] that it takes for a wet port's pool to stand at ``edge + slack`` (D,): (D,)."""
        return volumes(self.tank.tree, up, edge + slack)[0]

    def stays_dry(self, column: int, up: Array, edge: Array) -> Bools:
        """Whether the liquid stays below ``edge`` (D,) [m] at a port that must stay dry: (D,)."""
        return np.asarray(volumes(self.tank.tree, up, edge)[0] >= self.most)

    def points(self, column: int) -> Array:
        """What a port's rule looks at, as rows (K, 8) of ``kernel.support``: its opening."""
        return self.ports[column].discs

    def _tests(self, up: Array, slack: Array) -> Bools:
        kept = np.empty((len(up), len(self.ports)), bool)
        for i, port in enumerate(self.ports):
            edge = self.edge(i, up)
            if _wet(port):
                kept[:, i] = self.needed(i, up, edge, slack[:, i]) <= self.least
            else:
                kept[:, i] = self.stays_dry(i, up, edge - slack[:, i])
        return np.asarray(np.stack([kept[:, list(g)].any(axis=1) for g in self.groups], axis=-1))


def _wet(port: Port) -> bool:
    return port.effective_rule is Rule.WET
