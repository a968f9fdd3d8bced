"""``tanksolve replay``: what a recorded day would have done to this tank."""

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from tanksolve_cli.motion import running_left_of
from tanksolve_cli.output import echo_case, echo_cautions, print_json, print_table
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.pump_options import AsJson, Flow, Held, Line, given
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
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
            "distance_m, elevation_m, heading_deg.",
        ),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(metavar="pitch=Inc1", help="Which column is what, where names do not say."),
    ] = None,
    column_unit: Annotated[
        list[str] | None,
        typer.Option(metavar="pitch=deg", help="A column's unit, where its name does not say."),
    ] = None,
    reverse: Annotated[
        list[str] | None,
        typer.Option(metavar="roll", help="A column signed against nose up +, right side down +."),
    ] = None,
    reading: Annotated[
        str, typer.Option(help="What pitch and roll are: inclinometer, rotations, projected.")
    ] = "inclinometer",
    gap: Annotated[
        str | None, typer.Option(metavar="5s", help="Rows further apart are a gap.")
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
    options = _options(column, column_unit, reverse, reading, gap, filter_, speed)
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
    if not result.holds:
        raise typer.Exit(3)


def _options(
    column: list[str] | None,
    column_unit: list[str] | None,
    reverse: list[str] | None,
    reading: str,
    gap: str | None,
    filter_: str | None,
    speed: str | None,
) -> "LogOptions":
    from tanksolve.errors import AttitudeError
    from tanksolve.questions.replay.replay import LogOptions
    from tanksolve.units import parse

    readings = ("inclinometer", "rotations", "projected")
    if reading not in readings:
        raise AttitudeError(
            f"'{reading}' is no reading", where="--reading", allowed=", ".join(readings)
        )
    return LogOptions(
        names=_pairs(column, "--column"),
        units=_pairs(column_unit, "--column-unit"),
        reversed_signs=frozenset(reverse or ()),
        reading=reading,  # type: ignore[arg-type]  # one of the three, by the check above
        gap=None if gap is None else parse(gap, "time", "--gap"),
        time_constant=None if filter_ is None else parse(filter_, "time", "--filter"),
        speed=None if speed is None else parse(speed, "speed", "--speed"),
    )


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
    lines = ["port,start_s,length_s,line,worst_time_s,worst_line,worst_margin_m,running_left_s"]
    for port in result.ports:
        for e in port.excursions:
            left = "" if e.running_left_s is None else f"{e.running_left_s!r}"
            lines.append(
                f'"{e.port}",{e.start_s!r},{e.length_s!r},{e.line},{e.worst.time_s!r},'
                f"{e.worst.line},{e.worst.margin_m!r},{left}"
            )
    return "\n".join(lines) + "\n"


def _print(result: "Replay") -> None:
    typer.echo("")
    typer.echo(
        f"log     {result.log}: {result.rows} rows used, {result.start_s:g} s to {result.end_s:g} s"
    )
    for column in result.columns:
        unit = "date and time" if column.is_stamp else column.unit
        sign = ", sign reversed" if column.factor < 0.0 else ""
        typer.echo(f"        {column.quantity}: column '{column.header}' [{unit}]{sign}")
    if result.time_constant_s is not None:
        typer.echo(f"        smoothed by a time constant of {result.time_constant_s:g} s")
    if result.problem_count:
        typer.echo(f"        {result.problem_count} remarks on its lines, the first:")
        for problem in result.problems[:_SHOWN]:
            typer.echo(f"        line {problem.line}: {problem.words}")
    typer.echo("")
    print_table(
        ("port", "rule", "excursions", "time out", "longest", "least margin", "at line"),
        [_port_row(port) for port in result.ports],
        "margins over the whole log",
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


def _port_row(port: "PortReplay") -> tuple[str, ...]:
    return (
        port.port,
        port.rule,
        f"{port.excursion_count}",
        f"{port.seconds_out:.1f} s",
        f"{port.longest_s:.1f} s",
        f"{1000.0 * port.worst.margin_m:+.1f} mm",
        f"{port.worst.line}",
    )


def _excursion_row(e: Any) -> tuple[str, ...]:
    left = "-" if e.running_left_s is None else f"{e.running_left_s:+.1f} s"
    return (
        e.port,
        f"{e.start_s:.1f} s",
        f"{e.length_s:.1f} s" + ("?" if e.cut_short else ""),
        f"{-1000.0 * e.worst.margin_m:.1f} mm",
        f"{e.worst.time_s:.1f} s",
        f"{e.worst.line}",
        left,
    )
