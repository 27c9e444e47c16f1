"""Numbers in, numbers out: fits, geometry, uncertainty, conformity. No I/O, no pydantic."""
