"""How reports come in, against an example that was counted by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from fakes import Clock
from people import Cast, add_wearer
from sqlalchemy import select
from telling import actor_named, report, tell

from companion.common.errors import NotAllowed
from companion.store.engine import Store
from companion.store.models import Alert, Person, Practice, Wearer
from companion.usecases import alerts, yields
from companion.usecases.actor import Actor

RED = {"redness": "red"}
"""By R301 alone: level 3."""
JANUARY = datetime(2026, 1, 1, tzinfo=UTC)


def oct_(day: int, hour: int = 10, minute: int = 0) -> datetime:
    return datetime(2026, 10, day, hour, minute, tzinfo=UTC)


@pytest.fixture
def staff(store: Store, cast: Cast) -> dict[str, Actor]:
    return {name: actor_named(store, person) for name, person in cast.people.items()}


class Told:
    """Reports and deeds in the past, one after the other."""

    def __init__(self, store: Store, cast: Cast, staff: dict[str, Actor]) -> None:
        self.store, self.cast, self.staff = store, cast, staff
        self.seen: set[str] = set()

    def report(self, at: datetime, wearer: str, author: Actor, level: int = 1, **answers: dict[str, str]) -> str:
        said = report(at, **answers)
        if level > 1:
            said["payload"]["asked_level"] = level
        tell(self.store, author, self.cast.wearers[wearer], at, said)
        with self.store.reading() as session:
            new = [one for one in session.scalars(select(Alert.id)) if one not in self.seen]
        self.seen.update(new)
        return new[0] if new else ""

    def work(self, alert_id: str, at: datetime, taken: float, reached: float | None, outcome: str | None) -> None:
        """Take it and reach the family so many minutes after it was raised, and close it the next day."""
        pavel, minute = self.staff["Pavel"], timedelta(minutes=1)
        with self.store.writing() as session:
            alerts.take(session, self.staff["Asta"], alert_id, at + taken * minute)
        if reached is not None:
            with self.store.writing() as session:
                alerts.record_contact(session, pavel, alert_id, True, "", at + reached * minute)
        if outcome:
            with self.store.writing() as session:
                alerts.close(session, pavel, alert_id, outcome, "", at + timedelta(days=1), confirmed=True)


@pytest.fixture
def autumn(store: Store, cast: Cast, staff: dict[str, Actor]) -> None:
    """Nola and Timo since January, Una from January to 15 September, Wim since 20 October; and their reports."""
    with store.writing() as session:
        mill = session.get_one(Practice, cast.practices["mill"])
        pavel = session.get_one(Person, cast.people["Pavel"])
        una = add_wearer(session, mill, "Una", date(2015, 1, 1), JANUARY, pavel)
        una.ended_at = datetime(2026, 9, 15, tzinfo=UTC)
        for name, since in (("Nola", JANUARY), ("Timo", JANUARY), ("Wim", oct_(20))):
            session.get_one(Wearer, cast.wearers[name]).created_at = since
        session.commit()
    told = Told(store, cast, staff)
    gwen, hedda, wim = staff["Gwen"], staff["Hedda"], staff["Wim"]
    stranger = replace(staff["Gus"], expired=True)
    july = datetime(2026, 7, 10, 9, tzinfo=UTC)
    told.work(told.report(july, "Nola", gwen, right=RED), july, 50, 60, "seen_here")
    told.work(told.report(oct_(5), "Nola", gwen, right=RED), oct_(5), 5, 10, "no_fault_found")
    told.work(told.report(oct_(7), "Nola", gwen, left=RED), oct_(7), 15, 30, "advice_given")
    told.work(told.report(oct_(20), "Timo", hedda, right=RED), oct_(20), 25, None, None)
    severe = told.report(oct_(21), "Wim", wim, right={"pain": "severe"})
    told.work(severe, oct_(21), 2, 4, "sent_to_emergency")
    told.report(oct_(22), "Timo", hedda, level=4, left={"redness": "pink"})
    told.report(oct_(23), "Nola", stranger, right=RED)
    told.report(oct_(23, 11), "Nola", stranger, left=RED)
    told.report(oct_(31, 23, 30), "Timo", hedda, right={"itch": "strong"})
    told.report(datetime(2026, 11, 1, 0, 10, tzinfo=UTC), "Nola", gwen)
    told.report(oct_(9), "Lea", staff["Gil"], right=RED)


def shown(store: Store, staff: dict[str, Actor], clock: Clock, name: str = "Asta") -> dict[str, Any]:
    with store.reading() as session:
        return yields.yields(session, staff[name], clock())


@pytest.mark.usefixtures("autumn")
def test_H11_reports_per_hundred_wearers_by_level(store: Store, staff: dict[str, Actor], clock: Clock) -> None:
    """Of the last 90 days: two red eyes of Nola, one of Timo, two of a stranger's; one severe pain, one raised by
    the family, one itch, one with nothing. 9 reports by 4 wearers."""
    view = shown(store, staff, clock)
    recent = view["recent"]
    assert (recent["reports"], recent["wearers"], recent["per_hundred"]) == (9, 4, None), "too few for a rate"
    assert recent["levels"] == {5: 1, 4: 1, 3: 5, 2: 1, 1: 1}
    assert recent["unverified"] == 2
    months = [(one["month"], one["reports"], one["wearers"], one["so_far"]) for one in view["months"]]
    assert months == [
        ("2026-11-01", 1, 3, True),
        ("2026-10-01", 8, 3, False),  # the last one half an hour before the month was over
        ("2026-09-01", 0, 3, False),
        ("2026-08-01", 0, 3, False),
        ("2026-07-01", 1, 3, False),
        ("2026-06-01", 0, 3, False),
    ]


@pytest.mark.usefixtures("autumn")
@pytest.mark.parametrize(("more", "rate"), [(15, None), (16, 45.0), (36, 22.5)])
def test_H11_a_rate_needs_twenty_wearers(
    store: Store, cast: Cast, staff: dict[str, Actor], clock: Clock, more: int, rate: float | None
) -> None:
    """9 reports by 20 wearers are 45 per hundred, by 40 they are 22.5."""
    with store.writing() as session:
        mill = session.get_one(Practice, cast.practices["mill"])
        pavel = session.get_one(Person, cast.people["Pavel"])
        for n in range(more):
            add_wearer(session, mill, f"Wearer {n}", date(2015, 1, 1), JANUARY, pavel)
        session.commit()
    assert shown(store, staff, clock)["recent"]["per_hundred"] == rate


@pytest.mark.usefixtures("autumn")
def test_H11_what_came_of_the_reports_that_each_rule_decided(
    store: Store, staff: dict[str, Actor], clock: Clock
) -> None:
    rows = {row["rule"]: row for row in shown(store, staff, clock)["rules"]}
    assert {rule: row["reports"] for rule, row in rows.items()} == {"R301": 5, "R509": 1, "R204": 1, "asked": 1}
    outcomes = {rule: {key: n for key, n in row["outcomes"].items() if n} for rule, row in rows.items()}
    assert outcomes == {
        "R301": {"no_fault_found": 1, "advice_given": 1},
        "R509": {"sent_to_emergency": 1},
        "R204": {},
        "asked": {},
    }
    assert {rule: (row["open"], row["joined"]) for rule, row in rows.items()} == {
        "R301": (2, 1),
        "R509": (0, 0),
        "R204": (1, 0),
        "asked": (1, 0),
    }
    assert shown(store, staff, clock)["rules"][0]["rule"] == "R301", "the most frequent first"


@pytest.mark.usefixtures("autumn")
def test_H11_how_soon_somebody_acted(store: Store, staff: dict[str, Actor], clock: Clock) -> None:
    """At level 3, taken after 5, 15 and 25 minutes and once not at all; reached after 10 and 30."""
    times = {row["level"]: row for row in shown(store, staff, clock)["times"]}
    assert set(times) == {5, 4, 3}
    assert times[3]["alerts"] == 4
    assert times[3]["taken"] == {"count": 3, "median": 15, "p90": 25}
    assert times[3]["contact"] == {"count": 2, "median": 20, "p90": 30}
    assert times[5]["taken"] == {"count": 1, "median": 2, "p90": 2}
    assert (times[4]["alerts"], times[4]["taken"]["count"], times[4]["taken"]["p90"]) == (1, 0, None)


@pytest.mark.parametrize(
    ("values", "middle", "p90"),
    [([], None, None), ([7], 7, 7), ([4, 1], 2.5, 4), (range(1, 11), 5.5, 9), (range(1, 12), 6, 10)],
)
def test_spread(values: Any, middle: float | None, p90: float | None) -> None:
    """The nearest rank of 10 values is the 9th, of 11 the 10th (9.9 rounded up)."""
    found = yields.spread(list(values))
    assert (found["count"], found["median"], found["p90"]) == (len(values), middle, p90)


def test_time_raised_anew_is_counted_from_then(store: Store, cast: Cast, staff: dict[str, Actor]) -> None:
    told, at = Told(store, cast, staff), oct_(20)
    alert_id = told.report(at, "Nola", staff["Gwen"], right=RED)
    with store.writing() as session:
        row = session.get_one(Alert, alert_id)
        row.level, row.raised_again_at = 4, at + timedelta(hours=5)
        row.raised_as = {"level": 4, "eyes": {"right": 4, "left": 1}, "deciding": ["R415"], "rules": ["R415"]}
        session.commit()
    told.work(alert_id, at + timedelta(hours=5), 8, None, None)
    with store.reading() as session:
        view = yields.yields(session, staff["Mina"], at + timedelta(days=1))
    times = {row["level"]: row["taken"] for row in view["times"]}
    assert (times[4]["median"], times[3]["count"]) == (8, 0)
    assert [row["rule"] for row in view["rules"]] == ["R415"]


def test_each_practice_sees_its_own(store: Store, staff: dict[str, Actor], clock: Clock, autumn: None) -> None:
    assert shown(store, staff, clock, "Otto")["recent"]["reports"] == 1
    with pytest.raises(NotAllowed):
        shown(store, staff, clock, "Gwen")
