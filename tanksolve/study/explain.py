"""A row computed anew, and what sets its figures: attitude, plane, pools, volumes and port."""

import copy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tanksolve.errors import OutputError
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import Port
from tanksolve.project.lines import line_numbers
from tanksolve.project.load import of_tables
from tanksolve.questions.level.pools import PoolsAt, pools
from tanksolve.questions.marks.fill_limits import SetBy
from tanksolve.state.conditions import Conditions
from tanksolve.state.openings import is_wet
from tanksolve.study.measured import Found
from tanksolve.study.rows_file import read_row
from tanksolve.study.run import read_run
from tanksolve.study.study import Study, changed, read_study
from tanksolve.study.worker import Evaluator

__all__ = ["Chain", "Explained", "explain"]


@dataclass(frozen=True)
class Chain:
    """What sets a figure: the attitude, the plane through the port's edge, and volumes there.

    Attributes
    ----------
    measure : its name.
    root : the figure solved, where the figure told is a bound beside it; in the column's unit.
    attitude : at which it is set. port : by which.
    wet : whether the port must stay wet.
    edge_m : height of the plane along up, above the lowest point of the tank at this attitude [m].
    below_m3 : liquid below that plane [m³].
    need_m3 : what the wet port needs of liquid, or the dry one of air, in the worst state [m³].
    have_m3 : what there is of it [m³]; None where that is what was asked.
    pools : with the tank filled level and tilted straight to the attitude: a sample of a state.
    """

    measure: str
    root: float
    attitude: Attitude
    port: Port
    wet: bool
    edge_m: float
    below_m3: float
    need_m3: float
    have_m3: float | None
    pools: PoolsAt


@dataclass(frozen=True)
class Explained:
    """A row, computed anew.

    Attributes
    ----------
    number : of the row, from 0. row : as it was kept. again : as it is now, by column.
    same : whether figures and inputs' hash are the same to the last digit.
    chains : of the figures that an attitude sets.
    """

    study: Study
    number: int
    row: dict[str, Any]
    again: dict[str, Any]
    same: bool
    chains: tuple[Chain, ...]


def explain(result: Path, number: int | None = None) -> Explained:
    """Compute a row of a study anew and find what sets its figures.

    result : the study's folder, or a file in it; number : of the row, from 0; the first that was computed.
    Raises OutputError for no such result or row, or inputs that have changed since; FileFormatError.
    """
    about, folder = read_run(result)
    study = read_study(about["study"])
    if study.identity != about.get("identity"):
        raise OutputError(
            "the study, the tank file, a mesh, a log or the program has changed since",
            where=str(result),
            next_step="run the study again into another folder, with --out",
        )
    if number is not None and not 0 <= number < study.count:
        raise OutputError(
            f"there is no row {number + 1}", where=str(result), allowed=f"1 to {study.count:,}"
        )
    number, row = read_row(folder / "rows.log", number)
    values, log = study.row(number)
    again = Evaluator(study.job).row(values, None if log is None else str(log))
    same = all(again[key] == row[key] for key in ("status", "values", "inputs"))
    chains: tuple[Chain, ...] = ()
    if row["status"] == "ok":
        tables = copy.deepcopy(study.tables)
        changed(tables, study.job["keys"], values)
        project = of_tables(tables, line_numbers(study.tank_text), "", study.tank_source)
        chains = tuple(_chains(Found(project, study.settings), study.compute))
    return Explained(study, number, row, again, same, chains)


def _chains(found: Found, compute: tuple[str, ...]) -> list[Chain]:
    chains = []
    for name in compute:
        if name == "worst_slope":
            worst = found.envelope.worst
            if (
                worst.port is not None
                and worst.slope_deg is not None
                and found.envelope.ok_at_level
            ):
                at = SetBy(worst.port, worst.slope_deg, worst.heading_deg)
                chains.append(_chain(found, name, worst.slope_deg, at, found.conditions))
        elif name in ("least_fill", "most_fill"):
            fills = found.fills
            at_ = fills.least_set_by if name == "least_fill" else fills.most_set_by
            root = fills.least_root_m3 if name == "least_fill" else fills.most_root_m3
            if at_ is not None:
                fill = min(max(root, 1e-9 * found.tank.capacity), found.tank.capacity)
                conditions = Conditions.of(found.tank, found.ports, fill, found.project.pickup_rule)
                chains.append(_chain(found, name, root, at_, conditions, asked=True))
    return chains


def _chain(
    found: Found, measure: str, root: float, at: SetBy, conditions: Conditions, asked: bool = False
) -> Chain:
    attitude = Attitude.from_slope(np.radians(at.slope_deg), np.radians(at.heading_deg))
    column = next(k for k, port in enumerate(conditions.ports) if port.name == at.port)
    group = next(g for g in conditions.groups if column in g)
    up = np.array([attitude.up])
    edge = conditions.edge(column, up)
    wet = is_wet(conditions.ports[column])
    bottom = found.tank.height_range(up)[0]
    volume = conditions.least if wet else conditions.most
    return Chain(
        measure=measure,
        root=root,
        attitude=attitude,
        port=conditions.ports[column],
        wet=wet,
        edge_m=float(edge[0] - bottom[0]),
        below_m3=float(volumes(found.tank.tree, up, edge)[0][0]),
        need_m3=float(conditions.needs([group], up)[0, 0]),
        have_m3=None if asked else float(conditions.amounts([group])[0]),
        pools=pools(found.tank, volume, attitude, found.ports),
    )
