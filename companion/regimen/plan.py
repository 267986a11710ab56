"""The signed plan: which nights are for wearing, and how far the practice lets a settled wearer skip.

Owns the meaning of a plan. Does not know what was worn.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True)
class WearPlan:
    """Every n-th night, counted from ``since`` or else the first evening, or the named weekdays (0 is Monday)."""

    every: int = 1
    weekdays: frozenset[int] | None = None
    since: date | None = None

    def is_wear_night(self, night: date, first_evening: date | None) -> bool:
        """Say whether ``night`` is for wearing. Without a first evening, tonight is the first."""
        if self.weekdays is not None:
            return night.weekday() in self.weekdays
        start = self.since or first_evening
        return start is None or (night - start).days % self.every == 0

    @property
    def share_worn(self) -> float:
        """The share of nights that the plan wants worn."""
        return len(self.weekdays) / 7 if self.weekdays is not None else 1 / self.every


EVERY_NIGHT = WearPlan()


@dataclass(frozen=True)
class Clearance:
    """What the practice signed about skipping. ``until`` is the last night that it covers."""

    may_skip: bool
    longest_gap_nights: int
    until: date | None = None

    def is_over(self, night: date) -> bool:
        return self.until is not None and night > self.until


NOT_CLEARED = Clearance(may_skip=False, longest_gap_nights=0)
