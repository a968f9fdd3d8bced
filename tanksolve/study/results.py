"""The rows of a study as results: Parquet and CSV, what meets the limits, the Pareto set, the winners' files."""

import csv
import importlib.util
import json
import math
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from itertools import islice, permutations
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tanksolve.files import write_text, write_whole
from tanksolve.project.save import rewritten, with_mesh_from
from tanksolve.study.measures import MEASURES
from tanksolve.study.rows_file import RowsFile
from tanksolve.study.study import Study, Want

__all__ = ["RESULTS", "STATUSES", "Found", "gather", "nondominated", "row_cells", "write_results"]

RESULTS = ("results.csv", "results.parquet")
STATUSES = ("ok", "refused", "out of time", "lost", "fault")
_BATCH = 5000  # rows held in memory at once
_WINNERS = 20  # tank files written out


@dataclass(frozen=True, eq=False)
class Found:
    """What the rows say together.

    Attributes
    ----------
    counts : rows by status. reasons : the most frequent reasons of rows that are not ok.
    seconds : processor time of all rows together, whenever they were computed.
    values : (N, W) what is wanted, in the columns' units, a column for each of ``Study.wants``; NaN
        where there is none.
    meets : (N,) whether a row meets all limits; pareto : (N,) whether, of those, none is better in one
        aim and as good in the others; all false without an aim.
    """

    counts: dict[str, int]
    reasons: list[tuple[str, int]]
    seconds: float
    values: NDArray[np.float64] = field(repr=False)
    meets: NDArray[np.bool_] = field(repr=False)
    pareto: NDArray[np.bool_] = field(repr=False)

    def winners(self, study: Study) -> list[int]:
        """Rows whose tank files are written: the Pareto set, or what meets the limits.

        Of more than 20 those spread evenly along the first aim.
        """
        chosen = np.flatnonzero(self.pareto if study.objectives else self.meets)
        if study.objectives:
            first = study.wants.index(study.objectives[0])
            sign = 1.0 if study.objectives[0].aim == "least" else -1.0
            chosen = chosen[np.argsort(sign * self.values[chosen, first], kind="stable")]
        elif not study.wants:
            return []
        if len(chosen) > _WINNERS:
            spread = np.linspace(0, len(chosen) - 1, _WINNERS).round().astype(int)
            chosen = chosen[spread] if study.objectives else chosen[:_WINNERS]
        return [int(k) for k in chosen]


def gather(study: Study, rows: RowsFile) -> Found:
    """Go through all rows once. Raises OutputError."""
    values = np.full((study.count, len(study.wants)), np.nan)
    ok = np.zeros(study.count, bool)
    counts = dict.fromkeys(STATUSES, 0)
    reasons: dict[str, int] = {}
    seconds = 0.0
    for k, row in rows.rows():
        counts[row["status"]] += 1
        seconds += row["seconds"]
        ok[k] = row["status"] == "ok"
        if not ok[k]:
            head = row["reason"].split(" allowed:")[0]
            if head in reasons or len(reasons) < _BATCH:
                reasons[head] = reasons.get(head, 0) + 1
            continue
        for w, want in enumerate(study.wants):
            value = row["values"].get(want.column)
            values[k, w] = math.nan if value is None else value
    for w, want in enumerate(study.wants):  # what has no figure meets no limit
        least = -math.inf if want.at_least is None else want.at_least
        most = math.inf if want.at_most is None else want.at_most
        ok &= (values[:, w] >= least) & (values[:, w] <= most)
    common = sorted(reasons.items(), key=lambda item: (-item[1], item[0]))[:5]
    return Found(counts, common, seconds, values, ok, _pareto(study.wants, values, ok))


def _pareto(
    wants: tuple[Want, ...], values: NDArray[np.float64], meets: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    aims = [(w, -1.0 if want.aim == "most" else 1.0) for w, want in enumerate(wants) if want.aim]
    chosen = np.zeros(len(values), bool)
    if not aims:
        return chosen
    best: NDArray[np.intp] = np.empty(0, np.intp)
    candidates = np.flatnonzero(meets)
    for start in range(0, len(candidates), _BATCH):
        both = np.concatenate([best, candidates[start : start + _BATCH]])
        costs = np.column_stack([sign * values[both, w] for w, sign in aims])
        best = both[nondominated(costs)]
    chosen[best] = True
    return chosen


def nondominated(costs: NDArray[np.float64]) -> NDArray[np.intp]:
    """Which of the points (N, M) no other one betters: less in one, and no more in any; equal ones stay."""
    left = np.lexsort(costs.T[::-1])
    costs = costs[left]
    at = 0
    while at < len(costs):
        here = costs[at]
        stays = (costs < here).any(axis=1) | (costs == here).all(axis=1)
        at = int(stays[:at].sum()) + 1
        left, costs = left[stays], costs[stays]
    return np.sort(left)


def row_cells(study: Study, k: int, row: dict[str, Any], found: Found) -> dict[str, Any]:
    """One row of the tables: a cell for each column."""
    values, log = study.row(k)
    cells: dict[str, Any] = {"row": k + 1}
    for one, value in zip(study.variants.vary, values, strict=True):
        cell = one.cell(value)
        cells[one.column] = str(cell) if one.values.unit is None else float(cell)
    if log is not None:
        cells["log"] = log.name
    cells |= {"status": row["status"], "reason": row["reason"]}
    cells |= {name: row["values"].get(name) for name in study.columns}
    return cells | {
        "meets_limits": bool(found.meets[k]),
        "pareto": bool(found.pareto[k]),
        "tolerance_deg": study.settings.tolerance_deg,
        "fill_tolerance_m": study.settings.fill_tolerance_m,
        "version": row["version"],
        "inputs_sha256": row["inputs"],
    }


def _types(study: Study) -> dict[str, type]:
    vary = {one.column: str if one.values.unit is None else float for one in study.variants.vary}
    log: dict[str, type] = {"log": str} if study.logs else {}
    return {
        "row": int,
        **vary,
        **log,
        "status": str,
        "reason": str,
        **study.columns,
        "meets_limits": bool,
        "pareto": bool,
        "tolerance_deg": float,
        "fill_tolerance_m": float,
        "version": str,
        "inputs_sha256": str,
    }


def _batches(study: Study, rows: RowsFile, found: Found) -> Iterator[list[dict[str, Any]]]:
    cells = (row_cells(study, k, row, found) for k, row in rows.rows())
    while batch := list(islice(cells, _BATCH)):
        yield batch


def write_results(study: Study, rows: RowsFile, found: Found, folder: Path) -> list[Path]:
    """Write ``results.csv``, ``results.parquet`` where pyarrow is, and the winners; returns the files.

    Every file is there whole or not at all. Rows stand in order, and nothing in them tells how they were
    computed: the same study gives the same bytes. Raises OutputError.
    """
    table, parquet = (folder / name for name in RESULTS)
    if importlib.util.find_spec("pyarrow") is None:
        write_whole(table, lambda path: _write(study, rows, found, path, None))
        return [table, *_write_winners(study, rows, found, folder / "winners")]

    def both(text: Path) -> None:
        write_whole(parquet, lambda path: _write(study, rows, found, text, path))

    write_whole(table, both)
    return [table, parquet, *_write_winners(study, rows, found, folder / "winners")]


def _write(study: Study, rows: RowsFile, found: Found, table: Path, parquet: Path | None) -> None:
    """Write the rows as CSV and, in the same pass, as Parquet."""
    with ExitStack() as stack:
        file = stack.enter_context(table.open("w", encoding="utf-8", newline=""))
        writer = csv.DictWriter(file, list(_types(study)), lineterminator="\n")
        writer.writeheader()
        write_batch = stack.enter_context(_parquet(study, parquet)) if parquet else None
        for batch in _batches(study, rows, found):
            writer.writerows(batch)
            if write_batch:
                write_batch(batch)


@contextmanager
def _parquet(study: Study, path: Path) -> Iterator[Callable[[list[dict[str, Any]]], None]]:
    import pyarrow as pa
    import pyarrow.parquet as pq

    kinds = {int: pa.int64(), float: pa.float64(), str: pa.string(), bool: pa.bool_()}
    about = {"study": study.name, "identity": study.identity, "settings": study.job["settings"]}
    schema = pa.schema(
        [(name, kinds[kind]) for name, kind in _types(study).items()],
        metadata={"tanksolve": json.dumps(about, sort_keys=True)},
    )
    with pq.ParquetWriter(path, schema) as writer:
        yield lambda batch: writer.write_table(pa.Table.from_pylist(batch, schema=schema))


def _write_winners(study: Study, rows: RowsFile, found: Found, folder: Path) -> list[Path]:
    """Tank files of the winners, with their comments; older ones of the same study go, plots too."""
    chosen = found.winners(study)
    names = [name.replace("_", "-") for name in MEASURES]
    for one, other in permutations(names, 2):
        (folder.parent / f"{one}-{other}.png").unlink(missing_ok=True)
    if folder.is_dir():
        for old in folder.glob("row_*.toml"):
            old.unlink()
    if not chosen:
        return []
    folder.mkdir(exist_ok=True)
    files = []
    for k in chosen:
        text = rewritten(study.tank_text, study.changes(study.row(k)[0]))
        text = with_mesh_from(text, study.tank_source.parent, folder)
        row = rows.row(k)
        told = "; ".join(
            f"{want.column} = {row['values'][want.column]:.6g}" for want in study.wants
        )
        head = f"# Row {k + 1} of the study '{study.name}': {told}.\n# inputs {row['inputs']}\n"
        files.append(folder / f"row_{k + 1:0{len(str(study.count))}d}.toml")
        write_text(files[-1], head + text)
    return files
