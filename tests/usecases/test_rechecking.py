"""What time does to an open report: answers that wait count as worse, and a missed re-check is told."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, time, timedelta
from typing import Any

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import actor_named, report, tell

from companion.store.engine import Store
from companion.store.models import Alert, AuditEvent, Delivery, EntryRow, Hold, Outbox, Person, Report, Wearer
from companion.usecases import desk as desks
from companion.usecases import reports
from companion.usecases.alerts import close, lift_hold, record_contact, take
from companion.usecases.climbing import climb_alerts
from companion.usecases.rechecking import recheck_reports
from companion.usecases.tonight import tonight

STUCK = {"lens": "stuck_now"}  # level 2, and 4 after half an hour: safety guidance 8.4, T2
WATERY = {"discharge": "watery", "course": "over_1h"}  # level 2, and 3 after a day
PINK = {"redness": "pink", "course": "over_1h"}  # level 3; a missed re-check counts as over a day, which is 4
HAZY = {"haloes": "new"}  # level 2, whatever the course


def said(store: Store, cast: Cast, clock: Clock, answers: Mapping[str, str], who: str = "Gwen") -> str:
    """Send a report of Nola's right eye and return its id."""
    gwen = actor_named(store, cast.people[who])
    (one,) = tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=dict(answers))).reports
    return one


def alert_of(store: Store, report_id: str) -> Alert:
    with store.reading() as session:
        return session.scalars(select(Alert).where(Alert.entry_id == report_id)).one()


def mails(store: Store, key: str) -> list[str]:
    with store.reading() as session:
        rows = session.scalars(select(Outbox).order_by(Outbox.created_at, Outbox.address))
        return [row.address for row in rows if row.message["key"] == key]


def sleeps(store: Store, cast: Cast, at: time, wakes: time = time(6, 30)) -> None:
    """Nola usually sleeps from then on."""
    with store.writing() as session:
        nola = session.get_one(Wearer, cast.wearers["Nola"])
        nola.usual_in, nola.usual_out = at, wakes
        session.commit()


def held(store: Store) -> list[str]:
    with store.reading() as session:
        return sorted(session.scalars(select(Hold.eye).where(Hold.lifted_at.is_(None))))


def as_seen(store: Store, cast: Cast, clock: Clock, report_id: str) -> dict[str, object]:
    gwen = actor_named(store, cast.people["Gwen"])
    with store.reading() as session:
        view = reports.report(session, gwen, cast.wearers["Nola"], report_id, clock())
        page = tonight(session, gwen, cast.wearers["Nola"], clock())
    assert page["alert"]["word"] == view["alert"]["word"]
    return {"word": view["alert"]["word"], "level": view["report"]["level"], "lens": view["report"]["lens"]}


@pytest.mark.parametrize(
    ("answers", "before", "minutes", "after"),
    [(STUCK, 2, 30, 4), (WATERY, 2, 24 * 60, 3), (PINK, 3, 4 * 60 + 30, 4)],
)
def test_H1_an_open_report_counts_as_worse_when_its_time_is_up(
    store: Store, cast: Cast, clock: Clock, answers: dict[str, str], before: int, minutes: int, after: int
) -> None:
    sleeps(store, cast, time(20, 45))  # gone to bed by then: no look at bedtime comes first
    id_ = said(store, cast, clock, answers)
    assert alert_of(store, id_).level == before
    clock.advance(minutes=minutes - 1)
    recheck_reports(store, clock())
    assert alert_of(store, id_).level == before
    clock.advance(minutes=1)
    assert recheck_reports(store, clock()) == 1
    assert recheck_reports(store, clock()) == 0
    alert = alert_of(store, id_)
    assert (alert.level, alert.raised_again_at) == (after, clock())
    with store.reading() as session:
        assert session.get_one(Report, id_).level == before, "the report stays as it was judged"
        verbs = session.scalars(select(AuditEvent.verb).where(AuditEvent.object_id == alert.id)).all()
    assert "raise" in verbs
    assert as_seen(store, cast, clock, id_)["level"] == after
    assert as_seen(store, cast, clock, id_)["word"] == "more_urgent"


def test_H12_time_places_the_hold_that_the_raised_report_asks_for(store: Store, cast: Cast, clock: Clock) -> None:
    said(store, cast, clock, WATERY)
    before = held(store)
    clock.advance(hours=24)
    recheck_reports(store, clock())
    assert held(store) == ["left", "right"]
    assert len(held(store)) >= len(before)


def test_H12_time_never_places_again_what_a_practitioner_has_lifted(
    store: Store, cast: Cast, clock: Clock
) -> None:
    said(store, cast, clock, STUCK)
    pavel = actor_named(store, cast.people["Pavel"])
    with store.reading() as session:
        holds = list(session.scalars(select(Hold.id)))
    for one in holds:
        with store.writing() as session:
            lift_hold(session, pavel, one, "came out", clock())
    clock.advance(minutes=30)
    assert recheck_reports(store, clock()) == 1
    assert held(store) == []


def test_H2_a_raised_alert_is_sent_and_climbs_as_its_level_does(store: Store, cast: Cast, clock: Clock) -> None:
    id_ = said(store, cast, clock, STUCK)
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        take(session, pavel, alert_of(store, id_).id, clock())
    clock.advance(minutes=30)
    recheck_reports(store, clock())
    assert len(mails(store, "alert_raised")) == 1
    assert alert_of(store, id_).taken_at is None, "what was taken was less urgent"
    assert climb_alerts(store, clock()) == 0
    clock.advance(minutes=30)
    assert climb_alerts(store, clock()) == 4
    with store.reading() as session:
        assert sorted(session.scalars(select(Delivery.step))) == [0, 1, 2, 2, 2]


def test_H17_the_family_hears_that_a_report_has_become_more_urgent(store: Store, cast: Cast, clock: Clock) -> None:
    said(store, cast, clock, STUCK)
    assert mails(store, "family_report") == []
    clock.advance(minutes=30)
    recheck_reports(store, clock())
    assert mails(store, "family_raised") == ["gus@example.org", "gwen@example.org"]


@pytest.mark.parametrize("answers", [{"lens": "ok"}, {"course": "cleared"}])
def test_a_later_report_stops_the_clock(store: Store, cast: Cast, clock: Clock, answers: dict[str, str]) -> None:
    id_ = said(store, cast, clock, STUCK)
    clock.advance(minutes=20)
    said(store, cast, clock, answers, who="Gus")
    clock.advance(hours=48)
    recheck_reports(store, clock())
    alert = alert_of(store, id_)
    assert (alert.level, alert.no_word_at, alert.raised_again_at) == (2, None, None)
    assert as_seen(store, cast, clock, id_)["word"] is None


def test_H1_a_later_word_from_somebody_whose_right_has_ended_does_not_stop_it(
    store: Store, cast: Cast, clock: Clock
) -> None:
    id_ = said(store, cast, clock, STUCK)
    clock.advance(minutes=20)
    later = said(store, cast, clock, {"lens": "ok"}, who="Gus")
    with store.writing() as session:
        session.get_one(EntryRow, later).verified = False
        session.commit()
    clock.advance(minutes=10)
    assert recheck_reports(store, clock()) == 1
    assert alert_of(store, id_).level == 4


@pytest.mark.parametrize("who", ["Gwen", "Gus"])
def test_H1_a_word_about_the_other_eye_stops_no_clock_and_takes_no_look_away(
    store: Store, cast: Cast, clock: Clock, who: str
) -> None:
    right = report(clock(), right=STUCK)
    del right["payload"]["answers"]["left"]
    (id_,) = tell(store, actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"], clock(), right).reports
    clock.advance(minutes=5)
    left = report(clock(), left={"itch": "mild"})
    del left["payload"]["answers"]["right"]
    (other,) = tell(store, actor_named(store, cast.people[who]), cast.wearers["Nola"], clock(), left).reports
    look = looked_for(store, cast, clock, id_)
    assert look is not None and look["at"] == "2026-11-02T20:45:00+00:00"
    with store.reading() as session:
        gwen = actor_named(store, cast.people["Gwen"])
        assert reports.report(session, gwen, cast.wearers["Nola"], other, clock())["look"]["level"] == 1
    clock.advance(minutes=25)
    assert recheck_reports(store, clock()) == 1
    assert alert_of(store, id_).level == 4


def test_H13_a_fast_phone_clock_has_not_the_last_word_for_days(store: Store, cast: Cast, clock: Clock) -> None:
    gus = actor_named(store, cast.people["Gus"])
    fast = report(clock() + timedelta(days=2), right={"itch": "mild"})
    tell(store, gus, cast.wearers["Nola"], clock(), fast)
    clock.advance(minutes=5)
    id_ = said(store, cast, clock, STUCK)
    assert looked_for(store, cast, clock, id_) is not None
    clock.advance(minutes=30)
    assert recheck_reports(store, clock()) == 1
    assert alert_of(store, id_).level == 4


def test_a_closed_alert_is_left_alone(store: Store, cast: Cast, clock: Clock) -> None:
    id_ = said(store, cast, clock, STUCK)
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        close(session, pavel, alert_of(store, id_).id, "advice_given", "", clock())
    clock.advance(hours=48)
    assert recheck_reports(store, clock()) == 0


def test_H2_a_missed_recheck_is_told_to_the_desk_where_the_level_stays(
    store: Store, cast: Cast, clock: Clock
) -> None:
    sleeps(store, cast, time(20, 45))
    id_ = said(store, cast, clock, HAZY)
    clock.advance(hours=24)
    assert recheck_reports(store, clock()) == 0
    assert as_seen(store, cast, clock, id_)["word"] == "asked"
    clock.advance(minutes=30)
    assert recheck_reports(store, clock()) == 1
    assert recheck_reports(store, clock()) == 0
    assert as_seen(store, cast, clock, id_)["word"] == "still_there"
    with store.reading() as session:
        view = desks.desk(session, actor_named(store, cast.people["Asta"]), clock())
    (row,) = view["later"]
    assert (row["level"], row["raised_again_at"]) == (2, None)
    assert row["no_word_at"] is not None


def test_a_family_that_the_practice_has_reached_missed_no_recheck(store: Store, cast: Cast, clock: Clock) -> None:
    id_ = said(store, cast, clock, PINK)
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        record_contact(session, pavel, alert_of(store, id_).id, True, "", clock())
    clock.advance(hours=5)
    assert recheck_reports(store, clock()) == 0


def test_H2_time_goes_on_after_contact_and_whoever_has_it_hears(store: Store, cast: Cast, clock: Clock) -> None:
    id_ = said(store, cast, clock, STUCK)
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        record_contact(session, pavel, alert_of(store, id_).id, True, "", clock())
    clock.advance(minutes=30)
    recheck_reports(store, clock())
    alert = alert_of(store, id_)
    assert (alert.level, alert.taken_by) == (4, cast.people["Pavel"])
    assert mails(store, "alert_raised") == ["pavel@example.org"]
    clock.advance(minutes=59)
    assert climb_alerts(store, clock()) == 0
    clock.advance(minutes=1)
    assert climb_alerts(store, clock()) > 0, "he has not reached them about this yet"


def test_H13_a_fast_phone_clock_holds_nothing_up(store: Store, cast: Cast, clock: Clock) -> None:
    gwen = actor_named(store, cast.people["Gwen"])
    ahead = report(clock() + timedelta(minutes=4), right=STUCK)
    (id_,) = tell(store, gwen, cast.wearers["Nola"], clock(), ahead).reports
    clock.advance(minutes=30)
    recheck_reports(store, clock())
    assert alert_of(store, id_).level == 4


def test_H2_one_that_breaks_holds_up_no_other(store: Store, cast: Cast, clock: Clock) -> None:
    id_ = said(store, cast, clock, STUCK)
    gil = actor_named(store, cast.people["Gil"])
    (other,) = tell(store, gil, cast.wearers["Lea"], clock(), report(clock(), left=STUCK)).reports
    with store.writing() as session:
        session.get_one(EntryRow, id_).payload = {"answers": "spoilt"}
        session.commit()
    clock.advance(minutes=30)
    with pytest.raises(ExceptionGroup):
        recheck_reports(store, clock())
    assert alert_of(store, other).level == 4


def test_nobody_with_an_address_breaks_nothing(store: Store, cast: Cast, clock: Clock) -> None:
    id_ = said(store, cast, clock, STUCK)
    with store.writing() as session:
        for person in session.scalars(select(Person)):
            person.email = None
        session.commit()
    clock.advance(minutes=30)
    assert recheck_reports(store, clock()) == 1
    assert alert_of(store, id_).level == 4


# -- moments of the day -------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("answers", "at", "due", "missed", "levels"),
    [
        (PINK, "20:30", "2026-11-02 21:30", "2026-11-02 22:30", (3, 4)),  # bedtime comes before the four hours
        (PINK, "03:00", "2026-11-03 06:30", "2026-11-03 07:30", (3, 4)),  # and so does the morning
        (PINK, "21:00", "2026-11-03 01:00", "2026-11-03 01:30", (3, 4)),  # bedtime within the hour was that look
        (HAZY, "20:30", "2026-11-02 21:30", "2026-11-02 22:30", (2, 2)),  # before a lens goes in
        (WATERY, "20:30", "2026-11-03 20:30", "2026-11-03 20:30", (2, 3)),  # held: no lens goes in
    ],
)
def test_H1_a_look_missed_at_bedtime_on_waking_or_before_a_lens_goes_in_counts_and_is_told(
    store: Store,
    cast: Cast,
    clock: Clock,
    answers: dict[str, str],
    at: str,
    due: str,
    missed: str,
    levels: tuple[int, int],
) -> None:
    hour, minute = map(int, at.split(":"))
    clock.advance(hours=(hour - 20) % 24, minutes=minute - 30)
    id_ = said(store, cast, clock, answers)
    look = looked_for(store, cast, clock, id_)
    assert look is not None
    assert (look["at"], look["due"]) == (f"{due.replace(' ', 'T')}:00+00:00", False)
    clock.now = at_utc(missed) - timedelta(minutes=1)
    assert recheck_reports(store, clock()) == 0
    clock.advance(minutes=1)
    assert recheck_reports(store, clock()) == 1
    alert = alert_of(store, id_)
    assert (alert.level, alert.no_word_at is not None or alert.raised_again_at is not None) == (levels[1], True)


def test_H13_the_look_on_the_screen_is_never_early_and_stays_due_until_a_word_comes(
    store: Store, cast: Cast, clock: Clock
) -> None:
    clock.advance(seconds=1)
    fresh = said(store, cast, clock, {"redness": "pink", "course": "under_1h"})
    look = looked_for(store, cast, clock, fresh)
    assert look is not None and look["at"] == "2026-11-02T21:31:00+00:00", "a full minute, and not the one before"
    assert (look["eyes"], look["moment"], look["report_id"], look["level"]) == ("both", None, fresh, 2)
    clock.advance(minutes=60)
    look = looked_for(store, cast, clock, fresh)
    assert look is not None and not look["due"]
    clock.advance(minutes=1)
    recheck_reports(store, clock())
    assert alert_of(store, fresh).level == 3
    look = looked_for(store, cast, clock, fresh)
    assert look is not None and look["due"], "time has raised it: that takes no look away"
    assert look["at"] == "2026-11-02T21:31:00+00:00"
    again = said(store, cast, clock, {"redness": "pink", "course": "over_1h"}, who="Gus")
    assert looked_for(store, cast, clock, fresh) is None
    look = looked_for(store, cast, clock, again)
    assert look is not None and not look["due"]


@pytest.mark.parametrize("answers", [{"pain": "moderate"}, {"pain": "severe"}])
def test_H1_nobody_is_told_to_wait_and_look_where_the_eye_is_to_be_seen(
    store: Store, cast: Cast, clock: Clock, answers: dict[str, str]
) -> None:
    assert looked_for(store, cast, clock, said(store, cast, clock, answers)) is None


def test_H1_a_mild_report_is_looked_at_again_for_a_day_and_no_missed_look_makes_it_more(
    store: Store, cast: Cast, clock: Clock
) -> None:
    sleeps(store, cast, time(20, 45))
    id_ = said(store, cast, clock, {"pain": "gone_lens_out"})
    clock.advance(hours=24)
    look = looked_for(store, cast, clock, id_)
    assert look is not None and look["due"] and look["level"] == 1
    assert recheck_reports(store, clock()) == 0
    clock.advance(hours=24)
    assert looked_for(store, cast, clock, id_) is None


def test_once_the_practice_has_reached_the_family_or_closed_nobody_waits_for_a_look(
    store: Store, cast: Cast, clock: Clock
) -> None:
    id_ = said(store, cast, clock, PINK)
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        record_contact(session, pavel, alert_of(store, id_).id, True, "", clock())
    assert looked_for(store, cast, clock, id_) is None
    with store.writing() as session:
        close(session, pavel, alert_of(store, id_).id, "advice_given", "", clock())
    assert looked_for(store, cast, clock, id_) is None


def at_utc(text: str) -> datetime:
    return datetime.fromisoformat(f"{text}+00:00")


def looked_for(store: Store, cast: Cast, clock: Clock, report_id: str) -> dict[str, Any] | None:
    """The look on the report's page; where there is one it stands on Tonight as well."""
    gwen = actor_named(store, cast.people["Gwen"])
    with store.reading() as session:
        look = reports.report(session, gwen, cast.wearers["Nola"], report_id, clock())["look"]
        assert look is None or look == tonight(session, gwen, cast.wearers["Nola"], clock())["look"]
    return look  # type: ignore[no-any-return]
