"""inspect_rec: from a grinder's readings to a signed inspection report per tool."""

__version__ = "0.1.0"
