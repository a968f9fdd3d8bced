"""Which port ``tanksolve place`` is to place."""

from collections.abc import Sequence

from tanksolve.errors import PortError
from tanksolve.model.ports import Port, PortKind, Rule
from tanksolve.project.inline import parse_port

__all__ = ["port_to_place"]


def port_to_place(
    ports: Sequence[Port], name: str | None, kind: str | None, opening: str | None
) -> Port:
    """The port called ``name``, the only one of ``kind``, or a new one with ``opening``.

    Without any of them: the only port given, else the only pickup, else a new pickup.
    Raises PortError for an unknown name or kind, a port described twice, and where several ports
    could be meant.
    """
    if name is not None and (kind is not None or opening is not None):
        raise PortError(
            f"'{name}' has its kind and opening already",
            where="--port",
            next_step="leave out --port, or --kind and --opening",
        )
    if name is not None:
        return _named(ports, name)
    if kind is not None and kind not in list(PortKind):
        raise PortError(f"'{kind}' is no kind of port", where="--kind", allowed=", ".join(PortKind))
    wanted = PortKind(kind or "pickup")
    meant = [port for port in ports if port.kind is wanted]
    if kind is None and not meant:
        meant = [port for port in ports if port.effective_rule is not Rule.NONE]
    if opening is None and len(meant) == 1:
        return meant[0]
    if opening is None and meant:
        raise PortError(
            "several ports could be meant",
            where="--port",
            allowed=", ".join(port.name for port in meant),
            next_step="name one of them with --port",
        )
    return parse_port(
        wanted, f"new {wanted}=0,0,0mm" + (f",{opening}" if opening else ""), "--opening"
    )


def _named(ports: Sequence[Port], name: str) -> Port:
    for port in ports:
        if port.name == name:
            return port
    raise PortError(
        f"no port is called '{name}'",
        where="--port",
        allowed=", ".join(port.name for port in ports) or "none: no port is given",
    )
