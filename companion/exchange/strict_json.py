"""Strict JSON: from bytes to values that are named by their path, each checked for kind and range as it is taken.

Owns how a wrong value is named (``wear[3].out``). Knows no format. ``null`` stands for nothing here: an optional
value is left out.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Any, TypeVar

from companion.common.errors import InvalidInput, Problem
from companion.common.moments import parse_instant

T = TypeVar("T")
LARGEST_BYTES = 32 * 1024 * 1024
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)?", re.ASCII)
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d", re.ASCII)
FIRST_YEAR, LAST_YEAR = 1990, 2200
"""Times outside are slips of a key."""


def wrong(code: str, path: str, **values: Any) -> InvalidInput:
    return InvalidInput(Problem(code, path, values))


def read_json(path: Path, field: str) -> Any:
    """Return what a JSON file holds; ``field`` names the file in what is wrong with it."""
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise wrong("record_unreadable", field) from error
    if len(raw) > LARGEST_BYTES:
        raise wrong("record_too_large", field, megabytes=LARGEST_BYTES // 1024**2)
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise wrong("record_not_utf8", field) from error
    try:
        return json.loads(text, object_pairs_hook=_once)
    except json.JSONDecodeError as error:
        raise wrong("record_not_json_at", field, line=error.lineno, column=error.colno) from error
    except (RecursionError, ValueError) as error:
        if isinstance(error, InvalidInput):
            raise
        raise wrong("record_not_json", field) from error


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for key, value in pairs:
        if key in made:
            raise wrong("record_key_twice", key)
        made[key] = value
    return made


@dataclass(frozen=True)
class Value:
    """One value and where it stands."""

    raw: Any
    path: str

    def wrong(self, code: str, **values: Any) -> InvalidInput:
        return wrong(code, self.path, **values)

    def text(self) -> str:
        if not isinstance(self.raw, str):
            raise self.wrong("record_not_text")
        return self.raw

    def one_of(self, *words: str) -> str:
        if not isinstance(self.raw, str) or self.raw not in words:
            raise self.wrong("record_not_one_of", allowed=", ".join(words))
        return self.raw

    def flag(self) -> bool:
        if not isinstance(self.raw, bool):
            raise self.wrong("record_not_flag")
        return self.raw

    def number(self, low: float, high: float) -> float:
        given = self._number()
        if not low <= given <= high:
            raise self.wrong("record_out_of_range", low=low, high=high)
        return float(given)

    def number_above_zero(self, high: float) -> float:
        given = self._number()
        if not 0 < given <= high:
            raise self.wrong("record_not_above_zero", high=high)
        return float(given)

    def _number(self) -> int | float:
        """Return the number as it stands: a whole number may still be too large to be made a float."""
        if isinstance(self.raw, bool) or not isinstance(self.raw, int | float):
            raise self.wrong("record_not_number")
        return self.raw

    def whole(self, low: int, high: int) -> int:
        if isinstance(self.raw, bool) or not isinstance(self.raw, int):
            raise self.wrong("record_not_whole")
        if not low <= self.raw <= high:
            raise self.wrong("record_out_of_range", low=low, high=high)
        return self.raw

    def instant(self) -> datetime:
        """Read a time with its offset, which stays on it."""
        return instant(self.text(), self.path)

    def day(self) -> date:
        if not _DATE.fullmatch(self.text()):
            raise self.wrong("record_not_date")
        try:
            given = date.fromisoformat(self.text())
        except ValueError:
            raise self.wrong("record_not_date") from None
        if not FIRST_YEAR <= given.year <= LAST_YEAR:
            raise self.wrong("record_absurd_time", first=FIRST_YEAR, last=LAST_YEAR)
        return given

    def clock(self) -> time:
        if not _CLOCK.fullmatch(self.text()):
            raise self.wrong("record_not_clock")
        return time.fromisoformat(self.text())

    def items(self) -> Iterator[Value]:
        if not isinstance(self.raw, list):
            raise self.wrong("record_not_list")
        for place, one in enumerate(self.raw):
            yield Value(one, f"{self.path}[{place}]")

    def fields(self, *, needs: tuple[str, ...] = (), may_have: tuple[str, ...] = ()) -> Fields:
        """Read an object that has all of ``needs``, any of ``may_have`` and nothing else."""
        if not isinstance(self.raw, dict):
            raise self.wrong("record_not_object")
        base = Fields(self.raw, self.path)
        for key in self.raw:
            if key not in needs and key not in may_have:
                raise wrong("record_unknown_key", base.path_of(key))
        for key in needs:
            if key not in self.raw:
                raise wrong("record_missing", base.path_of(key))
        return base


@dataclass(frozen=True)
class Fields:
    """An object whose keys are known to be in order."""

    raw: dict[str, Any]
    path: str

    def path_of(self, key: str) -> str:
        return f"{self.path}.{key}" if self.path else key

    def __contains__(self, key: str) -> bool:
        return key in self.raw

    def __getitem__(self, key: str) -> Value:
        return Value(self.raw[key], self.path_of(key))

    def optional(self, key: str, read: Callable[[Value], T]) -> T | None:
        """Read the value of ``key``; None where it is left out."""
        return read(self[key]) if key in self.raw else None


def instant(text: str, path: str) -> datetime:
    """Read an ISO 8601 time with an offset. The offset stays on it."""
    found = _INSTANT.fullmatch(text)
    if not found:
        raise wrong("record_not_time", path)
    if found[3] is None:
        raise wrong("record_naive_time", path)
    try:
        moment = parse_instant(text)
    except ValueError:
        raise wrong("record_not_time", path) from None
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise wrong("record_absurd_time", path, first=FIRST_YEAR, last=LAST_YEAR)
    return moment
