"""Asking for more than the answers gave: whose clocks the new report has."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from fakes import Clock
from people import Cast
from telling import actor_named, entry, report, tell

from companion.store.engine import Store
from companion.usecases.asked_level import asked_for
from companion.usecases.reports import report as family_report

PINK = {"redness": "pink", "course": "under_1h"}


@pytest.mark.parametrize("better_word", [False, True])
def test_H1_asked_for_more_its_clocks_go_on_and_after_a_later_word_they_begin_anew(
    store: Store, cast: Cast, clock: Clock, better_word: bool
) -> None:
    gwen, nola, start = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"], clock()
    (first,) = tell(store, gwen, nola, clock(), report(clock(), right=PINK)).reports
    clock.advance(minutes=20)
    if better_word:
        tell(store, actor_named(store, cast.people["Gus"]), nola, clock(), report(clock(), right={"itch": "mild"}))
        clock.advance(minutes=20)
    with store.reading() as session:
        asked = asked_for(session, gwen, nola, first, 3, clock())
    assert asked is not None
    assert datetime.fromisoformat(asked.at) == (clock() if better_word else start)
    more = entry("symptom_report", datetime.fromisoformat(asked.at), asked.payload)
    (again,) = tell(store, gwen, nola, clock(), more).reports
    with store.reading() as session:
        look = family_report(session, gwen, nola, again, clock())["look"]
    assert look is not None and look["level"] == 3
    assert datetime.fromisoformat(look["at"]) - timedelta(hours=5) < clock()
