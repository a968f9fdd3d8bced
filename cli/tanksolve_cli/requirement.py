"""The option ``--require``, shared by every command that judges."""

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from tanksolve.model.requirement import Requirement
    from tanksolve.present.document import Document
    from tanksolve_cli.case import Case

__all__ = ["Require", "read_requirement", "with_requirement"]

Require = Annotated[
    list[str] | None,
    typer.Option(
        "--require",
        metavar="15deg|NAME",
        help="Slopes to meet, as 15deg; or a preset. More forms: tanksolve help attitude.",
    ),
]


def read_requirement(texts: list[str] | None) -> "Requirement":
    """Read all ``--require``. Raises RequirementError, also where there is none."""
    from tanksolve.project.requirements import parse_requirements

    return parse_requirements(texts or [])


def with_requirement(document: "Document", case: "Case", texts: list[str] | None) -> "Document":
    """The document with ``--require`` judged beside its own answer, where it is given."""
    if not texts:
        return document
    from tanksolve.present.judged_document import judged
    from tanksolve.questions.envelope.requirement_met import conditions_met
    from tanksolve.state.conditions import Conditions

    requirement = read_requirement(texts)
    conditions = Conditions.of(case.tank, case.ports, case.fill, case.pickups)
    return judged(document, conditions_met(conditions, requirement), requirement)
