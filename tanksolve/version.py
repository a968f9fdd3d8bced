"""The version of the package and of its file and JSON formats."""

__version__ = "0.1.0"
JSON_VERSION = 1
TANK_FILE_VERSION = 1
