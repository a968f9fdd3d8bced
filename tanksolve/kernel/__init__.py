"""Arrays in, arrays out, SI units, no project classes: the mathematics of a tilted tank."""
