"""A study as read and checked: its tank, its variants, what each is asked, and what is wanted."""

import copy
import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from functools import cache, cached_property, partial
from math import degrees
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from tanksolve.errors import FileFormatError, TanksolveError
from tanksolve.project.bounds import check_bounds
from tanksolve.project.lines import Path as Place
from tanksolve.project.lines import line_numbers, line_of
from tanksolve.project.load import parse_text, read_text
from tanksolve.study.keys import apply, path_of
from tanksolve.study.measures import KINDS, MEASURES, Settings, columns_of
from tanksolve.study.variants import Choices, Range, Value, Variants, Vary, check_counts
from tanksolve.version import __version__

if TYPE_CHECKING:
    from tanksolve.study.study_file import SettingsTable, StudyFile, VaryTable, WantTable

__all__ = ["Study", "Want", "code_version", "file_hash", "read_study"]

_WHAT, _ADVICE = "study file", "docs/study.md shows one to start from"
_MOST_LOGS = 100_000
_MOST_ROWS = 10_000_000


@dataclass(frozen=True)
class Want:
    """What is wanted of a measure: limits in the units of its column, and whether less or more is better."""

    measure: str
    at_least: float | None = None
    at_most: float | None = None
    aim: Literal["least", "most"] | None = None

    @property
    def column(self) -> str:
        """The column that it looks at."""
        return self.measure + KINDS[MEASURES[self.measure].kind].suffix


@dataclass(frozen=True, eq=False)
class Study:
    """A study; :func:`read_study` makes one.

    Attributes
    ----------
    source, tank_source : the two files. tank_text : the tank file's text.
    tables : of the tank file as it stands.
    logs : files that each variant is put through; log_options : how they are read, in SI.
    """

    source: Path
    name: str
    tank_source: Path
    tank_text: str
    tables: dict[str, Any]
    compute: tuple[str, ...]
    variants: Variants
    settings: Settings
    wants: tuple[Want, ...] = ()
    logs: tuple[Path, ...] = ()
    log_options: Mapping[str, Any] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """How many rows the study has: variants, each with every log where there are logs."""
        return self.variants.count * max(1, len(self.logs))

    def row(self, k: int) -> tuple[list[Value], Path | None]:
        """The values of row ``k``, counted from 0, and its log; the log changes quickest."""
        if not self.logs:
            return self.variants.values(k), None
        variant, log = divmod(k, len(self.logs))
        return self.variants.values(variant), self.logs[log]

    def changes(self, values: list[Value]) -> dict[tuple[str | int, ...], object]:
        """What these values put where in the tank file. Raises FileFormatError, QuantityError."""
        return changed(copy.deepcopy(self.tables), self._keyed, values)

    @property
    def _keyed(self) -> list[tuple[tuple[str | int, ...], ...]]:
        return [one.paths for one in self.variants.vary]

    @property
    def columns(self) -> dict[str, type]:
        """The columns of measures, each with its type."""
        return dict(columns_of(self.compute))

    @property
    def objectives(self) -> tuple[Want, ...]:
        """What is wanted small or great."""
        return tuple(want for want in self.wants if want.aim)

    @cached_property
    def job(self) -> dict[str, Any]:
        """All that a process needs to compute rows, as plain data; what is wanted is not in it."""
        return {
            "tank": str(self.tank_source.resolve()),
            "text": self.tank_text,
            "keys": self._keyed,
            "compute": self.compute,
            "settings": asdict(self.settings),
            "log_options": dict(self.log_options),
        }

    @cached_property
    def identity(self) -> str:
        """Hash of everything that rows depend on: files, values, settings and the program itself."""
        vary = [(one.key, one.paths, repr(one.values)) for one in self.variants.vary]
        how = (self.variants.sampled, self.variants.seed)
        logs = [(log.name, file_hash(log)) for log in self.logs]
        job = {**self.job, "tank": None, "text": self.tables}
        whole = [code_version(), vary, how, job, logs, file_hashes(self.tables, self.tank_source)]
        return hashlib.sha256(json.dumps(whole, sort_keys=True, default=str).encode()).hexdigest()


def changed(
    tables: dict[str, Any], keyed: Any, values: list[Value]
) -> dict[tuple[str | int, ...], object]:
    """Put values into the tables of a tank file, in place; returns what was written where."""
    written: dict[tuple[str | int, ...], object] = {}
    for paths, value in zip(keyed, values, strict=True):
        for path in paths:
            place, text = apply(tables, path, value)
            written[place] = text
    return written


@cache
def code_version() -> str:
    """The program's version, and a hash of its own sources: any edit may change a figure."""
    from tanksolve.kernel.code_store import sources_hash

    return f"{__version__}+{sources_hash(str(Path(__file__).parents[1]))[:12]}"


def file_hash(path: Path) -> str:
    """SHA-256 of a file, read in pieces. Raises FileFormatError where it cannot be read."""
    from tanksolve.gate.files import opened

    digest = hashlib.sha256()
    with opened(path, 1 << 40, "file of a study", FileFormatError) as file:
        while piece := file.read(1 << 20):
            digest.update(piece)
    return digest.hexdigest()


def file_hashes(tables: Mapping[str, Any], source: Path) -> dict[str, str]:
    """Hashes of the mesh files that a tank file names, by name; a file that is not there has none."""
    named = [tables.get("tank"), *(b.get("tank") for b in tables.get("body", []) if _is_table(b))]
    files = {table["file"] for table in named if _is_table(table) and _is_text(table.get("file"))}
    found = {}
    for name in sorted(files):
        try:
            found[name] = file_hash(source.parent / name)
        except FileFormatError:
            found[name] = ""
    return found


def _is_table(value: object) -> bool:
    return isinstance(value, dict)


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def read_study(path: str | Path) -> Study:
    """Read a study file and the tank file that it names.

    Raises
    ------
    FileFormatError : no such file, no TOML, a wrong key or value, a key that the tank file cannot have,
        too many variants; with file, line and key.
    """
    from tanksolve.study.study_file import validated

    source = Path(path)
    text = read_text(source, _WHAT, "check the name; " + _ADVICE)
    data = parse_text(text, str(source), _WHAT, _ADVICE)
    numbers = line_numbers(text)
    check_bounds(data, numbers, str(source))
    return _Reader(validated(data, numbers, str(source)), source, numbers).study()


class _Reader:
    """Makes a study of a validated file, telling each error where its key stands."""

    def __init__(self, file: "StudyFile", source: Path, numbers: Mapping[Place, int]) -> None:
        self.file, self.source, self.numbers = file, source, numbers

    def study(self) -> Study:
        file = self.file
        tank = self.source.parent / file.tank
        text = self._at(lambda: read_text(tank), "tank")
        tables = parse_text(text, str(tank))
        vary = tuple(self._vary(k, one, tables) for k, one in enumerate(file.vary))
        self._check_once(vary)
        sample = file.sample
        variants = Variants(vary, sample.variants if sample else 0, sample.seed if sample else 0)
        if sample and not vary:
            raise self._refused("there is nothing to sample", "sample", allowed="[[vary]] tables")
        self._at(lambda: check_counts(variants, [one.key for one in vary], ""), "vary")
        settings = self._settings(file.settings)
        study = Study(
            source=self.source,
            name=file.name,
            tank_source=tank,
            tank_text=text,
            tables=tables,
            compute=self._compute(),
            variants=variants,
            settings=settings,
            wants=tuple(self._want(k, one) for k, one in enumerate(file.want)),
            logs=self._logs(),
            log_options=self._log_options(),
        )
        if study.count > _MOST_ROWS:
            raise self._refused(
                f"{study.count:,} rows of variants and logs",
                "vary",
                allowed=f"up to {_MOST_ROWS:,}",
            )
        self._check_keys(study)
        return study

    def _vary(self, k: int, one: "VaryTable", tables: Mapping[str, Any]) -> Vary:
        if (one.key is None) == (one.keys is None):
            raise self._refused("give one of 'key' and 'keys'", "vary", k)
        keys = (one.key,) if one.key is not None else one.keys or ()
        where = self._where("vary", k)
        paths = tuple(path_of(key, tables, where) for key in keys)
        ranged = (one.from_, one.to)
        if (one.values is None) == (ranged == (None, None)) or (one.values and one.step):
            allowed = 'values = [...], or from = "...", to = "..." and step = "..."'
            raise self._refused("give a list of values or a range", "vary", k, allowed=allowed)
        if one.values is not None:
            return Vary(keys[0], paths, Choices(one.values))
        if one.from_ is None or one.to is None:
            raise self._refused("a range needs 'from' and 'to'", "vary", k)
        return Vary(keys[0], paths, Range.of(one.from_, one.to, one.step, where))

    def _check_once(self, vary: tuple[Vary, ...]) -> None:
        paths = [path for one in vary for path in one.paths]
        for k, one in enumerate(vary):
            if any(paths.count(path) > 1 for path in one.paths):
                raise self._refused(f"'{one.key}' varies twice", "vary", k)

    def _compute(self) -> tuple[str, ...]:
        compute = tuple(dict.fromkeys(self.file.compute))
        of_log = [name for name in compute if MEASURES[name].of_log]
        if bool(of_log) != bool(self.file.logs):
            what = f"'{of_log[0]}' is of a log" if of_log else "no figure of the logs is computed"
            allowed = (
                "a [logs] table with log_kept, log_broken, log_not_known, log_margin; or neither"
            )
            raise self._refused(what, "compute", allowed=allowed)
        return compute

    def _settings(self, table: "SettingsTable") -> Settings:
        if "metal_mass" in self.file.compute and not (table.plate and table.metal_density):
            allowed = 'settings.plate = "3 mm" and settings.metal_density = "7850 kg/m3"'
            raise self._refused("'metal_mass' needs the plate", "compute", allowed=allowed)
        settings = Settings(
            require=() if table.require is None else (table.require,),
            search_to_deg=round(degrees(table.search_to), 12),
            headings_every_deg=round(degrees(table.headings_every), 12),
            tolerance_deg=round(degrees(table.tolerance), 12),
            fill_tolerance_m=table.fill_tolerance,
            plate_m=table.plate,
            metal_density=table.metal_density,
            time_limit_s=table.time_limit,
        )
        limits = (
            ("search_to", settings.search_to_deg, 0.01, 89.9),
            ("headings_every", settings.headings_every_deg, 0.1, 90.0),
            ("tolerance", settings.tolerance_deg, 1e-6, 5.0),
        )
        for name, value, low, high in limits:
            if not low <= value <= high:
                allowed = f"{low:g} to {high:g} deg"
                raise self._refused(f"{value:g}° cannot be used", "settings", name, allowed=allowed)
        self._at(lambda: settings.requirement, "settings", "require")
        return settings

    def _want(self, k: int, one: "WantTable") -> Want:
        if one.measure not in self.file.compute:
            what = f"'{one.measure}' is wanted but not computed"
            raise self._refused(what, "want", k, next_step=f"add '{one.measure}' to compute")
        if one.at_least is None and one.at_most is None and one.aim is None:
            allowed = 'at_least = "15 deg", at_most = "60 L", aim = "least" or "most"'
            raise self._refused(f"of '{one.measure}' nothing is wanted", "want", k, allowed=allowed)
        read = KINDS[MEASURES[one.measure].kind].read
        if one.aim and self.file.logs:
            allowed = "limits; with logs each row is one log, and the best log is no choice"
            raise self._refused("an aim beside logs", "want", k, allowed=allowed)
        limits = (one.at_least, one.at_most)
        least, most = (
            None if text is None else self._at(partial(read, text, ""), "want", k)
            for text in limits
        )
        return Want(one.measure, least, most, one.aim)

    def _logs(self) -> tuple[Path, ...]:
        if self.file.logs is None:
            return ()
        pattern = self.file.logs.files
        try:
            found = sorted(p for p in self.source.parent.glob(pattern) if p.is_file())
        except (ValueError, NotImplementedError, OSError, IndexError):  # absolute, '**x', a NUL
            found = []
        if not 0 < len(found) <= _MOST_LOGS:
            what = f"'{pattern}' names {len(found):,} files beside the study file"
            raise self._refused(
                what, "logs", "files", allowed=f"1 to {_MOST_LOGS:,}, as logs/*.csv"
            )
        return tuple(path.resolve() for path in found)

    def _log_options(self) -> dict[str, Any]:
        table = self.file.logs
        if table is None:
            return {}
        return {
            "names": table.columns,
            "units": table.units,
            "reversed_signs": sorted(table.reverse),
            "reading": table.reading,
            "acceleration": table.acceleration,
            "decimal": table.decimal,
            "gap": table.gap,
            "time_constant": table.filter,
        }

    def _check_keys(self, study: Study) -> None:
        """Refuse keys that no tank file has, before a million variants are told so one by one."""
        from tanksolve.project.complaints import validated as valid_tank

        for k, one in enumerate(study.variants.vary):
            values = (one.values.values[0],) if isinstance(one.values, Choices) else ()
            first = values[0] if values else one.values.between(0.0)
            tables = copy.deepcopy(study.tables)

            def put(one: Vary = one, first: Value = first, tables: Any = tables) -> None:
                changed(tables, [one.paths], [first])

            self._at(put, "vary", k)
            try:
                valid_tank(tables, {}, str(study.tank_source))
            except FileFormatError as error:
                if error.what.startswith("unknown key"):
                    raise self._refused(
                        f"'{one.key}': {error.what}",
                        *("vary", k),
                        allowed=error.allowed,
                        next_step=error.next_step,
                    ) from None

    def _at(self, make: Callable[[], Any], *path: str | int) -> Any:
        try:
            return make()
        except TanksolveError as error:
            raise error.at(self._where(*path)) from None

    def _refused(
        self, what: str, *path: str | int, allowed: str = "", next_step: str = ""
    ) -> FileFormatError:
        return FileFormatError(what, where=self._where(*path), allowed=allowed, next_step=next_step)

    def _where(self, *path: str | int) -> str:
        line = line_of(path, self.numbers)
        shown = ".".join(str(step + 1) if isinstance(step, int) else step for step in path)
        name = str(self.source)
        return f"{name}, line {line}, {shown}" if line else f"{name}, {shown}"
