"""``tanksolve study``: many variants of a tank, or many logs, computed and compared."""

from pathlib import Path
from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer
from tanksolve_cli.tank_options import command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = "Example: tanksolve study meshes/sump_study.toml --out sump_study"


def _study(
    file: Annotated[Path, typer.Argument(help="The study file; docs/study.md tells its keys.")],
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for the results; else the file's name with _results."),
    ] = None,
    processes: Annotated[
        int | None, typer.Option(min=1, max=1024, help="Processes; else one for each processor.")
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="A Dask scheduler's address, or its scheduler file."),
    ] = None,
    full: Annotated[bool, typer.Option("--full", help="Tell everything.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="As JSON, in SI.")] = False,
    force: Annotated[
        bool, typer.Option("--force", help="Throw away results of other inputs in the folder.")
    ] = False,
    units: Annotated[
        str | None, typer.Option(metavar="metric|us|imperial", help="Units to answer in.")
    ] = None,
) -> None:
    """Compute all variants of a study file and tell which are best.

    Whatever ends it, the same command goes on from there: only what is missing is computed.
    """
    from tanksolve.present.save import own_look, save_picture
    from tanksolve.present.study_document import study_document
    from tanksolve.project.tank_words import TankWords
    from tanksolve.project.typed_units import system_of
    from tanksolve.study.run import run_study
    from tanksolve.study.study import read_study
    from tanksolve.unit_systems import using

    with busy("reading the study and computing its variants"):
        study = read_study(file)
        folder = out or file.with_name(f"{file.stem}_results")
        found = run_study(study, folder, processes=processes, cluster=cluster, force=force)
        document = study_document(found)
        system = system_of(TankWords(tank=str(study.tank_source), units=units), {})
        pictures = {folder / f"{name}.png": draw for name, draw in document.figures.items()}
        with using(system), own_look():
            for path, draw in pictures.items():
                save_picture(draw(), path)
    given = {"study": str(file), "out": str(folder), "cluster": cluster}
    ask = Ask(as_json=as_json, full=full, system=system, given=given)
    with using(system):
        answer(document, ask, said=(*found.files[:2], *pictures))


register = command("study", _study, _EXAMPLE)
