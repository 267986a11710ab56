"""Reading a typed form: each field by its kind, every problem kept and named, raised together at the end."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping, Sequence
from datetime import date, time

from companion.common.errors import InvalidInput, Problem
from companion.common.moments import zone

EARLIEST = date(1900, 1, 1)
LATEST = date(2100, 1, 1)
_SIGNS = str.maketrans({"−": "-", "–": "-", ",": ".", "٫": "."})


class Reading:
    """Reads a form. A field with a problem reads as empty; ``finish`` then raises, so that nobody uses it."""

    def __init__(self, form: Mapping[str, str]) -> None:
        self._form = form
        self._problems: list[Problem] = []

    def finish(self) -> None:
        """Raise InvalidInput with every problem found."""
        if self._problems:
            raise InvalidInput(*self._problems)

    def text(self, name: str, longest: int) -> str:
        text = self._typed(name)
        if not text:
            self._wrong("missing", name)
        elif len(text) > longest:
            self._wrong("too_long", name, longest=longest)
        return text

    def choice(self, name: str, allowed: Sequence[str]) -> str:
        text = self._typed(name)
        if text in allowed:
            return str(text)
        self._wrong("choice_unknown" if text else "missing", name)
        return ""

    def several(self, name: str, allowed: Sequence[str]) -> tuple[str, ...]:
        """Read several choices, separated by commas, in the order of ``allowed``."""
        picked = {part.strip() for part in self._typed(name).split(",") if part.strip()}
        if picked - set(allowed):
            self._wrong("choice_unknown", name)
        return tuple(one for one in allowed if one in picked)

    def whole(self, name: str, low: int, high: int, optional: bool = False) -> int | None:
        value = self.number(name, low, high, optional)
        if value is not None and value != int(value):
            self._wrong("not_whole", name)
            return None
        return None if value is None else int(value)

    def number(self, name: str, low: float, high: float, optional: bool = False) -> float | None:
        text = self._digits(name).translate(_SIGNS)
        if not text:
            if not optional:
                self._wrong("missing", name)
            return None
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            self._wrong("not_a_number", name)
        elif not low <= value <= high:
            self._wrong("number_out_of_range", name, low=low, high=high)
        else:
            return value
        return None

    def day(
        self, name: str, optional: bool = False, earliest: date = EARLIEST, latest: date = LATEST
    ) -> date | None:
        text = self._digits(name)
        if not text:
            if not optional:
                self._wrong("missing", name)
            return None
        try:
            day = date.fromisoformat(text)
        except ValueError:
            self._wrong("not_a_date", name)
            return None
        if not earliest <= day <= latest:
            self._wrong("date_out_of_range", name, earliest=earliest.isoformat(), latest=latest.isoformat())
            return None
        return day

    def clock(self, name: str) -> time | None:
        text = self._digits(name)
        try:
            clock = time.fromisoformat(text)
            if clock.tzinfo is not None:
                raise ValueError
        except ValueError:
            self._wrong("not_a_clock" if text else "missing", name)
            return None
        return clock.replace(second=0, microsecond=0)

    def zone(self, name: str, default: str) -> str:
        text = self._typed(name) or default
        try:
            return zone(text).key
        except ValueError:
            self._wrong("zone_unknown", name)
            return default

    def _typed(self, name: str) -> str:
        return unicodedata.normalize("NFKC", self._form.get(name, "")).strip()

    def _digits(self, name: str) -> str:
        """Read what was typed with its digits as 0 to 9, whichever digits the person writes."""
        typed = self._typed(name)
        return "".join(c if unicodedata.decimal(c, None) is None else str(unicodedata.decimal(c)) for c in typed)

    def _wrong(self, code: str, name: str, **values: float | str) -> None:
        self._problems.append(Problem(code, name, values))
