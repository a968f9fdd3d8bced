"""Where a port may be."""
