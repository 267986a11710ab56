"""What is not as it should be in a running house, as findings: an area, a code and its values.

Reads only. The words are the phrasebook's, the exit code the command line's.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from companion.store.models import (
    Membership,
    Outbox,
    Person,
    Practice,
    PushSubscription,
    Wearer,
    WearerState,
    Webhook,
)
from companion.store.queries import channels, outbox
from companion.store.queries.alerts import open_alerts
from companion.store.queries.jobs import all_jobs
from companion.usecases.climbing import family_news
from companion.usecases.heartbeats import JOBS, LATE
from companion.usecases.reaching import on_call_of, people_to_tell, rota_of
from companion.usecases.test_alerts import dead_ways

STUCK = timedelta(minutes=10)
"""A message due longer than this is in nobody's hands."""
RECENT = timedelta(hours=24)


@dataclass(frozen=True)
class Finding:
    area: str
    code: str
    values: dict[str, Any] = field(default_factory=dict)


def findings(session: Session, now: datetime) -> list[Finding]:
    """Return everything that is wrong in the store's contents, area by area."""
    found = [*jobs(session, now), *_outbox(session, now), *_channels(session, now), *_forecasts(session)]
    for practice in session.scalars(select(Practice).order_by(Practice.name, Practice.id)):
        found += _practice(session, practice, now) + _alerts(session, practice, now)
    return found


def jobs(session: Session, now: datetime) -> list[Finding]:
    """Return the jobs that do not beat: one short look, for whatever asks often."""
    runs, found = all_jobs(session), []
    for name in JOBS:
        run = runs.get(name)
        if run is None or run.finished_at is None:
            found.append(Finding("jobs", "job_never", {"job": name}))
        elif now - run.finished_at > LATE:
            found.append(Finding("jobs", "job_late", {"job": name, "since": run.finished_at}))
        if run is not None and run.last_error:
            found.append(Finding("jobs", "job_broke", {"job": name, "error": run.last_error}))
    return found


def _outbox(session: Session, now: datetime) -> list[Finding]:
    found = []
    waiting = outbox.stuck(session, now - STUCK)
    if waiting:
        values = {"num": len(waiting), "since": waiting[0].due_at, "error": waiting[0].last_error or "-"}
        found.append(Finding("outbox", "outbox_stuck", values))
    given_up = [row for row in outbox.given_up_since(session, now - RECENT) if _missed(session, row)]
    if given_up:
        values = {"num": len(given_up), "error": given_up[-1].last_error or "-"}
        found.append(Finding("outbox", "outbox_given_up", values))
    return found


def _channels(session: Session, now: datetime) -> list[Finding]:
    """Devices and gateways in use that have taken nothing for a while."""
    devices, gateways = channels.failing(session)
    found, dead = [], sorted(one.failing_since for one in devices if one.failing_since and _long(one, now))
    if dead:
        found.append(Finding("channels", "devices_failing", {"num": len(dead), "since": dead[0]}))
    lost = channels.gone(session, now - RECENT)
    if lost:
        found.append(Finding("channels", "devices_gone", {"num": len(lost), "since": lost[-1].ended_at}))
    for one in gateways:
        if _long(one, now):
            practice = session.get_one(Practice, one.practice_id)
            values = {"practice": practice.name, "since": one.failing_since}
            found.append(Finding("channels", "gateway_failing", values))
    return found


def _long(row: PushSubscription | Webhook, now: datetime) -> bool:
    return row.failing_since is not None and now - row.failing_since >= STUCK


def _forecasts(session: Session) -> list[Finding]:
    """Wearers who see an old forecast, because the new one broke."""
    broken, since = session.execute(
        select(func.count(), func.min(WearerState.forecast_failed_at))
        .join(Wearer, (Wearer.practice_id == WearerState.practice_id) & (Wearer.id == WearerState.wearer_id))
        .where(WearerState.forecast_failed_at.is_not(None), Wearer.ended_at.is_(None))
    ).one()
    return [Finding("forecasts", "forecasts_broke", {"num": broken, "since": since})] if broken else []


def _missed(session: Session, row: Outbox) -> bool:
    """Tell a message that did not reach its person from one that had nothing left to say."""
    alert = outbox.alert_of(session, row)
    return alert is None or alert.closed_at is None


def _practice(session: Session, practice: Practice, now: datetime) -> list[Finding]:
    """Whom an alert would reach: somebody, and everybody whom the plan names, by ways that are alive."""
    found, named = [], {"practice": practice.name}
    told = people_to_tell(session, practice)
    if not told:
        found.append(Finding("practices", "no_contact", named))
    reached = {person.id for person in told}
    for step in practice.alert_plan:
        if step["person_id"] not in reached:
            person = session.get(Person, step["person_id"])
            values = named | {"person": person.name if person else step["person_id"]}
            found.append(Finding("practices", "plan_names_unreachable", values))
    if practice.alert_plan and reached.isdisjoint(step["person_id"] for step in practice.alert_plan):
        found.append(Finding("practices", "plan_reaches_nobody", named))
    if not practice.alerts_on:
        found.append(Finding("practices", "alerts_off", named))
    for way in dead_ways(session, practice, now):
        values = named | {name: way[name] for name in ("person", "channel", "since")}
        found.append(Finding("practices", f"way_{way['why']}", values))
    if on_call_of(practice).ever_open and not rota_of(practice).on_call.ever_open and practice.alerts_on:
        found.append(Finding("practices", "on_call_unmanned", named))
    if not any(practice.opening_hours.values()):
        found.append(Finding("practices", "never_open", named))
    closers = session.scalars(
        select(Membership.person_id).where(
            Membership.practice_id == practice.id,
            Membership.role == "practitioner",
            Membership.ended_at.is_(None),
        )
    ).first()
    if closers is None:
        found.append(Finding("practices", "no_practitioner", named))
    return found


def _alerts(session: Session, practice: Practice, now: datetime) -> list[Finding]:
    """Alerts that went to everybody whom they could go to, and whose family still waits."""
    found = []
    for alert, _, _ in open_alerts(session, practice):
        news = family_news(session, practice, alert, now)
        if news is not None:
            values = {"practice": practice.name, "level": alert.level, "since": alert.raised_at}
            found.append(Finding("alerts", f"alert_{news.value}", values))
    return found
