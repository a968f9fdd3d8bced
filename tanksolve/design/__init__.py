"""Answers that need both to build solids and to solve them: where a port may be, how big a tank."""
