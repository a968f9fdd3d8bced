"""``tanksolve schema``: the JSON Schema of the tank file, for editors."""

import typer

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("schema", epilog="Example: tanksolve schema > tank_file.schema.json")(_schema)


def _schema() -> None:
    """Print the JSON Schema of the tank file, by which editors complete and check keys."""
    from tanksolve.project.schema import schema_json

    typer.echo(schema_json())
