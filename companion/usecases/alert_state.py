"""How far an alert has come, in the words that family and practice both see."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from companion.escalation.climb import FamilyNews
from companion.store.models import Alert, Delivery, Person, Practice
from companion.store.queries.alerts import steps_of
from companion.usecases.climbing import family_news
from companion.usecases.raising import SENT_LEVEL
from companion.usecases.rechecking import word_news
from companion.usecases.showing import iso

Steps = Sequence[tuple[Delivery, Person]]


class AlertState(StrEnum):
    LISTED = "listed"
    """On the desk's list; not sent to anybody in person."""
    QUEUED = "queued"
    HANDED_OVER = "handed_over"
    DELIVERED = "delivered"
    TAKEN = "taken"
    CONTACT_MADE = "contact_made"
    CLOSED = "closed"


def state_of(alert: Alert, steps: Steps) -> AlertState:
    """The furthest of the facts. *Handed over* and *delivered* say nothing of a person having read it."""
    if alert.closed_at:
        return AlertState.CLOSED
    if alert.contact_at:
        return AlertState.CONTACT_MADE
    if alert.taken_at:
        return AlertState.TAKEN
    if any(step.delivered_at for step, _ in steps):
        return AlertState.DELIVERED
    if any(step.handed_over_at for step, _ in steps):
        return AlertState.HANDED_OVER
    return AlertState.QUEUED if alert.level >= SENT_LEVEL else AlertState.LISTED


def alert_plain(session: Session, alert: Alert, where: ZoneInfo) -> dict[str, Any]:
    """An alert as plain values: its state, who has done what, and each step."""
    steps = steps_of(session, [alert])[alert.id]
    taker = session.get(Person, alert.taken_by) if alert.taken_by else None
    return {
        "id": alert.id,
        "report_id": alert.entry_id,
        "level": alert.level,
        "state": state_of(alert, steps).value,
        "raised_at": iso(alert.raised_at, where),
        "raised_again_at": iso(alert.raised_again_at, where),
        "no_word_at": iso(alert.no_word_at, where),
        "taken_by": taker.name if taker else None,
        "taken_at": iso(alert.taken_at, where),
        "contact_at": iso(alert.contact_at, where),
        "contact_note": alert.contact_note,
        "called": _called(alert, where),
        "closed_at": iso(alert.closed_at, where),
        "outcome": alert.outcome,
        "outcome_note": alert.outcome_note,
        "outcome_until": alert.lenses_out_until.isoformat() if alert.lenses_out_until else None,
        "steps": [
            {
                "number": step.step,
                "person": person.name,
                "channel": step.channel,
                "state": _step_state(step),
                "at": iso(step.failed_at or step.delivered_at or step.handed_over_at or step.queued_at, where),
            }
            for step, person in steps
        ],
    }


def alert_for_family(
    session: Session, practice: Practice, alert: Alert, where: ZoneInfo, now: datetime
) -> dict[str, Any]:
    """The same as the family reads it: with the news that nobody answers, and the word awaited from them, and
    without the practice's own notes.

    ``asks_called``: they are asked whether somebody has called. Who says so is told no more that nobody has.
    """
    news, word = family_news(session, practice, alert, now), word_news(session, alert, now)
    called = _called(alert, where)
    if news is FamilyNews.NO_CONTACT_YET and called and called["said"] == "yes":
        news = None
    plain = alert_plain(session, alert, where)
    del plain["contact_note"], plain["outcome_note"]
    return {
        **plain,
        "steps": _one_a_person(plain["steps"]),
        "news": news.value if news else None,
        "word": word.value if word else None,
        "asks_called": alert.taken_at is not None and alert.contact_at is None and alert.closed_at is None,
    }


def most_pressing_for_family(
    session: Session, practice: Practice, alerts: Sequence[Alert], where: ZoneInfo, now: datetime
) -> dict[str, Any] | None:
    """Return the one alert that a family's first page shows: an open one before a closed one, then by what it asks
    of the family, then the graver, then the newer. None where there is none.

    An alert stays open until a practitioner closes it, long after the family was reached about it: it must not
    hide a milder one that nobody answers.
    """
    still_open = [one for one in alerts if one.closed_at is None]
    told = [(one, alert_for_family(session, practice, one, where, now)) for one in still_open or alerts]
    told.sort(key=lambda pair: (_presses(pair[1]), pair[0].level, pair[0].raised_at))
    return told[-1][1] if told else None


def _presses(told: Mapping[str, Any]) -> int:
    """How much an alert asks of the family: 2 while nobody has reached them, 1 for other news, 0 for none.

    What the practice is sent no message about waits for nobody. Whoever says that somebody has called was reached.
    """
    if told["closed_at"] is not None:
        return 0
    called = told["called"] is not None and told["called"]["said"] == "yes"
    if told["level"] >= SENT_LEVEL and told["contact_at"] is None and not called:
        return 2
    return 1 if told["news"] or told["word"] else 0


def _called(alert: Alert, where: ZoneInfo) -> dict[str, Any] | None:
    """What the family says of a call by whoever has the alert now."""
    if alert.called_said_at is None or alert.taken_at is None or alert.called_said_at < alert.taken_at:
        return None
    return {"said": alert.called_said, "at": iso(alert.called_said_at, where)}


BEST_FIRST = ("delivered", "handed_over", "queued", "failed")


def _one_a_person(steps: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Of each person's ways in one step keep the one that came furthest: a family counts people, not channels."""
    best: dict[tuple[int, str], dict[str, Any]] = {}
    for step in steps:
        known = best.setdefault((step["number"], step["person"]), step)
        if BEST_FIRST.index(step["state"]) < BEST_FIRST.index(known["state"]):
            best[step["number"], step["person"]] = step
    return list(best.values())


def _step_state(step: Delivery) -> str:
    if step.failed_at:
        return "failed"
    if step.delivered_at:
        return "delivered"
    return "handed_over" if step.handed_over_at else "queued"
