"""Lens care as data: the steps of evening and morning, the numbers a practice may set, and handling help.

Owns reading ``care.json`` and keeping a practice's numbers within its bounds. Every step carries the key of its
why. Dates are for ``due``, the two clocks for ``clocks``; who wears what is for others.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

CARE_FILE = Path(__file__).with_name("care.json")
SYSTEMS = ("multipurpose", "peroxide")
PEROXIDE = "peroxide"


@dataclass(frozen=True)
class Step:
    id: str
    why: str
    source: tuple[str, ...]


@dataclass(frozen=True)
class Bounds:
    """What a practice may set a number to. ``usual`` stands where it set nothing."""

    low: int
    usual: int
    high: int
    may_be_left_out: bool
    """A thing that not every practice has its families do: left out, it is never asked for."""


@dataclass(frozen=True)
class Lead:
    """When handling help is no longer the right place, and where it goes on."""

    when: str
    to: str | None
    """Another topic of help, or ``first``: the emergency advice. None: the report."""
    answers: Mapping[str, str]
    """What the report begins with, by question."""


@dataclass(frozen=True)
class Help:
    """One thing that can go wrong with a lens in the hand or on the eye."""

    id: str
    steps: tuple[str, ...]
    leads: tuple[Lead, ...]


@dataclass(frozen=True)
class StuckTimes:
    call_after_min: int
    report_after_min: int
    often_mornings: int
    """From so many mornings within ``often_within_days`` on, the practice looks at the fit."""
    often_within_days: int


@dataclass(frozen=True)
class Care:
    """All of the file."""

    sources: Mapping[str, str]
    steps: Mapping[str, Step]
    evening: Mapping[str, tuple[str, ...]]
    """Ids of steps by system."""
    morning: Mapping[str, tuple[str, ...]]
    new_case_with_bottle: frozenset[str]
    """Systems whose case wears out with the bottle that it came with."""
    bounds: Mapping[str, Mapping[str, Bounds]]
    """By system, then by the number's id."""
    stuck: StuckTimes
    help: Mapping[str, Help]


@dataclass(frozen=True)
class Regimen:
    """What one practice signed; ``system`` is None where it has not chosen yet."""

    system: str | None
    numbers: Mapping[str, int | None]
    """Within bounds. None: the practice's families do without."""
    evening: tuple[Step, ...]
    morning: tuple[Step, ...]
    new_case_with_bottle: bool


@cache
def load_care() -> Care:
    """Return the file's content."""
    return care_from(json.loads(CARE_FILE.read_text(encoding="utf-8")))


def care_from(data: Mapping[str, Any]) -> Care:
    """Turn the file's content into values. Raises KeyError for an id that does not exist, ValueError for bounds
    that contradict themselves."""
    steps = {row["id"]: Step(row["id"], row["why"], tuple(row["source"])) for row in data["steps"]}
    helps = {row["id"]: _help(row) for row in data["help"]}
    for one in helps.values():
        for lead in one.leads:
            if lead.to not in (None, "first"):
                helps[str(lead.to)]
    systems = data["systems"]
    for row in systems.values():
        for id_ in (*row["evening"], *row["morning"]):
            steps[id_]
    bounds: dict[str, dict[str, Bounds]] = {system: {} for system in systems}
    for row in data["numbers"]:
        one_number = Bounds(row["low"], row["usual"], row["high"], row["may_be_left_out"])
        if not one_number.low <= one_number.usual <= one_number.high:
            raise ValueError(row["id"])
        for system in row["systems"]:
            bounds[system][row["id"]] = one_number
    stuck = {key: value for key, value in data["stuck"].items() if key != "source"}
    return Care(
        sources=MappingProxyType(data["sources"]),
        steps=MappingProxyType(steps),
        evening={system: tuple(row["evening"]) for system, row in systems.items()},
        morning={system: tuple(row["morning"]) for system, row in systems.items()},
        new_case_with_bottle=frozenset(key for key, row in systems.items() if row["new_case_with_bottle"]),
        bounds=MappingProxyType(bounds),
        stuck=StuckTimes(**stuck),
        help=MappingProxyType(helps),
    )


def _help(row: Mapping[str, Any]) -> Help:
    leads = (Lead(one["when"], one.get("to"), MappingProxyType(one.get("answers", {}))) for one in row["leads"])
    return Help(row["id"], tuple(row["steps"]), tuple(leads))


def regimen(system: str | None, signed: Mapping[str, int | None], care: Care | None = None) -> Regimen:
    """Return the regimen of a practice that signed ``system`` with the numbers ``signed``.

    A number outside its bounds counts as the bound: what was signed under wider ones is never kept longer. Where
    no system is chosen, only what all systems share is said, since a step of the wrong one can burn an eye.
    """
    care = care or load_care()
    systems = (system,) if system else tuple(care.bounds)
    bounds = _shared_bounds(care, systems)
    return Regimen(
        system=system,
        numbers=MappingProxyType({id_: _within(one, signed.get(id_, one.usual)) for id_, one in bounds.items()}),
        evening=tuple(care.steps[id_] for id_ in _shared([care.evening[one] for one in systems])),
        morning=tuple(care.steps[id_] for id_ in _shared([care.morning[one] for one in systems])),
        new_case_with_bottle=bool(system) and system in care.new_case_with_bottle,
    )


def _within(bounds: Bounds, number: int | None) -> int | None:
    if number is None:
        return None if bounds.may_be_left_out else bounds.usual
    return min(max(number, bounds.low), bounds.high)


def _shared(lists: Sequence[tuple[str, ...]]) -> list[str]:
    return [one for one in lists[0] if all(one in other for other in lists)]


def _shared_bounds(care: Care, systems: Sequence[str]) -> Mapping[str, Bounds]:
    """Return the bounds of what all ``systems`` have, the shorter usual where they differ."""
    ids = _shared([tuple(care.bounds[one]) for one in systems])
    return {id_: min((care.bounds[one][id_] for one in systems), key=lambda one: one.usual) for id_ in ids}
