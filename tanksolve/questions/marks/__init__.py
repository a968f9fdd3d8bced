"""How much liquid, least and most, and where that stands on a gauge."""
