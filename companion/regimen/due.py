"""When a case, a bottle, a lens, a suction cup or a protein clean is due again.

Works on dates at the wearer's place. Of several limits (the practice's number, the label, the date printed on the
bottle, a new bottle that brings a new case) the first always counts. A thing that nobody has written down has no
date: silence is not a fact.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from companion.common.eyes import Eye
from companion.regimen.care import Regimen

ITEMS = ("bottle", "case", "suction_cup", "protein", "lens")
BOTTLES = ("solution", "cleaner", "saline", "drops")
SOON = timedelta(days=7)


@dataclass(frozen=True)
class Renewed:
    """A thing was opened, replaced or done on a day. ``part`` is the bottle or the eye, where that matters."""

    item: str
    on: date
    part: str | None = None
    label_days: int | None = None
    """Days after opening, as the label says."""
    use_by: date | None = None
    """The last day printed on it."""


class State(StrEnum):
    UNKNOWN = "unknown"
    LATER = "later"
    SOON = "soon"
    DUE = "due"


@dataclass(frozen=True)
class Due:
    item: str
    part: str | None
    since: date | None
    on: date | None
    by: str | None
    """Which limit is the first: ``practice``, ``label``, ``use_by`` or ``new_box``."""
    state: State


def due_items(
    regimen: Regimen, said: Iterable[Renewed], eyes: Sequence[Eye], fitted: Mapping[Eye, date], today: date
) -> tuple[Due, ...]:
    """Return what this regimen keeps an eye on, each with its date.

    ``fitted`` is the day from which the practice has each eye's lens; a later lens that the family wrote down
    counts instead. Bottles other than the main one show once somebody has written one down.
    """
    newest: dict[tuple[str, str | None], Renewed] = {
        ("lens", eye.value): Renewed("lens", day, eye.value) for eye, day in fitted.items() if day <= today
    }
    for one in sorted(said, key=lambda one: one.on):
        if one.on <= today and ((one.item, one.part) not in newest or newest[one.item, one.part].on <= one.on):
            newest[one.item, one.part] = one
    asked: list[tuple[str, str | None]] = [("bottle", BOTTLES[0])]
    asked += [("bottle", part) for part in BOTTLES[1:] if ("bottle", part) in newest]
    asked += [(item, None) for item in ("case", "suction_cup", "protein") if _days(regimen, item) is not None]
    asked += [("lens", eye.value) for eye in eyes]
    main_bottle = newest.get(("bottle", BOTTLES[0]))
    new_box = main_bottle.on if regimen.new_case_with_bottle and main_bottle else None
    return tuple(_due(regimen, item, part, newest.get((item, part)), new_box, today) for item, part in asked)


def _due(
    regimen: Regimen, item: str, part: str | None, last: Renewed | None, new_box: date | None, today: date
) -> Due:
    if last is None:
        return Due(item, part, None, None, None, State.UNKNOWN)
    limits: list[tuple[date, str]] = []
    if last.label_days is not None:
        limits.append((last.on + timedelta(days=last.label_days), "label"))
    if last.use_by is not None:
        limits.append((last.use_by, "use_by"))
    if item == "case" and new_box is not None and new_box > last.on:
        limits.append((new_box, "new_box"))
    days = _days(regimen, item)
    if days is not None:
        limits.append((last.on + timedelta(days=days), "practice"))
    on, by = min(limits, key=lambda limit: limit[0])
    state = State.DUE if on <= today else State.SOON if on - today <= SOON else State.LATER
    return Due(item, part, last.on, on, by, state)


def _days(regimen: Regimen, item: str) -> int | None:
    return regimen.numbers.get(f"{item}_days")
