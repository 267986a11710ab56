"""The cursor of an open desk: it changes with everything that the list of alerts shows, and with nothing else."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import RED_PAIN, actor_named, report, tell, worn_nights

from companion.common.errors import NotAllowed
from companion.store.engine import Store
from companion.store.models import Alert, Delivery
from companion.usecases import alerts, desk, desk_watch, recovery

Deed = Callable[[Store, Cast, Clock], None]


def cursor(store: Store, cast: Cast, clock: Clock, name: str = "Asta") -> str:
    with store.reading() as session:
        return desk_watch.cursor(session, actor_named(store, cast.people[name]), clock())


def alert_of(store: Store, cast: Cast, name: str = "Nola") -> str:
    with store.reading() as session:
        return session.scalars(select(Alert.id).where(Alert.wearer_id == cast.wearers[name])).one()


def another_report(store: Store, cast: Cast, clock: Clock) -> None:
    hedda = actor_named(store, cast.people["Hedda"])
    tell(store, hedda, cast.wearers["Timo"], clock(), report(clock(), left={"itch": "strong"}))


def a_report_that_joins(store: Store, cast: Cast, clock: Clock) -> None:
    gus = replace(actor_named(store, cast.people["Gus"]), expired=True)
    tell(store, gus, cast.wearers["Nola"], clock(), report(clock(), left=RED_PAIN))


def taking(store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        alerts.take(session, actor_named(store, cast.people["Pavel"]), alert_of(store, cast), clock())


def contact(store: Store, cast: Cast, clock: Clock) -> None:
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        alerts.record_contact(session, pavel, alert_of(store, cast), False, "No answer", clock())


def closing(store: Store, cast: Cast, clock: Clock) -> None:
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        alerts.close(session, pavel, alert_of(store, cast), "seen_here", "", clock(), confirmed=True)


def a_message_that_arrived(store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        session.scalars(select(Delivery)).first().delivered_at = clock()  # type: ignore[union-attr]
        session.commit()


def somebody_who_cannot_sign_in(store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        gwen = actor_named(store, cast.people["Gwen"])
        recovery.vouch(session, gwen, cast.wearers["Nola"], cast.people["Gus"], clock())


def the_minute(store: Store, cast: Cast, clock: Clock) -> None:
    clock.advance(seconds=60)


def nights(store: Store, cast: Cast, clock: Clock) -> None:
    tell(store, actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"], clock(), *worn_nights(clock(), 3))


def another_practice(store: Store, cast: Cast, clock: Clock) -> None:
    tell(
        store, actor_named(store, cast.people["Gil"]), cast.wearers["Lea"], clock(), report(clock(), left=RED_PAIN)
    )


def seconds(store: Store, cast: Cast, clock: Clock) -> None:
    clock.advance(seconds=29)


NEWS = [
    another_report, a_report_that_joins, taking, contact, closing, a_message_that_arrived,
    somebody_who_cannot_sign_in, the_minute,
]  # fmt: skip
NO_NEWS = [nights, another_practice, seconds]


@pytest.mark.parametrize(
    ("deed", "changes"),
    [(one, True) for one in NEWS] + [(one, False) for one in NO_NEWS],
    ids=lambda one: getattr(one, "__name__", ""),
)
def test_H2_the_cursor_changes_with_what_the_desk_shows(
    store: Store, cast: Cast, clock: Clock, deed: Deed, changes: bool
) -> None:
    tell(
        store,
        actor_named(store, cast.people["Gwen"]),
        cast.wearers["Nola"],
        clock(),
        report(clock(), right=RED_PAIN),
    )
    before = cursor(store, cast, clock)
    assert cursor(store, cast, clock) == before
    deed(store, cast, clock)
    assert (cursor(store, cast, clock) != before) is changes


def test_two_people_never_share_a_cursor(store: Store, cast: Cast, clock: Clock) -> None:
    """Whoever signs in after somebody else in the same browser is given everything anew."""
    assert len({cursor(store, cast, clock, name) for name in ("Asta", "Pavel", "Mina", "Otto")}) == 4


def test_a_family_asks_in_vain(store: Store, cast: Cast, clock: Clock) -> None:
    with pytest.raises(NotAllowed):
        cursor(store, cast, clock, "Gwen")


def test_H14_it_sounds_and_counts_until_somebody_has_taken_it_and_counts_again_without_contact(
    store: Store, cast: Cast, clock: Clock
) -> None:
    tell(
        store,
        actor_named(store, cast.people["Gwen"]),
        cast.wearers["Nola"],
        clock(),
        report(clock(), right=RED_PAIN),
    )
    asta = actor_named(store, cast.people["Asta"])

    def state() -> tuple[bool, bool]:
        with store.reading() as session:
            (one,) = desk_watch.needing(session, asta, clock())
            (row,) = desk.desk(session, asta, clock())["alerts"]
            same = ("id", "level", "eyes", "rings", "unanswered")
            assert [row[key] for key in same] == [one[key] for key in same], "the same on the list"
        return one["rings"], one["unanswered"]

    assert state() == (True, True)
    taking(store, cast, clock)
    assert state() == (False, False)
    clock.now += timedelta(minutes=60)
    assert state() == (False, True)
