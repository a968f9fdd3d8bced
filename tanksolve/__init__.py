"""tanksolve: where the liquid goes when a tank tilts."""

from tanksolve.version import __version__

__all__ = ["__version__"]
