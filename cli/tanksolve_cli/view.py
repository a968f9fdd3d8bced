"""``tanksolve view``: the tank in a window that tilts it; stills and an animation where there is no screen."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.model.attitude import Attitude
    from tanksolve.present.tilt_view import Tilted

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve view --box 900x300x300mm --fill 42L "
    "--pickup suction=450,150,40mm,bore=38mm,facing=down --attitude 10deg,5deg --frames 6 -o tilt.gif"
)
_ENDINGS = (".gif", ".png", ".svg", ".pdf")


@asks()
def _view(
    ask: Ask,
    words: TankWords,
    attitude: Annotated[
        str | None,
        typer.Option(metavar="ATTITUDE", help="As 10deg,-5deg; without it each side in turn."),
    ] = None,
    most: Annotated[bool, typer.Option("--most", help="Of a fill range take the most.")] = False,
    frames: Annotated[int, typer.Option(help="Pictures of the animation.")] = 24,
    output: Annotated[
        list[Path] | None,
        typer.Option(
            "--output",
            "-o",
            help="Write .gif (tilting) or a still (.png, .svg, .pdf) instead of a window.",
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over existing files.")] = False,
) -> None:
    """Show the tank with its liquid and tilt it: a window, or files where there is no screen."""
    from tanksolve.files import check_new, check_text_path
    from tanksolve.model.attitude import Attitude
    from tanksolve.present.tilt_view import Tilted, tilt_steps, view_document
    from tanksolve.present.window import TiltWindow, has_screen
    from tanksolve.project.motion_words import parse_attitude
    from tanksolve_cli.case import read_case

    window = not output and has_screen()
    files = [] if window else (output or [Path("tilt.gif"), Path("tilt.png")])
    for path in files:
        check_text_path(path, _ENDINGS, "--output")
        if not force:
            check_new(path)
    asked = None if attitude is None else parse_attitude(attitude)
    movements = tilt_steps(asked, frames)
    with busy("reading the tank and drawing it"):
        case = read_case(words)
        volume = case.fill.most if most else case.fill.least
        tilted = Tilted(case.tank, case.ports, volume, case.inputs.first_note)
        at = asked or (Attitude.level() if window else movements[0][-1])
        for path in files:
            _write(tilted, at, movements, path)
    if window:
        TiltWindow(tilted, at).show()
    answer(view_document(case.inputs, tilted, tilted.at(at)), ask, files)


def _write(tilted: "Tilted", at: "Attitude", movements: "list[list[Attitude]]", path: Path) -> None:
    """One file: the animation, or a still."""
    from tanksolve.present.save import own_look, save_picture
    from tanksolve.present.solid_view import solid_figure
    from tanksolve.present.tilt_view import save_tilt

    with own_look():
        if path.suffix.lower() == ".gif":
            save_tilt(tilted, movements, path)
        else:
            figure = solid_figure(tilted.tank, tilted.at(at), tilted.ports, note=tilted.note)
            save_picture(figure, path)


register = tank_command("view", _view, _EXAMPLE)
