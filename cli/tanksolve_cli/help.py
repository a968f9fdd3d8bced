"""``tanksolve help``: the options that every command shares, on a page of their own."""

from typing import Annotated

import typer

from tanksolve_cli.tank_options import OPTIONS, PORT, command, option_name

__all__ = ["register"]

_START = (
    "Topics: tanksolve help tank, tanksolve help attitude. Of a command: tanksolve COMMAND --help"
)


def _help(
    topic: Annotated[str, typer.Argument(metavar="[tank|attitude]", help="What about.")] = "",
) -> None:
    """Show the options of tank, ports and liquid, or how attitudes are written."""
    from tanksolve.errors import TanksolveError
    from tanksolve.present.help_pages import ATTITUDES

    pages = {"": _START, "tank": _tank_page(), "attitude": ATTITUDES}
    if topic not in pages:
        raise TanksolveError(
            f"'{topic}' is no topic",
            where="help",
            allowed="tank, attitude",
            next_step="write 'tanksolve help tank', or 'tanksolve COMMAND --help'",
        )
    typer.echo(pages[topic])


def _tank_page() -> str:
    """Every shared option with its form and its meaning, by panels, at 80 columns."""
    import textwrap

    from tanksolve.present.help_pages import PORT as PAGE_OF_PORTS

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
    return "\n".join([*lines, "", PAGE_OF_PORTS])


register = command("help", _help, "Example: tanksolve help tank")
