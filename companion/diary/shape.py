"""Reads JSON values into plain checked ones, and says what is wrong with them.

A reader takes a value and the path at which it stands; it returns the value in its one normal form (JSON can carry
it) or raises InvalidInput. ``Shape`` is the reader of an object: it knows its keys, collects every problem at once
and refuses keys it does not know. Knows nothing of diaries; meaning across entries is judged elsewhere.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from companion.common.errors import InvalidInput, Problem
from companion.common.ids import is_id
from companion.common.moments import parse_instant, utc, zone

Reader = Callable[[object, str], Any]

EARLIEST, LATEST = datetime(1900, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)
"""Wide on purpose: a phone whose clock was reset to 1970 must still be able to report a red eye."""

_BIDI_CONTROLS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_KEY = re.compile(r"[a-z][a-z0-9_]{0,39}")


def wrong(code: str, path: str, **values: Any) -> InvalidInput:
    return InvalidInput(Problem(code, path, values))


def clean_text(text: str) -> str:
    """Return ``text`` in NFC, line ends plain, without outer space, control and direction-forcing characters.

    Joiners stay: Devanagari and Persian need them.
    """
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))
    kept = (
        c for c in text if c in "\n\t" or (unicodedata.category(c) not in ("Cc", "Cs") and c not in _BIDI_CONTROLS)
    )
    return "".join(kept).strip()


def text_of(longest: int) -> Reader:
    """Read a text of 1 to ``longest`` characters."""

    def read(value: object, path: str) -> str:
        if not isinstance(value, str):
            raise wrong("entry_not_text", path)
        if len(value) > 4 * longest:  # not worth cleaning
            raise wrong("entry_text_too_long", path, longest=longest)
        text = clean_text(value)
        if not text:
            raise wrong("entry_text_empty", path)
        if len(text) > longest:
            raise wrong("entry_text_too_long", path, longest=longest)
        return text

    return read


def one_of(*words: str) -> Reader:
    def read(value: object, path: str) -> str:
        if isinstance(value, str) and value in words:
            return str(value)
        raise wrong("entry_not_one_of", path, allowed=", ".join(words))

    return read


def number(low: float, high: float) -> Reader:
    def read(value: object, path: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise wrong("entry_not_a_number", path)
        if not (low <= value <= high) or not math.isfinite(value):
            raise wrong("entry_number_out_of_range", path, low=low, high=high)
        return float(value)

    return read


def whole_number(low: int, high: int) -> Reader:
    def read(value: object, path: str) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise wrong("entry_not_a_number", path)
        if not low <= value <= high:
            raise wrong("entry_number_out_of_range", path, low=low, high=high)
        return value

    return read


def an_id(value: object, path: str) -> str:
    if is_id(value):
        return str(value)
    raise wrong("entry_not_an_id", path)


def a_zone(value: object, path: str) -> str:
    """Read an IANA zone name."""
    if isinstance(value, str) and len(value) <= 64:
        try:
            return zone(value).key
        except ValueError:
            pass
    raise wrong("entry_unknown_zone", path)


def an_instant(value: object, path: str) -> datetime:
    """Read ISO 8601 with an offset, or an aware datetime, as UTC."""
    try:
        moment = value if isinstance(value, datetime) else parse_instant(value) if isinstance(value, str) else None
        if moment is None or moment.utcoffset() is None:
            raise ValueError
    except ValueError:
        raise wrong("entry_not_a_time", path) from None
    if not EARLIEST.year < moment.year < LATEST.year:
        raise wrong("entry_time_absurd", path)
    return utc(moment)


def an_instant_as_text(value: object, path: str) -> str:
    return str(an_instant(value, path).isoformat())


def a_night(value: object, path: str) -> str:
    """Read the date of a night's evening, ``YYYY-MM-DD``."""
    if isinstance(value, str) and len(value) == 10:
        try:
            day = date.fromisoformat(value)
        except ValueError:
            pass
        else:
            if EARLIEST.year < day.year < LATEST.year:
                return day.isoformat()
    raise wrong("entry_not_a_night", path)


def list_of(read_one: Reader, most: int) -> Reader:
    """Read a list of up to ``most`` values, each once, sorted."""

    def read(value: object, path: str) -> list[Any]:
        if not isinstance(value, list | tuple):
            raise wrong("entry_not_a_list", path)
        if len(value) > most:
            raise wrong("entry_list_too_long", path, most=most)
        return sorted({read_one(one, f"{path}[{i}]") for i, one in enumerate(value)})

    return read


def words_by_key(most: int) -> Reader:
    """Read an object of short words under short lower-case keys, such as answers under question ids."""

    def read(value: object, path: str) -> dict[str, str]:
        if not isinstance(value, Mapping):
            raise wrong("entry_not_an_object", path)
        if len(value) > most:
            raise wrong("entry_list_too_long", path, most=most)
        problems = []
        for key, word in value.items():
            if not isinstance(key, str) or not _KEY.fullmatch(key):
                problems.append(Problem("entry_unknown_key", path, {"key": str(key)[:40]}))
            elif not isinstance(word, str) or not _KEY.fullmatch(word):
                problems.append(Problem("entry_not_a_word", f"{path}.{key}"))
        if problems:
            raise InvalidInput(*problems)
        return {str(key): str(value[key]) for key in sorted(value)}

    return read


@dataclass(frozen=True)
class Shape:
    """The reader of an object with these keys and no others.

    needs: keys that must be there. may: keys that may be. also: one more look at the whole object, once its keys
    are well; it may mend or refuse.
    """

    needs: Mapping[str, Reader]
    may: Mapping[str, Reader] = field(default_factory=dict)
    also: Callable[[dict[str, Any], str], dict[str, Any]] = lambda whole, path: whole

    def __call__(self, value: object, path: str) -> dict[str, Any]:
        if not isinstance(value, Mapping):
            raise wrong("entry_not_an_object", path)
        readers = {**self.needs, **self.may}
        problems = [Problem("entry_missing", _join(path, key)) for key in self.needs if key not in value]
        problems += [
            Problem("entry_unknown_key", path, {"key": str(key)[:40]}) for key in value if key not in readers
        ]
        read: dict[str, Any] = {}
        for key, reader in readers.items():
            if key in value:
                try:
                    read[key] = reader(value[key], _join(path, key))
                except InvalidInput as error:
                    problems += error.problems
        if problems:
            raise InvalidInput(*problems)
        return self.also(read, path)


def _join(path: str, key: str) -> str:
    return f"{path}.{key}" if path else key
