"""Which checks of an eye tell something of its unaided sight, and which count as data for tonight's answer."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from companion.common.moments import hours_between
from companion.exchange.record import AcuityCheck, RefractionCheck, Target
from companion.fade.hindsight import Foretold, sight_checks
from companion.fade.observation import Reading, RefractionReading, SightReading
from companion.fade.surprise import LEAST_LOGMAR
from companion.regimen.nights import WearSpan

APART = timedelta(hours=1)
"""Checks closer together count as one."""
COARSEST_SD = 0.3
"""A check that says less than this counts as none."""
NEAREST_M = 1.0
"""From here a dioptre of short sight is not seen (CALC)."""
CEILING_TIMES, CEILING_LOGMAR = 3, 0.1
"""The best value that an eye ever read, read so often and no worse than this, is where its chart ends. Design."""


def unaided(checks: Iterable[AcuityCheck], known: Sequence[WearSpan], as_of: datetime) -> list[AcuityCheck]:
    """Return the checks up to ``as_of`` that were made without a lens in."""

    def lens_in(at: datetime) -> bool:
        return any(span.start <= at < (span.end or as_of) for span in known)

    return [one for one in checks if one.at <= as_of and not lens_in(one.at)]


def counted(checks: Iterable[AcuityCheck], target: Target) -> list[datetime]:
    """Return when the checks were made that count as data for a target: not mere repeats, not too coarse to say
    anything, and for a far target not from so near that short sight reads as well as none."""

    def says_something(one: AcuityCheck) -> bool:
        near = target.distance_m is None and one.distance_m is not None and one.distance_m < NEAREST_M
        return not near and (one.sd is None or one.sd <= COARSEST_SD)

    times: list[datetime] = []
    for at in sorted(one.at for one in checks if says_something(one)):
        if not times or at - times[-1] >= APART:
            times.append(at)
    return times


def readings(
    looks: Sequence[AcuityCheck], visits: Sequence[RefractionCheck], origin: datetime
) -> tuple[Reading, ...]:
    """Return the readings for the fit, in order, in hours from ``origin``."""
    best = min((one.logmar for one in looks), default=0.0)
    often = Counter(one.logmar for one in looks)[best] >= CEILING_TIMES
    ceiling = best if often and best <= CEILING_LOGMAR else None
    seen: list[Reading] = [
        SightReading(hours_between(origin, one.at), one.logmar, one.sd, one.distance_m, one.logmar == ceiling)
        for one in looks
    ]
    seen += [RefractionReading(hours_between(origin, one.at), one.sphere_d) for one in visits]
    return tuple(sorted(seen, key=lambda one: one.at_h))


def in_doubt_since(foretold: Sequence[Foretold], origin: datetime) -> datetime | None:
    """Return when the last check was made, if it was far worse than foretold: what came before is in doubt until
    checks after it say otherwise."""
    last = sight_checks(foretold)[-1:]
    if not last or not last[0].far_outside or last[0].off < LEAST_LOGMAR:
        return None
    return origin + timedelta(hours=last[0].reading.at_h)
