"""Where entries are kept: append and read, never change. SQLite in one file.

There is one kind of store, so no interface yet: what a store must do stands in
tests/store/test_store.py, which runs over every kind there is.
"""

from inspect_rec.store.sqlite import Misfit, Store

__all__ = ["Misfit", "Store"]
