"""The call sheet: all that a call needs, and who may do what from there."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import func, select
from sqlalchemy.orm import Session
from telling import RED_PAIN, actor_named, report, tell, worn_nights

from companion.common.errors import InvalidInput, NotAllowed
from companion.store.engine import Store
from companion.store.models import Alert, AuditEvent, Hold, Lens, Person, Visit
from companion.usecases import alerts, call_sheet, desk
from companion.usecases.actor import Actor
from companion.usecases.forecasting import refresh_forecast

LEVEL_3, LEVEL_2 = {"redness": "red"}, {"itch": "strong"}
Deed = Callable[[Session, Actor, str, str, datetime], None]


def one_alert(store: Store, cast: Cast, now: datetime, said: dict[str, str], **frame: Any) -> str:
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], now, report(now, right=said) | frame)
    with store.reading() as session:
        return session.scalars(select(Alert.id)).one()


def take(session: Session, actor: Actor, alert_id: str, hold_id: str, now: datetime) -> None:
    alerts.take(session, actor, alert_id, now)


def reach(session: Session, actor: Actor, alert_id: str, hold_id: str, now: datetime) -> None:
    alerts.record_contact(session, actor, alert_id, True, "", now)


def close(session: Session, actor: Actor, alert_id: str, hold_id: str, now: datetime) -> None:
    alerts.close(session, actor, alert_id, "seen_here", "", now, confirmed=True)


def lift(session: Session, actor: Actor, alert_id: str, hold_id: str, now: datetime) -> None:
    alerts.lift_hold(session, actor, hold_id, "white and quiet", now, "as_planned")


EVERYONE = {"Asta", "Pavel", "Mina"}
MAY: list[tuple[str, Deed, dict[str, str], int, set[str]]] = [
    ("take", take, RED_PAIN, 4, EVERYONE),
    ("take", take, LEVEL_3, 3, EVERYONE),
    ("contact", reach, RED_PAIN, 4, EVERYONE),
    ("contact", reach, LEVEL_3, 3, EVERYONE),
    ("close", close, RED_PAIN, 4, {"Pavel"}),
    ("close", close, LEVEL_3, 3, {"Pavel"}),
    ("close", close, LEVEL_2, 2, {"Asta", "Pavel"}),
    ("lift", lift, RED_PAIN, 4, {"Pavel"}),
    ("lift", lift, LEVEL_3, 3, {"Pavel"}),
]
"""An assistant takes and records contact; only a practitioner closes level 3 and more, or lifts a hold (issue)."""


@pytest.mark.parametrize("who", sorted(EVERYONE))
@pytest.mark.parametrize(
    ("deed", "said", "level", "allowed"), [row[1:] for row in MAY], ids=[f"{row[0]}-{row[3]}" for row in MAY]
)
def test_H16_who_may_do_what_from_a_call_sheet(
    store: Store,
    cast: Cast,
    clock: Clock,
    deed: Deed,
    said: dict[str, str],
    level: int,
    allowed: set[str],
    who: str,
) -> None:
    alert_id, actor = one_alert(store, cast, clock(), said), actor_named(store, cast.people[who])
    with store.reading() as session:
        assert session.get_one(Alert, alert_id).level == level
        hold_id = session.scalars(select(Hold.id)).first() or ""
        sheet = call_sheet.alert(session, actor, alert_id, clock())
    with store.writing() as session:
        if who in allowed:
            deed(session, actor, alert_id, hold_id, clock())
        else:
            with pytest.raises(NotAllowed):
                deed(session, actor, alert_id, hold_id, clock())
    offered = {"close": sheet["may_close"], "lift": sheet["may_lift"]}
    assert offered.get(deed.__name__, True) is (who in allowed), "the sheet offers what is then done"


@pytest.mark.parametrize(
    ("reason", "step", "day", "wrong"),
    [
        ("", "as_planned", None, ["reason"]),
        ("clear", "", None, ["next_step"]),
        ("clear", "wait", None, ["next_step"]),
        ("clear", "look_again", None, ["look_on"]),
        ("clear", "look_again", date(2026, 11, 1), ["look_on"]),
        (" ", "", date(2026, 11, 1), ["reason", "next_step"]),
    ],
)
def test_H12_a_hold_is_lifted_with_a_reason_and_a_next_step(
    store: Store, cast: Cast, clock: Clock, reason: str, step: str, day: date | None, wrong: list[str]
) -> None:
    one_alert(store, cast, clock(), RED_PAIN)
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        hold_id = session.scalars(select(Hold.id).where(Hold.eye == "right")).one()
        with pytest.raises(InvalidInput) as caught:
            alerts.lift_hold(session, pavel, hold_id, reason, clock(), step, day)
    assert [one.field for one in caught.value.problems] == wrong
    with store.reading() as session:
        assert session.get_one(Hold, hold_id).lifted_at is None


def test_H12_the_next_look_is_booked_with_the_lifting_and_once(store: Store, cast: Cast, clock: Clock) -> None:
    one_alert(store, cast, clock(), RED_PAIN)
    pavel, day = actor_named(store, cast.people["Pavel"]), date(2026, 11, 9)
    with store.reading() as session:
        hold_id = session.scalars(select(Hold.id).where(Hold.eye == "right")).one()
    for _ in range(2):
        with store.writing() as session:
            alerts.lift_hold(session, pavel, hold_id, "white and quiet", clock(), "look_again", day)
    with store.reading() as session:
        assert session.scalar(select(func.count()).where(Visit.kind == "extra", Visit.due_on == day)) == 1
        verbs = session.execute(select(AuditEvent.verb, AuditEvent.object_kind).order_by(AuditEvent.at)).all()
    done = sorted(tuple(row) for row in verbs if row.verb in ("lift", "sign"))
    assert done == [("lift", "hold"), ("sign", "visits")]


def test_the_sheet_holds_all_that_a_call_needs(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    with store.writing() as session:
        session.get_one(Person, gwen.person_id).phone = "+441632960123"
        for lens in session.scalars(select(Lens).where(Lens.wearer_id == nola)):
            lens.base_curve_mm = 8.35
        session.commit()
    now = clock()
    tell(store, gwen, nola, now, *worn_nights(now, 14))
    refresh_forecast(store, nola, now)
    said = report(now, right=RED_PAIN)
    said["payload"]["language"] = "ar"
    tell(store, gwen, nola, now, said)
    with store.reading() as session:
        alert_id = session.scalars(select(Alert.id)).one()
        sheet = call_sheet.alert(session, actor_named(store, cast.people["Asta"]), alert_id, now)
    assert ("Gwen", "+441632960123") in [(one["name"], one["phone"]) for one in sheet["call_back"]]
    assert (sheet["wearer"]["age"], sheet["eyes"]) == (8, {"right": 4, "left": 1})
    assert {eye: one["state"] for eye, one in sheet["lens_now"].items()} == {"right": "out", "left": "out"}
    assert sheet["told_in"] == "ar"
    right = sheet["lenses"]["right"]
    assert (right["marked_as"], right["base_curve_mm"], right["aim_d"]) == ("right dot", 8.35, 0.5)
    assert len(sheet["nights"]) == 14
    assert set(sheet["curve"]["eyes"]) == {"right", "left"}
    assert sheet["report"]["answers"]["right"]["pain"] == "moderate"


@pytest.mark.parametrize(
    ("made_before", "marked"),
    [(timedelta(minutes=14, seconds=59), False), (timedelta(minutes=15), True), (timedelta(hours=6), True)],
)
def test_H3_a_report_that_comes_late_is_marked(
    store: Store, cast: Cast, clock: Clock, made_before: timedelta, marked: bool
) -> None:
    """*Made 02:00, received 08:00* (issue): the eye was so long without anybody's knowing."""
    made = clock()
    received = clock.advance(seconds=made_before.total_seconds())
    alert_id = one_alert(store, cast, received, RED_PAIN, at=made.isoformat(), made_at=made.isoformat())
    asta = actor_named(store, cast.people["Asta"])
    with store.reading() as session:
        listed = desk.desk(session, asta, received)["alerts"][0]
        sheet = call_sheet.alert(session, asta, alert_id, received)
    for shown in (listed, sheet):
        assert shown["late"] is marked
        assert datetime.fromisoformat(shown["made_at"]) == made.replace(microsecond=0)
        assert datetime.fromisoformat(shown["received_at"]) == received.replace(microsecond=0)
