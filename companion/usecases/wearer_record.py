"""From the store to the science: one wearer's record, built from the diary and what the practice has signed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time
from itertools import pairwise

from companion.common.eyes import Eye
from companion.common.moments import zone
from companion.diary.nights import NightState
from companion.diary.sight import observations
from companion.diary.spans import wear_intervals
from companion.exchange.record import (
    AcuityCheck,
    EyeRecord,
    History,
    RefractionCheck,
    SymptomReport,
    Target,
    WearerRecord,
)
from companion.regimen.nights import WearSpan, joined
from companion.regimen.plan import Clearance
from companion.store.models import Hold, Lens, Plan, Refraction
from companion.usecases.showing import age_on
from companion.usecases.story import Story, wear_plan
from companion.usecases.unmeasured import hold_level

CHILD_BEFORE_AGE = 16
DEFAULT_AIM_D = 0.50
"""Morning residual where no lens is on file yet: evidence, "assume +0.25 to +0.75, default +0.50" (inferred)."""
DEFAULT_TARGET_LOGMAR = 0.20


def record_of(story: Story, holds: Sequence[Hold], clearance: Clearance, now: datetime) -> WearerRecord | None:
    """Build the science's record; None without a baseline refraction."""
    wearer = story.wearer
    eyes = {eye: record for eye in story.eyes if (record := _eye_record(story, eye, now)) is not None}
    if not eyes:
        return None
    habit = wearer.settled_nights_per_week
    since = wearer.first_night or wearer.diary_since
    return WearerRecord(
        zone=zone(wearer.zone),
        birth_year=wearer.birth_date.year,
        target=_target(story.plan),
        eyes=eyes,
        plan=wear_plan(story.plan),
        clearance=clearance,
        history=History(since, habit) if habit is not None and since < wearer.diary_since else None,
        complete=False,
        symptoms=tuple(
            SymptomReport(at=hold.placed_at, eyes=frozenset({Eye(hold.eye)}), level=hold_level(hold), open=True)
            for hold in holds
        ),
        split=story.habits.split,
        latest=now,
    )


def _target(plan: Plan | None) -> Target:
    if plan is None:
        return Target(acuity_logmar=DEFAULT_TARGET_LOGMAR, until_local=time(18))
    better = plan.target_eyes == "better"
    return Target(plan.target_acuity_logmar, plan.target_until, better, plan.target_distance_m)


def _eye_record(story: Story, eye: Eye, now: datetime) -> EyeRecord | None:
    baseline = _newest(story.refractions, eye, "baseline")
    if baseline is None:
        return None
    lenses = [one for one in story.lenses if one.eye == eye]
    measured = (row.best_acuity_logmar for row in story.refractions if row.eye == eye)
    best = next((logmar for logmar in measured if logmar is not None), None)
    spans = joined(
        WearSpan(span.start, span.end, span.night) for span in wear_intervals(story.nights, eye, story.habits, now)
    )
    looks = observations(story.standing, is_child=age_on(story.wearer, now) < CHILD_BEFORE_AGE)
    first = _first_night_in(lenses, spans, now)
    return EyeRecord(
        baseline_d=spherical_equivalent_d(baseline),
        aim_d=lenses[0].aim_d if lenses else DEFAULT_AIM_D,
        best_acuity_logmar=best,
        wear=spans,
        nights_off=frozenset(n.night for n in story.nights if n.eyes[eye].state is NightState.NOT_WORN),
        acuity=tuple(
            # A chart is as sharp as charts at home are, which the science knows by age and blur; a word is coarse.
            AcuityCheck(look.at, look.logmar, look.sd if look.word else None, look.distance_m)
            for look in looks
            if look.eye == eye and (first is None or look.at >= first)
        ),
        refraction=tuple(
            RefractionCheck(row.measured_at, spherical_equivalent_d(row))
            for row in reversed(story.refractions)
            if row.eye == eye and row.kind == "residual" and (first is None or row.measured_at >= first)
        ),
    )


def _first_night_in(lenses: Sequence[Lens], spans: Sequence[WearSpan], now: datetime) -> datetime | None:
    """Return when the lens of today first went in, where another one was worn before it; None: none was.

    What was read before that describes the other lens, so it is left out of the record whole: out of the fit, and
    out of the checks that the answer table counts. Whoever has a new lens is asked for a few checks of it before a
    night is freed, which is what those counts are for. A lens replaced by its like moulds as the old one did, and
    a first lens has none before it: both leave everything in.
    """
    replaced = (newer for newer, older in pairwise(lenses) if _moulds_otherwise(newer, older))
    lens = next(replaced, None)
    if lens is None:
        return None
    return min((span.start for span in spans if span.start >= lens.signed_at), default=now)


def _moulds_otherwise(lens: Lens, other: Lens) -> bool:
    """Say whether anything that both lenses have on file and that bears on the eye differs."""
    pairs = (
        (lens.aim_d, other.aim_d),
        (lens.base_curve_mm, other.base_curve_mm),
        (lens.diameter_mm, other.diameter_mm),
    )
    return any(one is not None and another is not None and one != another for one, another in pairs)


def spherical_equivalent_d(row: Refraction) -> float:
    return row.sphere_d + row.cylinder_d / 2


def _newest(rows: Sequence[Refraction], eye: Eye, kind: str) -> Refraction | None:
    return next((row for row in rows if row.eye == eye and row.kind == kind), None)
