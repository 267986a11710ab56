"""One wearer's record as values: what a record file holds, and what the store hands to the forecast.

A frozen composition of floor-0 values. Knows neither JSON nor tables; ``record_file`` and the use cases build it.
Instants are aware; spectacle-plane dioptres are minus for short sight; acuity is logMAR.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from companion.common.eyes import Eye
from companion.common.moments import NOON
from companion.regimen.nights import WearSpan
from companion.regimen.plan import EVERY_NIGHT, NOT_CLEARED, Clearance, WearPlan


@dataclass(frozen=True)
class Target:
    """How well the wearer wants to see, until what time of the day."""

    acuity_logmar: float
    until_local: time
    better_eye: bool = False
    """False: every treated eye must reach it. True: the better one is enough."""
    distance_m: float | None = None
    """None: far."""


@dataclass(frozen=True)
class History:
    """The habit on which the wearer was settled before the first wear span."""

    since: date
    nights_per_week: float


@dataclass(frozen=True)
class AcuityCheck:
    at: datetime
    logmar: float
    sd: float | None = None
    distance_m: float | None = None


@dataclass(frozen=True)
class RefractionCheck:
    at: datetime
    sphere_d: float


@dataclass(frozen=True)
class SymptomReport:
    at: datetime
    eyes: frozenset[Eye]
    level: int
    open: bool
    """A hold is in force for these eyes."""


@dataclass(frozen=True)
class EyeRecord:
    """One treated eye. ``wear`` is in order and without overlap; ``nights_off`` are nights known as not worn."""

    baseline_d: float
    aim_d: float
    best_acuity_logmar: float | None = None
    wear: tuple[WearSpan, ...] = ()
    nights_off: frozenset[date] = frozenset()
    acuity: tuple[AcuityCheck, ...] = ()
    refraction: tuple[RefractionCheck, ...] = ()


@dataclass(frozen=True)
class WearerRecord:
    zone: ZoneInfo
    birth_year: int
    target: Target
    eyes: Mapping[Eye, EyeRecord]
    """At least one, right before left."""
    plan: WearPlan = EVERY_NIGHT
    clearance: Clearance = NOT_CLEARED
    history: History | None = None
    complete: bool = True
    """True: silence means not worn. False: a night without a word is unknown."""
    symptoms: tuple[SymptomReport, ...] = ()
    split: time = NOON
    """When one night ends and the next begins; record files know noon only."""
    latest: datetime | None = None
    """The latest time in any row; stands in for ``as_of``."""
