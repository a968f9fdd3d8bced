"""The options of every answer, and the one place where a document is printed, written and ends the program.

``@asks(...)`` gives a command the options of :class:`TankWords` and those of :class:`Ask`; what has gone is
refused with the name of what took its place.
"""

import functools
import inspect
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Annotated, Any, get_args, get_origin

import typer

from tanksolve.project.typed_units import system_of
from tanksolve.unit_systems import METRIC, UnitSystem, using
from tanksolve_cli.tank_options import TankWords, tank_parameters

if TYPE_CHECKING:
    from tanksolve.present.document import Document

__all__ = ["Ask", "answer", "asks"]

_PANEL = "The answer"
_WITHOUT_VALUE = ("--one-level", "--rotations")  # of those that have gone
_TEXT = typer.Option("--full", help="Tell everything.", rich_help_panel=_PANEL)
_JSON = typer.Option("--json", help="As JSON, in SI.", rich_help_panel=_PANEL)
_FORCE = typer.Option("--force", help="Write over existing files.", rich_help_panel=_PANEL)


@dataclass(frozen=True)
class Ask:
    """How the answer is wanted: its form, its files, its units, and the options as they were given."""

    as_json: bool = False
    full: bool = False
    csv: Path | None = None
    page: Path | None = None
    pictures: tuple[tuple[Path, str], ...] = ()
    force: bool = False
    system: UnitSystem = METRIC
    given: Mapping[str, Any] | None = None

    def check_files(self) -> None:
        """Refuse, before anything is computed, files that cannot or may not be written.

        Raises OutputError.
        """
        from tanksolve.files import check_new, check_text_path
        from tanksolve.present.save import check_picture_path

        for path, _ in self.pictures:
            check_picture_path(path)
        if self.csv is not None:
            check_text_path(self.csv, (".csv", ".txt"), "--csv")
        if self.page is not None:
            check_text_path(self.page, (".md", ".txt"), "--write")
        if not self.force:
            for path in self.files:
                check_new(path)

    @property
    def files(self) -> list[Path]:
        """Every file that is to be written."""
        return [*(path for path, _ in self.pictures), *filter(None, [self.csv, self.page])]


def answer(document: "Document", ask: Ask, said: Sequence[Path] = ()) -> None:
    """Print a document as it was asked for, write its files, and end with the verdict's exit code.

    ``said`` are files that the command wrote itself. Raises OutputError, and typer.Exit for a no.
    """
    document = replace(document, given=ask.given or {})
    bare = None if document.tables else ask.csv  # a no may have nothing to tabulate
    ask = replace(ask, csv=None) if bare else ask
    with using(ask.system):
        if ask.pictures:
            from tanksolve.present.save import own_look, save_picture

            with own_look():
                for path, view in ask.pictures:
                    save_picture(document.figures[view](), path)
        if ask.csv is not None:
            from tanksolve.files import write_text
            from tanksolve.present.as_json import as_csv

            write_text(ask.csv, as_csv(document.tables[0]))
        if ask.page is not None:
            from tanksolve.files import write_text
            from tanksolve.present.as_markdown import as_markdown

            write_text(ask.page, as_markdown(document))
    if ask.as_json:
        from tanksolve.present.as_json import json_text

        typer.echo(json_text(document))
    else:
        from tanksolve.present.as_text import as_text

        typer.echo(as_text(document, ask.full), nl=False)
    for path in (*ask.files, *said):
        typer.echo(f"wrote {path}", err=ask.as_json)
    if bare is not None:
        typer.echo(f"{bare} is not written: this answer has no table", err=True)
    if document.verdict.exit_code:
        raise typer.Exit(document.verdict.exit_code)


def asks(
    views: Sequence[str] = (),
    csv: bool = False,
    page: bool = False,
    retired: Mapping[str, str] | None = None,
) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Decorate ``command(ask, words, **its_own)``.

    views : the pictures it draws, by name, the first unless ``--view`` says another.
    csv : whether it has a table to write.
    page : whether it can be written as a page of text.
    retired : options that have gone, with their dashes, and what is written instead.
    """
    gone = retired or {}

    def decorate(command: Callable[..., None]) -> Callable[..., None]:
        asked = list(inspect.signature(command, eval_str=True).parameters.values())[2:]
        groups = {p.name: found for p in asked if (found := _group(p.annotation))}
        own = [one for p in asked for one in _options_of(p, groups.get(p.name))]
        shared = tank_parameters()
        told = [*_outputs(views, csv, page), *(_gone(name) for name in gone)]
        tank = {parameter.name for parameter in shared}

        @functools.wraps(command)
        def wrapper(context: typer.Context, **given: Any) -> None:
            for name, instead in gone.items():
                if given.pop(_python_name(name)):
                    _refuse(name, instead)
            words = TankWords(**{name: given.pop(name) for name in tank})
            options = {p.name: given.pop(p.name) for p in _outputs(views, csv, page)}
            system = system_of(words, _typed(context, given))
            with using(system):
                ask = _ask(options, views, system)
                ask.check_files()
                _check_apart([*ask.files, *_paths(given), *filter(None, [words.tank])])
                ask = replace(ask, given={**words.as_inputs(), **_plain(given)})
            for name, (kind, table) in groups.items():
                typed = {field: given.pop(field) for field in table}
                given[name] = kind(**{k: None if v == [] else v for k, v in typed.items()})
            with using(METRIC if ask.as_json else system):
                command(ask, words, **given)

        keyword = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in own]
        del wrapper.__wrapped__  # typer would read the inner signature
        context_ = _parameter("context", inspect.Parameter.empty, typer.Context)
        signature = inspect.Signature([shared[0], *keyword, *told, *shared[1:], context_])
        wrapper.__signature__ = signature  # type: ignore[attr-defined]
        wrapper.__annotations__ = {p.name: p.annotation for p in signature.parameters.values()}
        return wrapper

    return decorate


def _group(annotation: Any) -> tuple[Callable[..., Any], Mapping[str, Any]] | None:
    """What ``Annotated[Words, {field: its option}]`` stands for: a dataclass of options; else None."""
    kind, *told = get_args(annotation) if get_origin(annotation) is Annotated else (None,)
    return (kind, told[0]) if is_dataclass(kind) and isinstance(kind, type) else None


def _options_of(
    parameter: inspect.Parameter, group: tuple[Any, Mapping[str, Any]] | None
) -> list[inspect.Parameter]:
    """The parameter itself, or one for each field that it groups."""
    if group is None:
        return [parameter]
    defaults = {field.name: field.default for field in fields(group[0])}
    return [_parameter(name, defaults[name], option) for name, option in group[1].items()]


def _typed(context: typer.Context, given: Mapping[str, Any]) -> dict[str, Any]:
    """The command's own options that were typed, in the order in which they were: defaults have no say."""
    sources = {name: context.get_parameter_source(name) for name in context.params}
    return {
        name: given[name]
        for name, source in sources.items()
        if name in given and source is not None and source.name == "COMMANDLINE"
    }


def _parameter(name: str, default: Any, annotation: Any) -> inspect.Parameter:
    kind = inspect.Parameter.KEYWORD_ONLY
    return inspect.Parameter(name, kind, default=default, annotation=annotation)


def _outputs(views: Sequence[str], csv: bool, page: bool) -> list[inspect.Parameter]:
    """The options of the answer, those of pictures and tables where there are any."""
    found = [
        _parameter("full", False, Annotated[bool, _TEXT]),
        _parameter("as_json", False, Annotated[bool, _JSON]),
    ]
    if views:
        draw = typer.Option(
            metavar="FILE", help="Draw it (.png, .svg, .pdf).", rich_help_panel=_PANEL
        )
        found.append(_parameter("picture", None, Annotated[list[Path] | None, draw]))
    if len(views) > 1:
        which = typer.Option(
            metavar="|".join(views),
            help="Which picture; for several repeat both.",
            rich_help_panel=_PANEL,
        )
        found.append(_parameter("view", None, Annotated[list[str] | None, which]))
    if csv:
        table = typer.Option(metavar="FILE", help="The table as CSV.", rich_help_panel=_PANEL)
        found.append(_parameter("csv", None, Annotated[Path | None, table]))
    if page:
        whole = typer.Option(
            metavar="FILE", help="The whole as text (.md, .txt).", rich_help_panel=_PANEL
        )
        found.append(_parameter("write", None, Annotated[Path | None, whole]))
    if views or csv or page:
        found.append(_parameter("force", False, Annotated[bool, _FORCE]))
    return found


def _ask(options: Mapping[str, Any], views: Sequence[str], system: UnitSystem) -> Ask:
    from tanksolve.errors import OutputError

    pictures, chosen = options.get("picture") or [], options.get("view") or []
    odd = [view for view in chosen if view not in views]
    if odd:
        raise OutputError(
            f"'{odd[0]}' is no picture of this answer", where="--view", allowed=", ".join(views)
        )
    if chosen and len(chosen) not in (1, len(pictures)):
        raise OutputError(
            f"{len(pictures)} pictures and {len(chosen)} views do not go together",
            where="--view",
            allowed="one --view for all, or one for each --picture",
        )
    each = chosen if len(chosen) == len(pictures) else (chosen or list(views[:1])) * len(pictures)
    return Ask(
        as_json=options["as_json"],
        full=options["full"],
        csv=options.get("csv"),
        page=options.get("write"),
        pictures=tuple(zip(pictures, each, strict=True)),
        force=options.get("force", False),
        system=system,
    )


def _python_name(option: str) -> str:
    return "gone_" + option.lstrip("-").replace("-", "_")


def _gone(option: str) -> inspect.Parameter:
    """A hidden option that is refused, with its value if it took one."""
    hidden = typer.Option(option, hidden=True)
    kind = bool if option in _WITHOUT_VALUE else list[str] | None
    return _parameter(_python_name(option), None, Annotated[kind, hidden])


def _refuse(option: str, instead: str) -> None:
    from tanksolve.errors import TanksolveError

    raise TanksolveError("this option has gone", where=option, next_step=instead)


def _paths(given: Mapping[str, Any]) -> list[Path]:
    """The files that the command's own options name."""
    values = [
        v for value in given.values() for v in (value if isinstance(value, list) else [value])
    ]
    return [value for value in values if isinstance(value, Path)]


def _check_apart(files: Sequence[str | Path]) -> None:
    """Refuse a file that is named twice: a log or a picture would be written over. Raises OutputError."""
    from tanksolve.errors import OutputError

    known: set[str] = set()
    for file in files:
        place = os.path.realpath(file)
        if place in known:
            raise OutputError(
                f"'{file}' is named twice, and would be written over",
                next_step="give each file a name of its own",
            )
        known.add(place)


def _plain(options: Mapping[str, Any]) -> dict[str, Any]:
    """Options as given, for JSON: without those left alone, paths as text."""
    kept = {k.rstrip("_"): v for k, v in options.items() if v not in (None, [], False)}
    return {k: _as_text(v) for k, v in kept.items()}


def _as_text(value: Any) -> Any:
    """Paths as text, alone or in a list; the rest as it is."""
    if isinstance(value, list):
        return [_as_text(item) for item in value]
    return str(value) if isinstance(value, PurePath) else value
