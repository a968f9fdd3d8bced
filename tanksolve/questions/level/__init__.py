"""Where the liquid stands at one attitude."""
