"""What stands behind a forecast, as a document for the app's own screens: how far it is this person's, how it has
fared, what it does not explain, and which check would teach most. The forecast's own document stays as it is.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from companion.common.eyes import Eye
from companion.common.moments import at_wall_clock
from companion.exchange.eye_course import EyeCourse
from companion.exchange.eye_readings import in_doubt_since
from companion.exchange.wearer_course import WearerCourse, said
from companion.fade.fit import FellBack
from companion.fade.hindsight import sight_checks
from companion.fade.next_check import swing, worth_asking
from companion.fade.observation import SightReading
from companion.fade.surprise import chance_of_too_much_plus, may_be_swapped, worse_than_explained
from companion.regimen.nights import WearSpan

LAST_CHECKS = 20
MODEL = "2026-11"
"""Changes with the equations or the table: a fit kept from another model is made anew."""


def about(wearer: WearerCourse) -> dict[str, Any]:
    """Return for each eye ``personal``, ``checks`` and ``refractions`` used, ``learned`` [nats] and ``effective``
    draws, ``fell_back`` (why, or null), ``record`` (of the last checks so many inside the band), ``surprise`` (or
    null) and ``too_much_plus``; and for the wearer ``ask``: the check worth asking for, or null.
    """
    return {
        "as_of": said(wearer.as_of, wearer.record),
        "model": MODEL,
        "eyes": {eye.value: _about_eye(wearer, eye, course) for eye, course in wearer.eyes.items()},
        "ask": _ask(wearer),
    }


def _about_eye(wearer: WearerCourse, eye: Eye, course: EyeCourse) -> dict[str, Any]:
    fit = course.fit
    checks = sight_checks(fit.foretold)
    last = checks[-LAST_CHECKS:]
    return {
        "personal": fit.is_personal,
        "checks": len(checks),
        "refractions": len(fit.foretold) - len(checks),
        "learned": round(fit.learned, 2),
        "effective": round(fit.effective),
        "fell_back": None if fit.fell_back is None else fit.fell_back.value,
        "record": {"inside": sum(one.inside for one in last), "of": len(last)},
        "surprise": _surprise(wearer, eye, course),
        "too_much_plus": _too_much_plus(course),
    }


def _surprise(wearer: WearerCourse, eye: Eye, course: EyeCourse) -> dict[str, Any] | None:
    found = worse_than_explained(course.fit.foretold, course.fit.state.at_h)
    if found is None:
        return None
    others = [one for other, one in wearer.eyes.items() if other is not eye]
    size = course.draws.treatment.size_d
    swapped = any(may_be_swapped(size, other.fit.foretold, other.draws.treatment.size_d) for other in others)
    return {
        "checks": found.checks,
        "of": found.looked_at,
        "worse_logmar": round(found.worse_logmar, 2),
        "perhaps_swapped": swapped,
    }


def _too_much_plus(course: EyeCourse) -> float | None:
    """The chance of more than +1.00 D at the last removal; None: nothing was worn yet."""
    over = [span.end for span in course.known if span.end is not None and span.end <= course.as_of]
    if not over:
        return None
    mean, spread = course.residuals([max(over)])
    return round(float(chance_of_too_much_plus(mean, spread)[0]), 3)


# -- the next check --------------------------------------------------------------------------------------------
def _ask(wearer: WearerCourse) -> dict[str, Any] | None:
    """The check, this evening or tomorrow morning, that would move tonight's or tomorrow's answer most."""
    courses = wearer.eyes.values()
    if any(course.fit.fell_back is FellBack.CONTRADICTORY for course in courses):
        return None  # the practice is asked first
    target = wearer.record.target
    found: dict[str, float] = {}
    when: dict[str, datetime] = {}
    for course in courses:
        for name, at, worn, target_at in _questions(wearer, course):
            moments = sorted({at, target_at})
            mean, spread = course.residuals(moments, worn)
            rows = {moment: (mean[row], spread[row]) for row, moment in enumerate(moments)}
            moved = swing(
                course.draws,
                rows[at],
                rows[target_at],
                SightReading(0.0, 0.0),
                target.acuity_logmar,
                target.distance_m,
            )
            found[name] = max(moved, found.get(name, 0.0))
            when[name] = at
    doubtful = any(in_doubt_since(course.fit.foretold, course.origin) is not None for course in courses)
    best = "this_evening" if doubtful else worth_asking(found)
    if best is None:
        return None
    return {"check": best, "at": said(when[best], wearer.record), "swing": round(found[best], 3)}


def _questions(wearer: WearerCourse, course: EyeCourse) -> list[tuple[str, datetime, list[WearSpan], datetime]]:
    """The checks that could be made, each with the wear before the next free night and the day it bears on."""
    zone, until = wearer.record.zone, wearer.record.target.until_local
    tonight_at = max(course.usual.insertion_on(wearer.night, zone) - timedelta(minutes=15), wearer.as_of)
    tomorrow = wearer.night + timedelta(days=1)
    worn = course.planned(wearer.record, wearer.as_of, wearer.night, (True,))
    morning_at = course.usual.removal_on(wearer.night, zone) + timedelta(minutes=30)
    return [
        ("this_evening", tonight_at, [], at_wall_clock(tomorrow, until, zone)),
        ("tomorrow_morning", morning_at, worn, at_wall_clock(tomorrow + timedelta(days=1), until, zone)),
    ]
