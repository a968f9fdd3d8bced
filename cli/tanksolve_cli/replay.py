"""``tanksolve replay``: what a recorded day would have done to this tank."""

import math
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from tanksolve.unit_systems import told
from tanksolve_cli.motion import running_left_of
from tanksolve_cli.output import echo_case, echo_cautions, print_json, print_table
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.pump_options import AsJson, Flow, Held, Line, given
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.questions.replay.excursions import Excursion
    from tanksolve.questions.replay.log_columns import Column
    from tanksolve.questions.replay.outcome import Outcome
    from tanksolve.questions.replay.replay import LogOptions, PortReplay, Replay
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve replay --box 900x300x300mm --fill 42L --pickup suction=450,150,40mm "
    "--log day.csv --flow 60L/min --line 38.1mm,1.5m --plot day.png --worst worst.png"
)
_SHOWN = 12


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "replay", takes_tank(_replay), _EXAMPLE)


def _replay(
    words: TankWords,
    log: Annotated[
        Path | None,
        typer.Option(
            metavar="day.csv",
            help="Columns such as time_s, pitch_deg, roll_deg (ax_g, fill_L); or a route's "
            "distance_m, elevation_m, heading_deg. CSV, also gzip; Parquet with tanksolve[logs].",
        ),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(metavar="pitch=Inc1", help="Which column is what, where names do not say."),
    ] = None,
    column_unit: Annotated[
        list[str] | None,
        typer.Option(
            metavar="pitch=deg", help="A column's unit, where its name does not say; time=d/m/y."
        ),
    ] = None,
    reverse: Annotated[
        list[str] | None,
        typer.Option(metavar="roll", help="A column signed against nose up +, right side down +."),
    ] = None,
    reading: Annotated[
        str, typer.Option(help="What pitch and roll are: inclinometer, rotations, projected.")
    ] = "inclinometer",
    acceleration: Annotated[
        str | None,
        typer.Option(
            help="What acceleration columns are: own (the machine's), felt (with gravity)."
        ),
    ] = None,
    decimal: Annotated[
        str | None, typer.Option(help="The decimal mark where in doubt: comma, point.")
    ] = None,
    gap: Annotated[
        str | None,
        typer.Option(metavar="5s", help="Rows further apart are a gap; else three usual steps."),
    ] = None,
    filter_: Annotated[
        str | None,
        typer.Option("--filter", metavar="2s", help="Smooth by this time constant, for slosh."),
    ] = None,
    speed: Annotated[
        str | None, typer.Option(metavar="20km/h", help="Along a route without times.")
    ] = None,
    flow: Flow = None,
    line: Line = None,
    held: Held = "0L",
    plot: Annotated[
        list[Path] | None, typer.Option(help="Write margins against time (.png, .svg, .pdf).")
    ] = None,
    worst: Annotated[
        list[Path] | None, typer.Option(help="Write a picture of the worst moment.")
    ] = None,
    csv: Annotated[Path | None, typer.Option(help="Write the excursions as CSV.")] = None,
    as_json: AsJson = False,
) -> None:
    """Run a log of pitch and roll, or a route, through the tank."""
    inputs = given(**locals())
    from tanksolve.errors import FileFormatError
    from tanksolve.questions.replay.replay import replay
    from tanksolve_cli.case import read_case

    if log is None:
        raise FileFormatError("no log is given", where="--log", allowed="a CSV file")
    check_pictures(plot, worst)
    options = _options(
        {"names": column, "units": column_unit},
        {"reading": reading, "acceleration": acceleration, "decimal": decimal},
        {"gap": (gap, "time"), "time_constant": (filter_, "time"), "speed": (speed, "speed")},
        reverse,
    )
    left = running_left_of(flow, line, held)
    if csv is not None:
        from tanksolve.files import check_text_path

        check_text_path(csv, (".csv", ".txt"), "--csv")
    with busy("reading the tank"):
        case = read_case(words)
    result = replay(
        case.tank,
        case.ports,
        case.fill,
        log,
        options,
        hold=None if left is None else left.seconds,
        progress=_progress(),
    )
    _draw(result, case, plot or [], worst or [])
    if csv is not None:
        from tanksolve.files import write_text

        write_text(csv, _csv(result))
    if as_json:
        from tanksolve.record import as_plain

        print_json("replay", inputs, as_plain(result), (*case.cautions, *result.cautions))
    else:
        echo_case(case)
        if case.pickups == "any":
            typer.echo("        each pickup is judged by itself here, --any-pickup or not")
        _print(result)
    tell_pictures(as_json, plot, worst, [csv] if csv else None)
    if result.verdict != "kept":
        raise typer.Exit(3 if result.verdict == "broken" else 4)


_CHOICES = {
    "reading": ("inclinometer", "rotations", "projected"),
    "acceleration": ("own", "felt"),
    "decimal": ("comma", "point"),
}


def _options(
    pairs: dict[str, list[str] | None],
    choices: dict[str, str | None],
    quantities: dict[str, tuple[str | None, str]],
    reverse: list[str] | None,
) -> "LogOptions":
    from tanksolve.errors import FileFormatError
    from tanksolve.questions.replay.replay import LogOptions
    from tanksolve.units import parse

    for name, value in choices.items():
        if value is not None and value not in _CHOICES[name]:
            raise FileFormatError(
                f"'{value}' is no {name}", where=f"--{name}", allowed=", ".join(_CHOICES[name])
            )
    options = {"time_constant": "--filter", "names": "--column", "units": "--column-unit"}
    given: dict[str, Any] = {n: _pairs(texts, options[n]) for n, texts in pairs.items()}
    for name, (text, kind) in quantities.items():
        where = options.get(name, f"--{name}")
        given[name] = None if text is None else parse(text, kind, where)
    return LogOptions(**given, **choices, reversed_signs=frozenset(reverse or ()))  # type: ignore[arg-type]


def _pairs(texts: list[str] | None, where: str) -> dict[str, str]:
    from tanksolve.errors import FileFormatError

    pairs = {}
    for text in texts or []:
        quantity, equals, value = text.partition("=")
        if not (equals and quantity and value):
            raise FileFormatError(
                f"'{text}' is no pair", where=where, allowed="as in pitch=Inc1 or pitch=deg"
            )
        pairs[quantity.strip()] = value.strip()
    return pairs


def _progress() -> Callable[[int, int], None]:
    """Tell on stderr how far the log is, from one second on and then every two."""
    begun = time.monotonic()
    told = begun - 1.0

    def tell(done: int, total: int) -> None:
        nonlocal told
        now = time.monotonic()
        if now - told >= 2.0 and done < total:
            told = now
            ahead = (now - begun) * (total - done) / max(done, 1)
            sys.stderr.write(f"  {100.0 * done / total:.0f} % of the log, {ahead:.0f} s to go\n")

    return tell


def _draw(result: "Replay", case: "Case", plots: list[Path], worst: list[Path]) -> None:
    if not (plots or worst):
        return
    from tanksolve.present.replay_plot import replay_figure, worst_moment_figure

    if plots:
        save_pictures(replay_figure(result), plots)
    if worst:
        figure = worst_moment_figure(
            result, case.tank, case.ports, case.fill, unit=case.volume_unit
        )
        save_pictures(figure, worst)


def _csv(result: "Replay") -> str:
    lines = [
        "port,start_s,length_s,line,worst_time_s,worst_line,worst_margin_m,running_left_s,fault"
    ]
    for port in result.ports:
        for e in port.excursions:
            left = "" if e.running_left_s is None else f"{e.running_left_s!r}"
            lines.append(
                f'"{e.port}",{e.start_s!r},{e.length_s!r},{e.line},{e.worst.time_s!r},'
                f"{e.worst.line},{e.worst.margin_m!r},{left},{e.fault}"
            )
    return "\n".join(lines) + "\n"


def _print(result: "Replay") -> None:
    typer.echo("")
    _print_log(result)
    typer.echo("")
    _print_answer(result)
    print_table(
        ("port", "rule", "kept", "broken", "not known", "times", "longest", "least margin", "line"),
        [_port_row(port) for port in result.ports],
        "each port over the whole log",
        left=(0, 1),
    )
    excursions = [e for port in result.ports for e in port.excursions]
    excursions.sort(key=lambda e: e.worst.margin_m)
    if excursions:
        typer.echo("")
        rows = [_excursion_row(e) for e in excursions[:_SHOWN]]
        columns = ("port", "from", "lasting", "depth", "worst at", "line", "running left")
        print_table(columns, rows, f"deepest excursions ({len(rows)} shown)", left=(0,))
    echo_cautions(result.cautions)


def _print_log(result: "Replay") -> None:
    """What was read, and the first rows as they were understood."""
    step = "" if result.step_s is None else f", usually {result.step_s:g} s from row to row"
    typer.echo(
        f"log     {result.log}: {result.rows} rows, {result.start_s:g} s to {result.end_s:g} s{step}"
    )
    for k, column in enumerate(result.columns):
        unit = _STAMPS.get(column.stamp, column.unit)
        sign = f", {column.sign}" if column.sign else ""
        first = ", ".join(_value(column, row[k]) for row in result.first_rows)
        typer.echo(
            f"        {column.quantity}: column '{column.header}' [{unit}]{sign}; first {first}"
        )
    if result.time_constant_s is not None:
        typer.echo(f"        smoothed by a time constant of {result.time_constant_s:g} s")
    if result.problem_count:
        typer.echo(f"        {result.problem_count} remarks on its lines, the first:")
        for problem in result.problems[:_SHOWN]:
            typer.echo(f"        line {problem.line}: {problem.words}")


_STAMPS = {
    "zoned": "date and time with its offset from UTC",
    "local": "date and time without a zone",
    "d/m/y": "date and time, day first",
    "m/d/y": "date and time, month first",
}
_SHOWN_IN = {
    "acceleration": (1.0 / 9.80665, "g"),
    "distance": (1.0, "m"),
    "time": (1.0, "s"),
}


def _value(column: "Column", value: float | None) -> str:
    """One value as it was understood, with this project's sign and unit."""
    if value is None:
        return "nothing"
    if column.is_stamp:
        zone = " UTC" if column.stamp == "zoned" else ""
        return f"{datetime.fromtimestamp(value, UTC):%Y-%m-%d %H:%M:%S}{zone}"
    kind = column.kind
    if kind == "volume":
        return told(value, kind)
    if kind != "angle":
        factor, unit = _SHOWN_IN[kind]
        return f"{factor * value:.4g} {unit}" if kind != "time" else f"{value:g} s"
    degrees = math.degrees(value)
    if column.quantity == "heading":
        return f"{degrees:.1f}°"
    ways = {"pitch": ("nose up", "nose down"), "roll": ("right side down", "left side down")}
    if round(degrees, 2) == 0.0:
        return "level"
    grade = f" ({100.0 * math.tan(abs(value)):.1f} %)" if abs(degrees) < 90.0 else ""
    return f"{abs(degrees):.2f}°{grade} {ways[column.quantity][degrees < 0.0]}"


def _print_answer(result: "Replay") -> None:
    """The three answers in seconds and as shares, and why what is not known is not."""
    words = {"kept": "kept", "broken": "BROKEN", "not known": "NOT KNOWN"}[result.verdict]
    typer.echo(f"answer  {words}, all rules over the whole log")
    carried = result.carried
    if carried is not None:
        typer.echo("        whatever the machine did before each row:")
    _print_outcome(result.outcome)
    for reason in result.why_not_known:
        typer.echo(f"        not known: {reason}")
    if result.this_route is not None and carried is not None:
        typer.echo(
            f"        along this route ({carried.filled}; liquid carried in steps of"
            f" {carried.step_deg:g}°, {carried.stops} stops: a sample, no bound):"
        )
        _print_outcome(result.this_route)
        for least in carried.least:
            typer.echo(
                f"        {least.port}: least margin along this route {_signed(least.margin_m)}, line"
                f" {least.line}, {least.time_s:g} s"
            )
        if carried.ended_s is not None:
            typer.echo(f"        too many stops: carried to {carried.ended_s:g} s and no further")
    typer.echo("")


def _print_outcome(outcome: "Outcome") -> None:
    lines = (
        ("kept", outcome.kept_s, outcome.kept_share, outcome.kept_rows),
        ("broken", outcome.broken_s, outcome.broken_share, outcome.broken_rows),
        ("not known", outcome.not_known_s, outcome.not_known_share, outcome.not_known_rows),
    )
    for title, seconds, share, rows in lines:
        typer.echo(f"        {title:<10}{seconds:>12.1f} s {100.0 * share:6.2f} %, {rows} rows")


def _signed(metres: float) -> str:
    return ("+" if metres >= 0.0 else "") + told(metres, "length")


def _port_row(port: "PortReplay") -> tuple[str, ...]:
    return (
        port.port,
        port.rule,
        f"{port.outcome.kept_s:.1f} s",
        f"{port.outcome.broken_s:.1f} s",
        f"{port.outcome.not_known_s:.1f} s",
        f"{port.excursion_count}",
        f"{port.longest_s:.1f} s",
        _signed(port.worst.margin_m),
        f"{port.worst.line}",
    )


def _excursion_row(e: "Excursion") -> tuple[str, ...]:
    left = "-" if e.running_left_s is None else f"{e.running_left_s:+.1f} s"
    depth = told(-e.worst.margin_m, "length")
    return (
        e.port,
        f"{e.start_s:.1f} s",
        f"{e.length_s:.1f} s" + ("?" if e.cut_short else ""),
        e.fault if e.fault and e.worst.margin_m >= 0.0 else depth,
        f"{e.worst.time_s:.1f} s",
        f"{e.worst.line}",
        left,
    )
