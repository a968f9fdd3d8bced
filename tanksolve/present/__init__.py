"""Pictures and tables made from results; no geometry is solved here."""
