"""Reports: what is said, how it is drawn, signed and verified."""
