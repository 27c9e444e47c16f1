"""Readouts and files: bytes to readings. Knows of the application only readings, units, errors."""
