"""An alert is in the hands of whoever took it, for as long as that is true: not once they are gone, not once it is
more urgent than what they spoke of; and a family's word moves it once."""

from __future__ import annotations

from fakes import Clock
from people import Cast
from reach import add_gateway, messages, plan, the_alert
from sqlalchemy import select
from telling import RED_PAIN, actor_named, report, tell

from companion.store.engine import Store
from companion.store.models import Outbox
from companion.usecases import called
from companion.usecases.alerts import close, record_contact, take
from companion.usecases.climbing import climb_alerts
from companion.usecases.guardianships import end_guardianship
from companion.usecases.rechecking import recheck_reports
from companion.usecases.sending import send_due
from companion.usecases.staff import end_membership
from companion.usecases.tonight import tonight

PINK = {"redness": "pink", "course": "over_1h"}
"""Level 3, and 4 after a day."""


def said(store: Store, cast: Cast, clock: Clock, answers: dict[str, str]) -> str:
    gwen = actor_named(store, cast.people["Gwen"])
    (one,) = tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=answers)).reports
    return one


def taken(store: Store, cast: Cast, clock: Clock, name: str = "Asta") -> None:
    with store.writing() as session:
        take(session, actor_named(store, cast.people[name]), the_alert_id(store), clock())


def reached(store: Store, cast: Cast, clock: Clock, name: str = "Asta") -> None:
    with store.writing() as session:
        record_contact(session, actor_named(store, cast.people[name]), the_alert_id(store), True, "", clock())


def the_alert_id(store: Store) -> str:
    return the_alert(store).id


def test_H2_what_somebody_took_who_works_here_no_more_climbs_at_once(
    store: Store, cast: Cast, clock: Clock
) -> None:
    said(store, cast, clock, RED_PAIN)
    taken(store, cast, clock)
    clock.advance(minutes=15)
    assert climb_alerts(store, clock()) == 0
    mina = actor_named(store, cast.people["Mina"])
    with store.writing() as session:
        end_membership(session, mina, cast.people["Asta"], "assistant", clock())
    assert the_alert(store).taken_by is None
    assert climb_alerts(store, clock()) == 2, "the first step anew, for it had reached her alone, and the second"
    assert "Asta" not in [name for step, name, *_ in messages(store) if step]


def test_H2_who_works_here_no_more_is_sent_nothing_and_another_is_told_at_once(
    store: Store, cast: Cast, clock: Clock
) -> None:
    clock.now = clock().replace(hour=10)
    plan(store, cast.practices["mill"], (cast.people["Asta"], "any", "always"), on_call={})
    said(store, cast, clock, {"redness": "red"})  # level 3: the next step is two hours away
    clock.advance(minutes=1)
    assert climb_alerts(store, clock()) == 0
    mina = actor_named(store, cast.people["Mina"])
    with store.writing() as session:
        end_membership(session, mina, cast.people["Asta"], "assistant", clock())
    assert climb_alerts(store, clock()) == 1
    assert climb_alerts(store, clock()) == 0
    sent: list[str] = []
    send_due(store, {"mail": lambda one: sent.append(one.address) or "taken"}, "http://here", "one", clock)
    staff = {f"{name}@example.org" for name in ("asta", "pavel", "mina")}
    assert len(staff & set(sent)) == 1 and "asta@example.org" not in sent


def test_the_family_never_gets_the_practices_own_notes(store: Store, cast: Cast, clock: Clock) -> None:
    said(store, cast, clock, RED_PAIN)
    pavel, gwen = actor_named(store, cast.people["Pavel"]), actor_named(store, cast.people["Gwen"])
    with store.writing() as session:
        record_contact(session, pavel, the_alert_id(store), True, "for us alone", clock())
    with store.writing() as session:
        close(session, pavel, the_alert_id(store), "advice_given", "for us alone", clock(), confirmed=True)
    with store.reading() as session:
        shown = tonight(session, gwen, cast.wearers["Nola"], clock())
    assert shown["alert"]["outcome"] == "advice_given"
    assert "for us alone" not in str(shown)


def test_H2_raised_after_contact_it_is_told_by_every_way_and_climbs_without_contact_anew(
    store: Store, cast: Cast, clock: Clock
) -> None:
    clock.now = clock().replace(hour=10)
    with store.writing() as session:
        add_gateway(session, cast.practices["mill"], clock())
        session.commit()
    plan(store, cast.practices["mill"], (cast.people["Pavel"], "webhook", "always"), on_call={})
    said(store, cast, clock, PINK)
    reached(store, cast, clock)
    clock.advance(hours=24)
    assert recheck_reports(store, clock()) == 1
    alert = the_alert(store)
    assert (alert.level, alert.taken_by, alert.contact_at) == (4, cast.people["Asta"], None)
    raised = max(step for step, *_ in messages(store))
    assert [(name, way) for step, name, way, _ in messages(store) if step == raised] == [
        ("Asta", "mail"), ("Asta", "webhook")
    ], "the way that the plan wishes for Pavel is not hers"  # fmt: skip
    clock.advance(minutes=59)
    assert climb_alerts(store, clock()) == 0
    clock.advance(minutes=1)
    assert climb_alerts(store, clock()) > 0
    reached(store, cast, clock)
    clock.advance(hours=9)
    assert climb_alerts(store, clock()) == 0


def test_H2_raised_after_contact_by_somebody_who_is_gone_it_climbs_as_if_just_sent(
    store: Store, cast: Cast, clock: Clock
) -> None:
    clock.now = clock().replace(hour=10)
    said(store, cast, clock, PINK)
    reached(store, cast, clock)
    mina = actor_named(store, cast.people["Mina"])
    with store.writing() as session:
        end_membership(session, mina, cast.people["Asta"], "assistant", clock())
    clock.advance(hours=24)
    recheck_reports(store, clock())
    assert the_alert(store).taken_by is None
    clock.advance(minutes=15)
    assert climb_alerts(store, clock()) > 0


def test_H11_no_said_again_and_again_begins_no_climb_anew(store: Store, cast: Cast, clock: Clock) -> None:
    clock.now = clock().replace(hour=17)
    id_ = said(store, cast, clock, {"redness": "red"})
    clock.advance(minutes=55)
    taken(store, cast, clock)
    clock.advance(minutes=60)
    gwen, told = actor_named(store, cast.people["Gwen"]), 0
    for _ in range(20):
        clock.advance(minutes=1)
        with store.writing() as session:
            called.say_called(session, gwen, cast.wearers["Nola"], id_, "no", clock())
        told += climb_alerts(store, clock())
    assert told == 1


def test_whose_right_has_ended_hears_no_news_of_their_report(store: Store, cast: Cast, clock: Clock) -> None:
    said(store, cast, clock, RED_PAIN)
    with store.writing() as session:
        pavel = actor_named(store, cast.people["Pavel"])
        end_guardianship(session, pavel, cast.wearers["Nola"], cast.people["Gwen"], clock())
    clock.advance(minutes=30)
    climb_alerts(store, clock())
    with store.reading() as session:
        rows = session.scalars(select(Outbox)).all()
        to = [row.address for row in rows if row.message["key"] == "family_nobody_took_it"]
    assert to == ["gus@example.org"]
