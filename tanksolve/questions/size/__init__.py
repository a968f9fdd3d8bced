"""How small a tank may be."""
