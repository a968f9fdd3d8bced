"""Small waves of liquid at rest: matrices over cut cells, and the lowest natural frequencies."""
