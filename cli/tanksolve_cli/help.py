"""``tanksolve help``: the options that every command shares, on a page of their own."""

from typing import Annotated

import typer

from tanksolve_cli.tank_options import OPTIONS, PORT, option_name

__all__ = ["register"]

_ATTITUDES = """An attitude, in every command (--attitude) and in the tank file:
  15deg,-5deg                    pitch and roll as two inclinometers read them:
                                 nose up +, right side down +
  slope=9deg,heading=90deg       a slope and which side is uphill: 0deg nose,
                                 90deg left side, 180deg tail, 270deg right side
  nose_up=10deg                  or nose_down, left_down, right_down; join two
A slope is in degrees (15deg), in grade percent (26.8%) or as a ratio (1:4).

What is required, in every command that judges (--require, repeat for more):
  15deg                          every heading up to that slope
  pitch=20deg,roll=10deg         every pitch and roll in that box
  nose_up=30deg,left_down=15deg  a figure for each side
  slope=9deg,heading=90deg       this one attitude
  brake=0.5g,corner=0.8g         on level ground; 10deg,brake=0.5g on a slope
  NAME                           a published preset: docs/presets.md"""
_START = (
    "Topics: tanksolve help tank, tanksolve help attitude. Of a command: tanksolve COMMAND --help"
)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("help", epilog="Example: tanksolve help tank")(_help)


def _help(
    topic: Annotated[str, typer.Argument(metavar="[tank|attitude]", help="What about.")] = "",
) -> None:
    """Show the options of tank, ports and liquid, or how attitudes are written."""
    from tanksolve.errors import TanksolveError

    pages = {"": _START, "tank": _tank_page(), "attitude": _ATTITUDES}
    if topic not in pages:
        raise TanksolveError(
            f"'{topic}' is no topic", where="help", allowed="tank, attitude; or COMMAND --help"
        )
    typer.echo(pages[topic])


def _tank_page() -> str:
    """Every shared option with its form and its meaning, by panels, at 80 columns."""
    import textwrap

    lines: list[str] = [
        "TANK is a tank file (.toml) or a mesh (.stl, .obj, .ply, .3mf, .glb, .step)."
    ]
    panel = ""
    for name, option in OPTIONS.items():
        if not option.get("hidden"):
            continue
        if option["rich_help_panel"] != panel:
            panel = option["rich_help_panel"]
            lines += ["", panel]
        form = "" if option["metavar"] in (None, PORT) else f" {option['metavar']}"
        words = f"{option_name(name) + form:<28} {option['help']}"
        lines += textwrap.wrap(words, 80, initial_indent="  ", subsequent_indent=" " * 31)
    return "\n".join([*lines, "", _PORT])


_PORT = """A port is NAME=X,Y,Zmm: from the rear wall, the right wall and the floor. Then,
as needed: ,bore=38mm  ,facing=down (up, forward, rearward, left, right, or two
joined: rearward+down)  ,cover=50mm  ,length=80mm (a strainer)
,rule=wet|dry|none  ,flow=60L/min"""
