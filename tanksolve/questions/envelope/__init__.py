"""How steep, in every heading, until a port gives out."""
