"""Days that matter: named once, by whom may write; never on a skipped night; gone when they are over."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import RED_PAIN, actor_named, entry, report, tell, worn_nights

from companion.common.errors import InvalidInput, NotAllowed, NotFound
from companion.common.ids import new_id
from companion.store.engine import Store
from companion.store.models import AuditEvent, DayThatMatters, Refraction
from companion.usecases import prescribing
from companion.usecases.days import add_day, days_page, remove_day
from companion.usecases.forecasting import refresh_forecast
from companion.usecases.own_data import export
from companion.usecases.tonight import tonight

SATURDAY = {"label": "A test", "day": "2026-11-07", "starts": "09:00", "ends": "17:00", "driving": "no"}
TOMORROW = SATURDAY | {"day": "2026-11-03"}
EASY = {"every": "1", "target_acuity_logmar": "0.9", "target_until": "18:00", "target_eyes": "each"}


def named(store: Store, cast: Cast, clock: Clock, who: str = "Gwen", wearer: str = "Nola", **form: str) -> None:
    with store.writing() as session:
        add_day(session, actor_named(store, cast.people[who]), cast.wearers[wearer], SATURDAY | form, clock())


def page(store: Store, cast: Cast, clock: Clock, who: str = "Gwen", wearer: str = "Nola") -> dict[str, Any]:
    with store.reading() as session:
        return days_page(session, actor_named(store, cast.people[who]), cast.wearers[wearer], clock())


def shown(store: Store, cast: Cast, now: datetime, who: str = "Gwen", wearer: str = "Nola") -> dict[str, Any]:
    with store.reading() as session:
        return tonight(session, actor_named(store, cast.people[who]), cast.wearers[wearer], now)


def settled(store: Store, cast: Cast, clock: Clock) -> None:
    """Wim has worn for 20 nights, checks well, aims low and is cleared: tonight may be skipped."""
    wim, pavel = actor_named(store, cast.people["Wim"]), actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        prescribing.set_plan(session, pavel, cast.wearers["Wim"], EASY, clock())
    looks = [
        entry("sight", clock() - timedelta(days=ago, hours=3), {"eye": eye, "word": "sharp"})
        for ago in range(6)
        for eye in ("right", "left")
    ]
    tell(store, wim, cast.wearers["Wim"], clock(), *worn_nights(clock(), 20), *looks)


def test_a_day_has_its_nights_its_check_and_how_sight_should_be(store: Store, cast: Cast, clock: Clock) -> None:
    named(store, cast, clock)
    (day,) = page(store, cast, clock)["days"]
    assert (day["label"], day["from"], day["driving"]) == ("A test", "2026-11-07T09:00:00+00:00", False)
    assert day["rests_on"] == ["2026-11-06"]
    assert day["plan"]["last_free"] is None, "nobody cleared Nola"
    assert {"not_cleared", "glasses_at_hand"} <= set(day["plan"]["notes"])
    assert [one["night"] for one in day["plan"]["nights"]][-1] == "2026-11-06"
    assert day["plan"]["moments"][0]["at"] == "2026-11-07T09:00:00+00:00"


def test_it_stands_on_tonight_for_a_week_and_is_gone_after_the_day(store: Store, cast: Cast, clock: Clock) -> None:
    named(store, cast, clock, day="2026-11-10")
    assert shown(store, cast, clock())["ahead"]["days"] == []
    clock.advance(days=1)
    (line,) = shown(store, cast, clock())["ahead"]["days"]
    assert (line["label"], line["rests_on"]) == ("A test", ["2026-11-09"])
    clock.now = datetime(2026, 11, 10, 16, 59, tzinfo=UTC)
    assert len(page(store, cast, clock)["days"]) == 1
    clock.now = datetime(2026, 11, 10, 17, 1, tzinfo=UTC)
    assert page(store, cast, clock)["days"] == []
    assert shown(store, cast, clock())["ahead"]["days"] == []


def test_H1_the_night_before_a_day_that_matters_is_never_skipped(store: Store, cast: Cast, clock: Clock) -> None:
    settled(store, cast, clock)
    refresh_forecast(store, cast.wearers["Wim"], clock())
    assert shown(store, cast, clock(), "Wim", "Wim")["answer"]["wearer"] == "may_skip"
    named(store, cast, clock, "Wim", "Wim", **TOMORROW)
    answer = shown(store, cast, clock(), "Wim", "Wim")["answer"]
    assert (answer["wearer"], [one["key"] for one in answer["reasons"]]) == ("wear", ["day_that_matters"])
    refresh_forecast(store, cast.wearers["Wim"], clock())
    assert shown(store, cast, clock(), "Wim", "Wim")["answer"]["wearer"] == "wear", "stored, it says the same"
    (day,) = page(store, cast, clock, "Wim", "Wim")["days"]
    with store.writing() as session:
        remove_day(session, actor_named(store, cast.people["Wim"]), cast.wearers["Wim"], day["id"], clock())
    assert shown(store, cast, clock(), "Wim", "Wim")["answer"]["wearer"] == "may_skip"


def test_an_earlier_night_may_stay_free_inside_the_clearance(store: Store, cast: Cast, clock: Clock) -> None:
    settled(store, cast, clock)
    named(store, cast, clock, "Wim", "Wim")
    (day,) = page(store, cast, clock, "Wim", "Wim")["days"]
    assert (day["plan"]["last_free"], day["rests_on"]) == ("2026-11-05", ["2026-11-06"])


def test_H12_with_a_hold_no_night_is_named(store: Store, cast: Cast, clock: Clock) -> None:
    gwen = actor_named(store, cast.people["Gwen"])
    named(store, cast, clock)
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    assert page(store, cast, clock)["stopped"] == "do_not_wear"
    view = shown(store, cast, clock())
    assert (view["ahead"]["stopped"], view["answer"]["wearer"]) == ("do_not_wear", "do_not_wear")


def test_without_a_refraction_the_night_before_is_still_named(store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        for row in session.scalars(select(Refraction).where(Refraction.wearer_id == cast.wearers["Nola"])):
            session.delete(row)
        session.commit()
    named(store, cast, clock)
    (day,) = page(store, cast, clock)["days"]
    assert (day["plan"], day["rests_on"]) == (None, ["2026-11-06"])


def test_nights_are_named_two_weeks_before(store: Store, cast: Cast, clock: Clock) -> None:
    named(store, cast, clock, day="2026-12-12")
    (day,) = page(store, cast, clock)["days"]
    assert (day["plan"], day["rests_on"]) == (None, [])


def test_H15_the_same_form_sent_twice_names_one_day_and_a_stale_one_loses_nothing(
    store: Store, cast: Cast, clock: Clock
) -> None:
    id_ = new_id()
    for _ in range(2):
        named(store, cast, clock, id=id_)
    assert [one["id"] for one in page(store, cast, clock)["days"]] == [id_]
    named(store, cast, clock, id=id_, label="A match", day="2026-11-08")
    assert [one["label"] for one in page(store, cast, clock)["days"]] == ["A test", "A match"]
    named(store, cast, clock, "Hedda", "Timo", id=id_)
    assert len(page(store, cast, clock)["days"]) == 2
    assert page(store, cast, clock, "Hedda", "Timo")["days"][0]["id"] != id_


def test_an_evening_may_last_past_midnight(store: Store, cast: Cast, clock: Clock) -> None:
    named(store, cast, clock, starts="19:00", ends="01:00")
    (day,) = page(store, cast, clock)["days"]
    assert day["to"] == "2026-11-08T01:00:00+00:00"
    assert "2026-11-06" in day["rests_on"]
    clock.now = datetime(2026, 11, 8, 0, 30, tzinfo=UTC)
    assert len(page(store, cast, clock)["days"]) == 1


@pytest.mark.parametrize(
    ("change", "field", "code"),
    [
        ({"label": " "}, "label", "missing"),
        ({"label": "x" * 61}, "label", "too_long"),
        ({"day": "2026-11-01"}, "day", "date_out_of_range"),
        ({"day": "2027-11-01"}, "day", "date_out_of_range"),
        ({"day": "soon"}, "day", "not_a_date"),
        ({"starts": "9"}, "starts", "not_a_clock"),
        ({"ends": "09:00"}, "ends", "day_without_length"),
        ({"day": "2026-11-02", "starts": "08:00", "ends": "09:00"}, "ends", "day_is_over"),
        ({"driving": ""}, "driving", "missing"),
    ],
)
def test_what_is_wrong_is_named_and_nothing_is_written(
    store: Store, cast: Cast, clock: Clock, change: dict[str, str], field: str, code: str
) -> None:
    with pytest.raises(InvalidInput) as caught:
        named(store, cast, clock, **change)
    assert [(one.field, one.code) for one in caught.value.problems] == [(field, code)]
    assert page(store, cast, clock)["days"] == []


def test_the_list_has_an_end(store: Store, cast: Cast, clock: Clock) -> None:
    for ahead in range(1, 21):
        named(store, cast, clock, day=(clock().date() + timedelta(days=ahead)).isoformat())
    with pytest.raises(InvalidInput) as caught:
        named(store, cast, clock)
    assert caught.value.problems[0].code == "too_many_days"


def test_what_cannot_be_seen_is_left_out_of_a_name(store: Store, cast: Cast, clock: Clock) -> None:
    named(store, cast, clock, label="  A\x00 test\r\n\u202e<b>&\u200b %(x)s ")
    assert page(store, cast, clock)["days"][0]["label"] == "A test <b>& %(x)s"


@pytest.mark.parametrize(
    ("who", "sees", "writes"),
    [
        ("Gwen", None, None),
        ("Gus", None, None),
        ("Asta", NotAllowed, None),
        ("Mina", NotAllowed, NotAllowed),
        ("Hedda", NotFound, NotFound),
        ("Petra", NotFound, NotFound),
    ],
)
def test_who_may(
    store: Store, cast: Cast, clock: Clock, who: str, sees: type[Exception] | None, writes: type[Exception] | None
) -> None:
    for error, act in ((sees, page), (writes, named)):
        if error is None:
            act(store, cast, clock, who)
            continue
        with pytest.raises(error):
            act(store, cast, clock, who)


def test_removing_takes_its_name_along_and_leaves_a_line_in_the_audit(
    store: Store, cast: Cast, clock: Clock
) -> None:
    named(store, cast, clock)
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    day_id = page(store, cast, clock)["days"][0]["id"]
    with store.writing() as session, pytest.raises(NotFound):
        remove_day(session, actor_named(store, cast.people["Hedda"]), cast.wearers["Timo"], day_id, clock())
    for _ in range(2):
        with store.writing() as session:
            remove_day(session, gwen, nola, day_id, clock())
    assert page(store, cast, clock)["days"] == []
    with store.reading() as session:
        assert session.get_one(DayThatMatters, day_id).label == ""
        verbs = select(AuditEvent.verb).where(AuditEvent.object_id == day_id).order_by(AuditEvent.verb)
        assert session.scalars(verbs).all() == ["add", "remove"]


def test_it_is_among_what_a_family_takes_away(store: Store, cast: Cast, clock: Clock) -> None:
    named(store, cast, clock, driving="yes")
    with store.reading() as session:
        got = export(session, actor_named(store, cast.people["Gwen"]), clock())
    kept = {"day": "2026-11-07", "starts": "09:00", "ends": "17:00", "label": "A test", "driving": True}
    assert got["wearers"][0]["days_that_matter"] == [kept]


# -- after a night off -------------------------------------------------------------------------------------------
MORNING = datetime(2026, 11, 3, 8, 0, tzinfo=UTC)


def night_off(store: Store, cast: Cast, clock: Clock, wearer: str = "Nola", who: str = "Gwen") -> None:
    evening = clock()
    tell(
        store, actor_named(store, cast.people[who]), cast.wearers[wearer], evening, *worn_nights(evening, 20),
        entry("no_lenses", evening, {"eyes": "both", "night": "2026-11-02"}),
    )  # fmt: skip


def test_the_day_after_a_night_off_says_what_to_expect_and_to_do(store: Store, cast: Cast, clock: Clock) -> None:
    night_off(store, cast, clock)
    assert shown(store, cast, clock() + timedelta(hours=1))["ahead"]["missed"] is None, "the night is not over"
    missed = shown(store, cast, MORNING)["ahead"]["missed"]
    assert missed["nights_off"] == 1
    assert {"no_driving_if_blurred", "wear_tonight", "disinfect_by_label"} <= set(missed["todo"])
    later = shown(store, cast, MORNING + timedelta(hours=9))["ahead"]["missed"]
    assert later["moments"][0]["at"] >= (MORNING + timedelta(hours=8)).isoformat()
    evening = MORNING.replace(hour=21)
    in_again = entry("lenses_in", evening, {"eyes": "both"})
    tell(store, actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"], evening, in_again)
    assert shown(store, cast, evening)["ahead"]["missed"] is None


def test_a_night_that_the_plan_left_free_is_none_to_speak_of(store: Store, cast: Cast, clock: Clock) -> None:
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        plan = EASY | {"every": "", "weekdays": "tue,wed,thu,fri,sat,sun"}
        prescribing.set_plan(session, pavel, cast.wearers["Nola"], plan, clock())
    night_off(store, cast, clock)
    assert shown(store, cast, MORNING)["ahead"]["missed"] is None


def test_H12_what_to_do_never_says_more_than_tonights_answer(store: Store, cast: Cast, clock: Clock) -> None:
    night_off(store, cast, clock)
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, MORNING, report(MORNING, right=RED_PAIN))
    assert shown(store, cast, MORNING)["ahead"]["missed"] is None


def test_a_pass_shows_none_of_it(store: Store, cast: Cast, clock: Clock) -> None:
    named(store, cast, clock)
    from companion.store.models import CarerPass, Person
    from companion.usecases.actor import carrier_of
    from companion.usecases.passes import issue

    with store.writing() as session:
        issue(
            session,
            actor_named(store, cast.people["Gwen"]),
            cast.wearers["Nola"],
            {"name": "Carla", "lasts": "1"},
            clock(),
        )
    with store.reading() as session:
        row = session.scalars(select(CarerPass)).one()
        carla = carrier_of(session.get_one(Person, row.person_id), "", row, clock())
        assert tonight(session, carla, cast.wearers["Nola"], clock())["ahead"] is None
