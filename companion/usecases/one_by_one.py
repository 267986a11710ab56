"""Work that goes through many rows, each in a transaction of its own: one that breaks holds up no other."""

from __future__ import annotations

from collections.abc import Callable, Iterable


def each_alone(ids: Iterable[str], work: Callable[[str], int], broke: str) -> int:
    """Do the work for each id; return the sum of what it returned.

    Raises an ExceptionGroup of all that broke, once everything else is done; ``broke`` names it.
    """
    done, broken = 0, []
    for one in ids:
        try:
            done += work(one)
        except Exception as error:
            broken.append(error)
    if broken:
        raise ExceptionGroup(broke, broken)
    return done
