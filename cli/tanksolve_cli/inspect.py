"""``tanksolve inspect``: what a tank file or mesh holds, before any question is asked."""

from typing import TYPE_CHECKING

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.geometry.mesh_report import MeshReport
    from tanksolve.present.inspect_document import Inspected
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = "tanksolve inspect tank.stl --unit mm --forward +x --up +z"


@asks()
def _inspect(ask: Ask, words: TankWords) -> None:
    """Check a tank and say back what was understood: sizes, volume, ports, axes, every fault.

    Exit code 3 for a mesh that cannot be used as it is, 4 for one that leaves a choice open.
    """
    from tanksolve.present.inspect_document import Inspected, inspect_document
    from tanksolve_cli.case import mesh_body, mesh_chord, read_case

    report = None
    with busy("reading and checking the tank"):
        if words.tank is not None and not words.tank.endswith(".toml"):
            from tanksolve.geometry.mesh_report import inspect_mesh

            report = inspect_mesh(
                *(words.tank, words.unit, words.forward, words.up),
                body=mesh_body(words),
                chord=mesh_chord(words),
            )
        if _is_decided(report, words):
            case = read_case(words, report.intake if report else None)
            case.wall_tank.check_ports(case.wall_ports)
            found = _inspected(report, case)
        else:
            found = Inspected(report, None)
    answer(inspect_document(found), ask)


def _is_decided(report: "MeshReport | None", words: TankWords) -> bool:
    """Whether there is one thing that the tank can be."""
    if report is None:
        return True
    chosen = len(report.readings) == 1 or words.meaning or words.plug
    return bool(report.usable and not report.missing and chosen)


def _inspected(report: "MeshReport | None", case: "Case") -> "Inspected":
    """The compartments of a tank file with baffles, and the roofs that cannot vent."""
    from tanksolve.present.inspect_document import Inspected

    project = case.project
    division = None
    if project is not None and project.parts is not None and project.parts.baffles:
        division = project.compartments()
    return Inspected(report, case.inputs, division, case.roofs)


register = tank_command("inspect", _inspect, _EXAMPLE)
