"""Ways to a line that other packages bring: entry points of the group ``inspect_rec.ways``.

Each is named as its addresses begin (``name:rest``) and gives ``make(address, layout) -> Way``.
Such a package is code that runs as this program does: installing it is a decision of the shop.
"""

from __future__ import annotations

from importlib.metadata import EntryPoint, entry_points

from drivers.layout import Layout
from drivers.transport import Way
from inspect_rec.errors import ReadoutError

GROUP = "inspect_rec.ways"


def installed() -> tuple[EntryPoint, ...]:
    """All that other packages bring, by name."""
    return tuple(sorted(entry_points(group=GROUP), key=lambda each: each.name))


def way(scheme: str, address: str, layout: Layout) -> Way | None:
    """The way of the package whose addresses begin so; None where there is none.

    Raises ReadoutError where two packages claim it, and where the package fails or gives no way.
    """
    found = [each for each in installed() if each.name.lower() == scheme.lower()]
    if not found:
        return None
    if len(found) > 1:
        raise ReadoutError(
            f"two packages bring addresses that begin with {scheme!r}",
            expected="one",
            found=" and ".join(_package(each) for each in found),
            do="Uninstall one of them",
        )
    try:
        made = found[0].load()(address, layout)
    except ReadoutError:
        raise
    except Exception as error:  # whatever a foreign package does, the reason is said
        raise _broken(found[0], f"{type(error).__name__}: {error}") from error
    lacks = [n for n in ("address", "vanishes", "open", "close") if not hasattr(made, n)]
    if lacks:
        raise _broken(found[0], f"{type(made).__name__} without {', '.join(lacks)}")
    checked: Way = made
    return checked


def _package(each: EntryPoint) -> str:
    return each.dist.name if each.dist else each.value


def _broken(each: EntryPoint, found: str) -> ReadoutError:
    return ReadoutError(
        f"the driver {each.name!r} of the package {_package(each)!r} gives no line",
        expected="an object with address, vanishes, open() and close()",
        found=found,
        do="Ask who wrote it, or uninstall it",
    )
