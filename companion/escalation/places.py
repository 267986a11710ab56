"""Whom to call in an emergency, by place. Owns reading ``emergency_numbers.json``; knows no person, no language.

The place comes from the person (or the practice), never from a language or a phone number. A number that was not
checked against the country's own official page is never given: a wrong one costs more than none.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

NUMBERS_FILE = Path(__file__).with_name("emergency_numbers.json")


@dataclass(frozen=True)
class Place:
    country: str | None
    """ISO 3166, or None where nobody has said."""
    number: str | None
    """The ambulance number, if verified."""

    @property
    def verified(self) -> bool:
        return self.number is not None


@cache
def _numbers() -> Mapping[str, str | None]:
    rows = json.loads(NUMBERS_FILE.read_text(encoding="utf-8"))["rows"]
    return MappingProxyType({row["country"]: row["number"] if row["verified"] else None for row in rows})


def countries() -> tuple[str, ...]:
    """Return the countries that we have a row for."""
    return tuple(_numbers())


def place_for(country: str | None) -> Place:
    """Return the place; without a number where none is verified."""
    return Place(country, _numbers().get(country) if country else None)
