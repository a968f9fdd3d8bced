"""What can go wrong, as one tree.

    TanksolveError            a user's mistake: one message, exit code 2, no traceback
    |-- QuantityError         a number without its unit, or with an unknown one
    |-- AttitudeError         an attitude that no tank can take
    |-- MeshError             a file or mesh that does not bound a volume of liquid
    |-- TankError             a tank description that makes no solid
    |-- PortError             a port that cannot be where it is said to be
    |-- FillError             more liquid than the tank holds, or less than none
    |-- LiquidError           a liquid, or a temperature, that cannot be
    |-- LineError             a suction line or pump figure that cannot be
    |-- FileFormatError       a tank file or log with a wrong key, value or line
    |-- RequirementError      a required attitude that cannot be read
    `-- OutputError           a result that cannot be written where it should go

A mistake of the programmer (wrong shape, not a unit vector) is a plain ValueError.
"Answered: no" is not an error; it is a result, and the command line exits with 3.
"""

import functools

from tanksolve.plain_text import clean, shortened

__all__ = [
    "AttitudeError",
    "FileFormatError",
    "FillError",
    "LineError",
    "LiquidError",
    "MeshError",
    "OutputError",
    "PortError",
    "QuantityError",
    "RequirementError",
    "TankError",
    "TanksolveError",
]


class TanksolveError(Exception):
    """A user's mistake, told once and in full.

    Parameters
    ----------
    what : what is wrong, with the value received.
    where : the file, key, line or option it came from.
    allowed : what would have been accepted.
    next_step : what to do about it.
    """

    def __init__(
        self, what: str, *, where: str = "", allowed: str = "", next_step: str = ""
    ) -> None:
        self.what = what
        self.where = where
        self.allowed = allowed
        self.next_step = next_step
        super().__init__(self.message)

    def __reduce__(self) -> tuple[object, ...]:
        """How it is sent to another process: with all its parts, not the message alone."""
        parts = {"where": self.where, "allowed": self.allowed, "next_step": self.next_step}
        return functools.partial(type(self), self.what, **parts), ()

    @property
    def message(self) -> str:
        """The whole message: where, what, allowed, next step, in that order.

        Nothing in it does anything to a terminal, and what it quotes is shortened.
        """
        head = f"{self.where}: {self.what}" if self.where else self.what
        lines = [head]
        if self.allowed:
            lines.append(f"  allowed: {self.allowed}")
        if self.next_step:
            lines.append(f"  next: {self.next_step}")
        return shortened(clean("\n".join(lines)))

    def at(self, where: str) -> "TanksolveError":
        """Return the same error told from an outer place (a file, an option)."""
        place = f"{where}, {self.where}" if self.where else where
        return type(self)(self.what, where=place, allowed=self.allowed, next_step=self.next_step)


class QuantityError(TanksolveError):
    """A number without its unit, or with an unknown or unfitting one."""


class AttitudeError(TanksolveError):
    """An attitude that no tank can take."""


class MeshError(TanksolveError):
    """A file or mesh that does not bound a volume of liquid."""


class TankError(TanksolveError):
    """A tank description that makes no solid."""


class PortError(TanksolveError):
    """A port that cannot be where it is said to be."""


class FillError(TanksolveError):
    """More liquid than the tank holds, or less than none."""


class LiquidError(TanksolveError):
    """A liquid, or a temperature of it, that cannot be."""


class LineError(TanksolveError):
    """A suction line, or a figure of its pump, that cannot be."""


class FileFormatError(TanksolveError):
    """A tank file or log with a wrong key, value or line."""


class RequirementError(TanksolveError):
    """A required attitude that cannot be read."""


class OutputError(TanksolveError):
    """A result that cannot be written where it should go."""
