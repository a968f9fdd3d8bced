"""``tanksolve schema``: the JSON Schema of the tank file, for editors."""

import typer

from tanksolve_cli.tank_options import command

__all__ = ["register"]


def _schema() -> None:
    """Print the JSON Schema of the tank file, by which editors complete and check keys."""
    from tanksolve.project.schema import schema_json

    typer.echo(schema_json())


register = command("schema", _schema, "Example: tanksolve schema > tank_file.schema.json")
