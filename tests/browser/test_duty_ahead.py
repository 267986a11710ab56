"""Who is at the practice, as a phone without a network knows it from the hours that the last sync brought."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from people import ZONE, Cast
from sqlalchemy.orm import Session
from windows import Open, Site

from companion.store.models import Practice
from companion.usecases.showing import practice_now

LONDON = ZoneInfo(ZONE)
HOURS = {
    "fri": [["08:30", "12:00"], ["13:00", "24:00"]],
    "sat": [["00:00", "02:00"]],
    "mon": [["09:00", "17:00"]],
    "tue": [["01:30", "06:00"]],
}
ON_CALL = {
    "sat": [["01:00", "10:00"]],
    "sun": [["00:30", "01:30"], ["20:00", "24:00"]],
    "mon": [["00:00", "09:00"]],
}
TOLD = datetime(2026, 10, 23, 7, tzinfo=LONDON)
"""On a Friday; the clock goes back in the night to Sunday."""
LATER = """async ([url, asked]) => {
    const { practiceAt } = await import(url);
    return asked.map(([practice, now]) => {
        const { on_duty, on_call, opens_at } = practiceAt(practice, Date.parse(now));
        return [on_duty, on_call, opens_at && Date.parse(opens_at)];
    });
}"""


def test_H3_a_phone_knows_for_days_who_is_there_as_the_server_does(site: Site, cast: Cast, window: Open) -> None:
    """Every ten minutes of four days, and a minute to each side of every hour."""
    with site.store.writing() as session:
        practice = session.get_one(Practice, cast.practices["mill"])
        practice.opening_hours, practice.on_call_hours = HOURS, ON_CALL
        practice.alert_plan = [{"person_id": cast.people["Asta"], "channel": "any", "when": "on_call"}]
        session.flush()
        kept = practice_now(practice, TOLD, LONDON)
        minutes = sorted({*range(0, 4 * 24 * 60, 10), *(60 * hour - 1 for hour in range(1, 96))})
        moments = [TOLD + timedelta(minutes=one) for one in minutes]
        server = [seen(session, practice, now) for now in moments]
        session.rollback()
    assert {tuple(one[:2]) for one in server} == {(True, False), (True, True), (False, False)}
    assert on_the_phone(site, window, [(kept, now) for now in moments]) == server


def test_H3_after_an_update_without_a_network_nobody_is_said_to_be_there(site: Site, window: Open) -> None:
    """What the release before has kept tells no hours."""
    old = {"on_duty": True, "on_call": False, "closes_at": None, "opens_at": None}
    assert on_the_phone(site, window, [(old, TOLD)]) == [[False, False, None]]


def on_the_phone(site: Site, window: Open, asked: list[tuple[dict[str, Any], datetime]]) -> list[Any]:
    page = window(script=True)
    page.go("/style")
    module = f"/static/{site.app.extensions['companion_build'].version}/js/hours.js"
    found: list[Any] = page.page.evaluate(LATER, [module, [[kept, now.isoformat()] for kept, now in asked]])
    return found


def seen(session: Session, practice: Practice, now: datetime) -> list[Any]:
    shown = practice_now(practice, now, LONDON)
    opens = shown["opens_at"] and datetime.fromisoformat(shown["opens_at"]).timestamp() * 1000
    return [shown["on_duty"], shown["on_call"], opens]
