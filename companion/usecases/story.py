"""One wearer's diary as it stands now: entries reduced, nights folded, with the plan that was in force."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlalchemy.orm import Session

from companion.common.eyes import EYES, Eye
from companion.common.moments import night_of, zone
from companion.diary.entry import Entry
from companion.diary.merge import StandingEntry, standing
from companion.diary.nights import Habits, Night, NightState, nights_of
from companion.regimen.plan import EVERY_NIGHT, WEEKDAYS, WearPlan
from companion.store.models import Lens, Plan, Refraction, Wearer
from companion.store.queries.entries import entries_of
from companion.store.queries.prescriptions import lenses_of, plans_of, refractions_of

LONGEST_LOOK_BACK = timedelta(days=400)


@dataclass(frozen=True)
class Story:
    wearer: Wearer
    entries: tuple[Entry, ...]
    standing: tuple[StandingEntry, ...]
    nights: tuple[Night, ...]
    """From the first night of the diary to the one under way, oldest first."""
    habits: Habits
    plans: Sequence[Plan]
    lenses: Sequence[Lens]
    refractions: Sequence[Refraction]
    eyes: tuple[Eye, ...]
    """The treated eyes, right before left."""

    @property
    def plan(self) -> Plan | None:
        return self.plans[0] if self.plans else None

    @property
    def nights_so_far(self) -> tuple[Night, ...]:
        """The nights without the one under way, unless something is known of that one already."""
        under_way = self.nights[-1]
        silent = all(one.state is NightState.UNKNOWN for one in under_way.eyes.values())
        return self.nights[:-1] if silent else self.nights

    @property
    def tonight(self) -> date:
        """The night under way."""
        return self.nights[-1].night


def load_story(session: Session, wearer: Wearer, now: datetime) -> Story:
    """Read a wearer's whole diary and fold it."""
    entries = entries_of(session, wearer)
    stands = standing(entries)
    plans = plans_of(session, wearer)
    lenses, refractions = lenses_of(session, wearer), refractions_of(session, wearer)
    habits = Habits(zone(wearer.zone), wearer.split_hour, wearer.usual_in, wearer.usual_out)
    eyes = treated_eyes(lenses, refractions)
    current = night_of(now, habits.home, habits.split)
    first = max(min(wearer.diary_since, wearer.first_night or wearer.diary_since), current - LONGEST_LOOK_BACK)
    if wearer.settled_nights_per_week is not None:
        first = max(wearer.diary_since, current - LONGEST_LOOK_BACK)
    nights = nights_of(
        stands, lambda night: plan_asks(plans, night), min(first, current), current, habits, eyes
    )
    return Story(wearer, entries, stands, nights, habits, plans, lenses, refractions, eyes)


def plan_asks(plans: Sequence[Plan], night: date) -> bool:
    """Say whether the plan in force asked for lenses; before the first plan, every night."""
    plan = next((one for one in plans if one.since <= night), None)
    return plan is None or wear_plan(plan).is_wear_night(night, None)


def wear_plan(plan: Plan | None) -> WearPlan:
    if plan is None:
        return EVERY_NIGHT
    if plan.weekdays:
        return WearPlan(weekdays=frozenset(WEEKDAYS.index(day) for day in plan.weekdays))
    return WearPlan(every=plan.every or 1, since=plan.since)


def treated_eyes(lenses: Sequence[Lens], refractions: Sequence[Refraction]) -> tuple[Eye, ...]:
    """The eyes that have a lens or a baseline; both until something is known."""
    known = {one.eye for one in lenses} | {one.eye for one in refractions if one.kind == "baseline"}
    return tuple(eye for eye in EYES if eye in known) or EYES
