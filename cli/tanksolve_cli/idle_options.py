"""Options that have nothing to say about the tank at hand: refused, never passed over."""

from tanksolve_cli.tank_options import TankWords

__all__ = ["refuse_idle"]

_MESH = ("unit", "forward", "up", "meaning", "body", "cavity", "plug", "chord")
_SHAPE = ("lies", "outside", "wall")


def refuse_idle(words: TankWords) -> None:
    """Raise TankError for an option of a shape given with a mesh or tank file, and the like."""
    from tanksolve.errors import TankError

    if words.tank is not None and (words.box or words.cylinder):
        raise TankError(
            f"a tank '{words.tank}' and --box or --cylinder are two tanks", allowed="one tank"
        )
    if words.tank is None:
        idle = (*_MESH, *(() if words.cylinder else ("lies",)))
        what = "a cylinder" if words.cylinder else "a box"
    elif words.tank.endswith(".toml"):
        idle, what = (*_SHAPE, *_MESH), "a tank file, which says this itself"
    else:
        idle, what = _SHAPE, "a mesh"
    given = [f"--{name}" for name in idle if getattr(words, name)]
    if given:
        raise TankError(
            f"of no use with {what}",
            where=", ".join(given),
            allowed="--lies for a cylinder; --outside and --wall for a box or cylinder; "
            + ", ".join(f"--{name}" for name in _MESH)
            + " for a mesh file",
            next_step="leave it out, or set it in the tank file",
        )
