"""Liquid that walls part: pools, what they hold, and how it moves between them."""
