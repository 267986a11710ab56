"""The family is asked whether somebody has called; and is sent the news that nobody answers, each once."""

from __future__ import annotations

import pytest
from fakes import Clock
from people import Cast
from reach import add_browser, messages, the_alert
from sqlalchemy import select
from telling import RED_PAIN, actor_named, report, tell

from companion.common.errors import InvalidInput, NotAllowed, NotFound
from companion.store.engine import Store
from companion.store.models import Alert, EntryRow, Outbox, Person
from companion.usecases import called
from companion.usecases.alerts import record_contact, take
from companion.usecases.call_sheet import alert as call_sheet
from companion.usecases.climbing import climb_alerts
from companion.usecases.reports import report as family_report

RED = {"redness": "red"}
"""Alone it is level 3."""


def said(store: Store, cast: Cast, clock: Clock, word: str, name: str = "Gwen") -> None:
    with store.writing() as session:
        entry_id = session.scalars(select(Alert.entry_id)).one()
        who = actor_named(store, cast.people[name])
        called.say_called(session, who, cast.wearers["Nola"], entry_id, word, clock())


def shown(store: Store, cast: Cast, clock: Clock) -> dict[str, object]:
    with store.reading() as session:
        entry_id = session.scalars(select(Alert.entry_id)).one()
        gwen = actor_named(store, cast.people["Gwen"])
        return dict(family_report(session, gwen, cast.wearers["Nola"], entry_id, clock())["alert"])


@pytest.fixture
def taken(store: Store, cast: Cast, clock: Clock) -> str:
    """A level 3 report, taken by Asta five minutes before the practice shuts. The id of its alert."""
    clock.now = clock().replace(hour=17, minute=0)
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED))
    clock.advance(minutes=55)
    alert = the_alert(store)
    assert alert.level == 3
    with store.writing() as session:
        take(session, actor_named(store, cast.people["Asta"]), alert.id, clock())
    return alert.id


def test_H2_no_after_the_time_for_a_call_climbs_at_once_and_stands_on_the_call_sheet(
    store: Store, cast: Cast, clock: Clock, taken: str
) -> None:
    clock.advance(minutes=60)
    assert climb_alerts(store, clock()) == 0, "by the practice's hours it would wait for the morning"
    said(store, cast, clock, "no")
    assert climb_alerts(store, clock()) > 0
    assert len({step for step, _, _, _ in messages(store)}) == 2
    with store.reading() as session:
        sheet = call_sheet(session, actor_named(store, cast.people["Pavel"]), taken, clock())
    assert sheet["called"]["said"] == "no"
    assert shown(store, cast, clock)["news"] == "no_contact_yet"


def test_no_before_the_time_is_over_is_shown_and_climbs_nothing(
    store: Store, cast: Cast, clock: Clock, taken: str
) -> None:
    clock.advance(minutes=59)
    said(store, cast, clock, "no")
    clock.advance(hours=2)
    assert climb_alerts(store, clock()) == 0
    view = shown(store, cast, clock)
    assert view["asks_called"] and view["called"] is not None


def test_H2_yes_is_no_contact_and_stops_no_climb(store: Store, cast: Cast, clock: Clock, taken: str) -> None:
    clock.advance(minutes=60)
    said(store, cast, clock, "yes")
    assert the_alert(store).contact_at is None
    assert shown(store, cast, clock)["news"] is None, "they are not told that nobody has called"
    clock.advance(hours=15)  # into the practice's hours
    assert climb_alerts(store, clock()) > 0


def test_a_word_counts_for_whoever_has_the_alert_now(store: Store, cast: Cast, clock: Clock, taken: str) -> None:
    said(store, cast, clock, "yes")
    clock.advance(minutes=60)
    with store.writing() as session:
        take(session, actor_named(store, cast.people["Pavel"]), taken, clock())
    assert shown(store, cast, clock)["called"] is None
    with store.writing() as session:
        record_contact(session, actor_named(store, cast.people["Pavel"]), taken, True, "", clock())
    assert not shown(store, cast, clock)["asks_called"]
    said(store, cast, clock, "no")
    assert the_alert(store).called_said == "yes", "nothing is asked any more"


def test_before_anybody_has_taken_it_nothing_is_asked(store: Store, cast: Cast, clock: Clock) -> None:
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    assert not shown(store, cast, clock)["asks_called"]
    said(store, cast, clock, "no")
    assert the_alert(store).called_said is None


def test_only_who_may_see_the_report_says_so(store: Store, cast: Cast, clock: Clock, taken: str) -> None:
    for name, refusal in (("Hedda", NotFound), ("Gil", NotFound), ("Asta", NotAllowed)):
        with pytest.raises(refusal):
            said(store, cast, clock, "no", name)
    with pytest.raises(InvalidInput):
        said(store, cast, clock, "perhaps")
    said(store, cast, clock, "yes", "Gus")
    assert the_alert(store).called_said == "yes"


# -- the family's news -------------------------------------------------------------------------------
def news(store: Store) -> list[tuple[str, str, str]]:
    with store.reading() as session:
        rows = session.execute(
            select(Outbox.message, Outbox.channel, Outbox.address).where(Outbox.delivery_id.is_(None))
        )
        return sorted((message["key"], channel, address) for message, channel, address in rows)


def test_H2_at_the_end_of_the_plan_author_and_guardians_are_sent_the_news_once(
    store: Store, cast: Cast, clock: Clock
) -> None:
    with store.writing() as session:
        browser = add_browser(session, cast.people["Gwen"], clock())
        session.commit()
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    before = news(store)
    clock.advance(minutes=29)
    climb_alerts(store, clock())
    assert news(store) == before
    clock.advance(minutes=1)
    for _ in range(3):
        climb_alerts(store, clock())
    told = [
        ("family_nobody_took_it", "mail", "gus@example.org"),
        ("family_nobody_took_it", "mail", "gwen@example.org"),
        ("family_nobody_took_it", "push", browser),
    ]
    assert [one for one in news(store) if one not in before] == told
    clock.advance(hours=5)
    climb_alerts(store, clock())
    assert [one for one in news(store) if one not in before] == told
    with store.writing() as session:
        take(session, actor_named(store, cast.people["Asta"]), the_alert(store).id, clock())
    clock.advance(minutes=60)
    for _ in range(2):
        climb_alerts(store, clock())
    late = [one for one in news(store) if one not in before and one not in told]
    assert [key for key, _, _ in late] == ["family_no_contact_yet"] * 3
    with store.reading() as session:
        for message in session.scalars(select(Outbox.message)):
            assert "Nola" not in str(message)


def test_H2_where_nobody_can_be_told_the_family_is_sent_that_at_once(
    store: Store, cast: Cast, clock: Clock
) -> None:
    with store.writing() as session:
        for name in ("Asta", "Pavel", "Mina"):
            session.get_one(Person, cast.people[name]).email = None
        session.commit()
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    climb_alerts(store, clock())
    assert [key for key, _, _ in news(store)].count("family_nobody_to_tell") == 2


def test_news_of_an_adult_goes_to_the_wearer_alone(store: Store, cast: Cast, clock: Clock) -> None:
    wim = actor_named(store, cast.people["Wim"])
    tell(store, wim, cast.wearers["Wim"], clock(), report(clock(), right=RED_PAIN))
    clock.advance(minutes=30)
    climb_alerts(store, clock())
    assert news(store) == [("family_nobody_took_it", "mail", "wim@example.org")]


def test_an_unverified_author_is_sent_no_news(store: Store, cast: Cast, clock: Clock) -> None:
    """Whose right is not sure hears nothing of the child: the guardians do."""
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    with store.writing() as session:
        row = session.scalars(select(EntryRow)).one()
        row.verified, row.author_id = False, cast.people["Hedda"]
        session.commit()
    before = news(store)
    clock.advance(minutes=30)
    climb_alerts(store, clock())
    fresh = {address for _, _, address in news(store) if (_, _, address) not in before}
    assert "hedda@example.org" not in fresh
