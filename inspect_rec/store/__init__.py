"""Where entries are kept: append and read, never change. SQLite in one file."""

from inspect_rec.store.sqlite import Misfit, Store

__all__ = ["Misfit", "Store"]
