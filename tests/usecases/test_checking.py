"""Findings about alerts: what went to everybody, and whose family still waits."""

from __future__ import annotations

from fakes import Clock
from people import Cast
from telling import RED_PAIN, actor_named, report, tell

from companion.store.engine import Store
from companion.usecases.checking import findings


def codes(store: Store, clock: Clock) -> set[str]:
    with store.reading() as session:
        return {one.code for one in findings(session, clock())}


def test_H2_an_alert_that_nobody_took_is_found(store: Store, cast: Cast, clock: Clock) -> None:
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    assert not any(code.startswith("alert") for code in codes(store, clock))
    clock.advance(minutes=30)
    assert "alert_nobody_took_it" in codes(store, clock)


def test_a_finding_names_no_wearer(store: Store, cast: Cast, clock: Clock) -> None:
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    clock.advance(hours=2)
    with store.reading() as session:
        assert "Nola" not in str([one.values for one in findings(session, clock())])
