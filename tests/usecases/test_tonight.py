"""*Tonight*, hour by hour: the one deed the hour asks for, the answer, the curve, the questions, the undo."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import RED_PAIN, actor_named, entry, report, tell, worn_nights

from companion.common.errors import NotAllowed, NotFound
from companion.diary.nights import NightState
from companion.store.engine import Store
from companion.store.models import Practice, Refraction, Wearer, WearerState
from companion.usecases.forecasting import refresh_forecast, stale_forecasts
from companion.usecases.prescribing import set_plan
from companion.usecases.story import load_story
from companion.usecases.tonight import tonight


def shown(store: Store, cast: Cast, who: str, wearer: str, now: datetime) -> dict[str, Any]:
    with store.reading() as session:
        return tonight(session, actor_named(store, cast.people[who]), cast.wearers[wearer], now)


def at(clock: Clock, hour: int, minute: int = 0, days: int = 0) -> datetime:
    return clock().replace(hour=hour, minute=minute) + timedelta(days=days)


def test_evening_asks_for_the_lenses_then_for_nothing_and_the_morning_takes_them_out(
    store: Store, cast: Cast, clock: Clock
) -> None:
    """Wim, who may skip nights once the diary tells enough, is asked for a look in the morning."""
    wim, wims = actor_named(store, cast.people["Wim"]), cast.wearers["Wim"]
    assert shown(store, cast, "Wim", "Wim", at(clock, 20))["action"] == {
        "kind": "lenses_in",
        "eyes": ["right", "left"],
    }
    tell(store, wim, wims, at(clock, 21), entry("lenses_in", at(clock, 21), {"eyes": "both"}))
    evening = shown(store, cast, "Wim", "Wim", at(clock, 21, 5))
    assert evening["action"]["kind"] == "none"
    assert evening["lens"]["right"] == {"state": "in", "since": at(clock, 21).isoformat()}
    morning = shown(store, cast, "Wim", "Wim", at(clock, 6, 30, days=1))
    assert (morning["hour"], morning["action"]["kind"]) == ("morning", "lenses_out")
    out = at(clock, 6, 40, days=1)
    tell(store, wim, wims, out, entry("lenses_out", out, {"eyes": "both"}))
    assert shown(store, cast, "Wim", "Wim", out)["action"]["kind"] == "sight"
    tell(store, wim, wims, out, entry("sight", out, {"eye": "right", "word": "sharp"}))
    after = shown(store, cast, "Wim", "Wim", out)
    assert after["action"]["kind"] == "none"
    assert after["curve"]["checks"] == [{"at": out.isoformat(), "eye": "right", "logmar": 0.0}]


def test_one_lens_in_offers_that_eye_alone_to_come_out(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, at(clock, 21), entry("lenses_in", at(clock, 21), {"eyes": "left"}))
    assert shown(store, cast, "Gwen", "Nola", at(clock, 7, days=1))["action"] == {
        "kind": "lenses_out",
        "eyes": ["left"],
    }


def test_H1_a_red_painful_eye_never_hears_wear(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), *worn_nights(clock(), 20), report(clock(), right=RED_PAIN))
    for hours in range(0, 24 * 12, 11):
        view = shown(store, cast, "Gwen", "Nola", clock() + timedelta(hours=hours))
        assert view["answer"]["wearer"] == "do_not_wear"
        assert view["action"]["kind"] != "lenses_in"
        assert (view["alert"]["level"], view["alert"]["state"]) == (4, "queued")


def test_H1_a_hold_speaks_even_where_there_is_nothing_to_forecast_from(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    with store.writing() as session:
        for row in session.scalars(select(Refraction).where(Refraction.wearer_id == nola)):
            session.delete(row)
        session.commit()
    before = shown(store, cast, "Gwen", "Nola", clock())
    assert (before["answer"]["wearer"], before["curve"]) == ("wear", None)
    tell(store, gwen, nola, clock(), report(clock(), right=RED_PAIN))
    assert shown(store, cast, "Gwen", "Nola", clock())["answer"]["wearer"] == "do_not_wear"


@pytest.mark.parametrize(
    ("said", "morning"),
    [
        ({"injury": "cut_pierce_stuck"}, "none"),
        ({"lens": "stuck_long_or_broken"}, "none"),
        (RED_PAIN, "lenses_out"),
    ],
)
def test_H9_nobody_is_asked_to_take_out_a_lens_that_must_be_left(
    store: Store, cast: Cast, clock: Clock, said: dict[str, str], morning: str
) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    went_in = at(clock, 21)
    tell(store, gwen, nola, went_in, entry("lenses_in", went_in, {"eyes": "right"}))
    night = at(clock, 23)
    tell(store, gwen, nola, night, report(night, right=said))
    assert shown(store, cast, "Gwen", "Nola", at(clock, 7, days=1))["action"]["kind"] == morning


def test_H9_nor_is_that_lens_asked_for_where_nobody_logged_it_in(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    night = at(clock, 23)
    tell(store, gwen, nola, night, report(night, right={"injury": "cut_pierce_stuck"}))
    assert shown(store, cast, "Gwen", "Nola", at(clock, 7, days=1))["action"]["kind"] != "lenses_out"


def test_H12_nobody_under_a_hold_is_asked_every_morning_for_lenses_that_never_went_in(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    assert shown(store, cast, "Gwen", "Nola", at(clock, 7, days=1))["action"]["kind"] == "lenses_out"
    tell(store, gwen, nola, clock(), report(clock(), right=RED_PAIN, left=RED_PAIN))
    for days in (1, 2, 3):
        view = shown(store, cast, "Gwen", "Nola", at(clock, 7, days=days))
        assert (view["answer"]["wearer"], view["action"]["kind"]) == ("do_not_wear", "none")


@pytest.mark.parametrize("held", ["right", "left"])
def test_H12_a_hold_on_one_eye_asks_for_the_other_lens_alone(
    store: Store, cast: Cast, clock: Clock, held: str
) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).one_eye_holds_both = False
        session.commit()
    tell(store, gwen, nola, clock(), *worn_nights(clock(), 20), report(clock(), **{held: {"spot": "yes"}}))
    free = "left" if held == "right" else "right"
    for hours in (0, 2, 24, 48):
        view = shown(store, cast, "Gwen", "Nola", clock() + timedelta(hours=hours))
        assert view["answer"]["eyes"][held]["answer"] == "do_not_wear"
        assert view["action"] == {"kind": "lenses_in", "eyes": [free]}
    evening = at(clock, 21)
    tell(store, gwen, nola, evening, entry("lenses_in", evening, {"eyes": free}))
    assert shown(store, cast, "Gwen", "Nola", at(clock, 22))["action"]["kind"] == "none"


def test_H1_a_held_eye_without_a_refraction_stays_in_the_answer(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).one_eye_holds_both = False
        of_left = select(Refraction).where(Refraction.wearer_id == nola, Refraction.eye == "left")
        for row in session.scalars(of_left):
            session.delete(row)
        session.commit()
    tell(store, gwen, nola, clock(), report(clock(), left={"spot": "yes", "redness": "red"}))
    view = shown(store, cast, "Gwen", "Nola", clock())
    assert view["answer"]["wearer"] == "per_eye"
    assert [(eye, one["answer"]) for eye, one in view["answer"]["eyes"].items()] == [
        ("right", "wear"),
        ("left", "do_not_wear"),
    ]
    assert view["action"]["eyes"] == ["right"]


def test_without_a_refraction_breaks_and_visits_still_speak(store: Store, cast: Cast, clock: Clock) -> None:
    """The design's answer table, row 2: seven nights off, or a visit over 30 days late, ask the clinic."""
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    with store.writing() as session:
        for row in session.scalars(select(Refraction).where(Refraction.wearer_id == nola)):
            session.delete(row)
        session.commit()
    tell(store, gwen, nola, clock(), *worn_nights(clock(), 3))
    off = [
        entry(
            "no_lenses",
            clock() + timedelta(days=day),
            {"eyes": "both", "night": (clock() + timedelta(days=day)).date().isoformat()},
        )
        for day in range(7)
    ]
    late = clock() + timedelta(days=7)
    tell(store, gwen, nola, late, *off)
    view = shown(store, cast, "Gwen", "Nola", late)
    assert (view["answer"]["wearer"], view["answer"]["reasons"][0]["key"]) == ("ask_clinic", "long_break")
    overdue = shown(store, cast, "Gwen", "Nola", clock() + timedelta(days=91))
    assert {one["key"] for one in overdue["answer"]["reasons"]} >= {"visit_overdue"}


def test_H13_a_day_sleepers_page_and_diary_name_the_same_night(store: Store, cast: Cast, clock: Clock) -> None:
    """Asleep from 05:00 to 13:00: the day is split at 21:00, and at 04:30 the sleep to come is still tonight."""
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    with store.writing() as session:
        row = session.get_one(Wearer, nola)
        row.split_hour, row.usual_in, row.usual_out = time(21), time(5), time(13)
        session.commit()
    before = at(clock, 4, 30, days=1)
    assert shown(store, cast, "Gwen", "Nola", before)["night"] == "2026-11-02"
    tell(store, gwen, nola, before, entry("no_lenses", before, {"eyes": "both", "night": "2026-11-02"}))
    with store.reading() as session:
        story = load_story(session, session.get_one(Wearer, nola), before)
    assert {one.state for one in story.nights[-1].eyes.values()} == {NightState.NOT_WORN}
    assert shown(store, cast, "Gwen", "Nola", at(clock, 14, days=1))["night"] == "2026-11-03"


def test_H12_only_a_later_word_about_both_eyes_begins_the_day_of_being_well(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), report(clock(), general={"fever": "yes"}))
    older, one_eyed = report(clock() - timedelta(days=2)), report(clock() + timedelta(hours=1))
    one_eyed["payload"]["answers"]["left"] = {}
    tell(store, gwen, nola, clock() + timedelta(hours=2), older, one_eyed)
    assert shown(store, cast, "Gwen", "Nola", clock() + timedelta(days=3))["answer"]["wearer"] == "do_not_wear"
    well, worse = clock() + timedelta(hours=3), clock() + timedelta(hours=20)
    tell(store, gwen, nola, well, report(well))
    tell(store, gwen, nola, worse, report(worse, right={"vision": "fluctuating"}))
    assert shown(store, cast, "Gwen", "Nola", clock() + timedelta(days=3))["answer"]["wearer"] == "do_not_wear"


def test_H12_an_illness_hold_ends_a_day_after_being_well_and_not_before(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), report(clock(), general={"fever": "yes"}))
    assert shown(store, cast, "Gwen", "Nola", clock())["holds"][0]["reason"] == "illness"
    assert shown(store, cast, "Gwen", "Nola", clock() + timedelta(days=3))["answer"]["wearer"] == "do_not_wear"
    well = clock() + timedelta(days=3)
    tell(store, gwen, nola, well, report(well))
    assert shown(store, cast, "Gwen", "Nola", well + timedelta(hours=23))["answer"]["wearer"] == "do_not_wear"
    assert shown(store, cast, "Gwen", "Nola", well + timedelta(hours=24))["answer"]["wearer"] == "wear"


def test_being_well_is_undone_by_falling_ill_again(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    ill, well, again = (clock() + timedelta(hours=hours) for hours in (0, 10, 20))
    tell(store, gwen, nola, ill, report(ill, general={"cold_ill": "yes"}))
    tell(store, gwen, nola, well, report(well))
    tell(store, gwen, nola, again, report(again, general={"cold_ill": "yes"}))
    assert shown(store, cast, "Gwen", "Nola", well + timedelta(hours=30))["answer"]["wearer"] == "do_not_wear"


def test_a_slip_can_be_undone_for_ten_minutes_by_its_author(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    slip = entry("lenses_in", clock(), {"eyes": "both"})
    tell(store, gwen, nola, clock(), slip)
    assert shown(store, cast, "Gwen", "Nola", clock())["undo"]["entry_id"] == slip["id"]
    assert shown(store, cast, "Gus", "Nola", clock())["undo"] is None
    assert shown(store, cast, "Gwen", "Nola", clock() + timedelta(minutes=11))["undo"] is None
    tell(store, gwen, nola, clock(), entry("withdrawal", clock(), {"withdraws": slip["id"]}))
    view = shown(store, cast, "Gwen", "Nola", clock())
    assert (view["undo"], view["action"]["kind"]) == (None, "lenses_in")


def test_the_stored_forecast_is_used_only_while_it_is_true(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), *worn_nights(clock(), 3))
    with store.reading() as session:
        assert set(stale_forecasts(session, clock())) == set(cast.wearers.values())
    refresh_forecast(store, nola, clock())
    with store.reading() as session:
        assert nola not in stale_forecasts(session, clock())
        assert session.scalars(select(WearerState)).one().forecast is not None
    soon, late = clock() + timedelta(minutes=20), clock() + timedelta(hours=2)
    assert shown(store, cast, "Gwen", "Nola", soon)["forecast"]["as_of"] == clock().isoformat()
    assert shown(store, cast, "Gwen", "Nola", late)["forecast"]["as_of"] == late.isoformat()
    tell(store, gwen, nola, soon, report(soon, right=RED_PAIN))
    assert shown(store, cast, "Gwen", "Nola", soon)["answer"]["wearer"] == "do_not_wear"


@pytest.mark.parametrize(("name", "error"), [("Hedda", NotFound), ("Otto", NotFound), ("Asta", NotAllowed)])
def test_others_do_not_see_the_familys_page(
    store: Store, cast: Cast, clock: Clock, name: str, error: type[Exception]
) -> None:
    with pytest.raises(error):
        shown(store, cast, name, "Nola", clock())


def test_every_second_night_counts_from_the_evening_on_which_it_was_signed(
    store: Store, cast: Cast, clock: Clock
) -> None:
    """Two weeks of every night came first: the plan's own first evening counts, not the diary's."""
    gwen, pavel = (actor_named(store, cast.people[name]) for name in ("Gwen", "Pavel"))
    nola = cast.wearers["Nola"]
    form = {"every": "2", "target_acuity_logmar": "0.2", "target_until": "18:00", "target_eyes": "each"}
    for nights in (13, 14):
        now = clock() + timedelta(days=nights)
        tell(store, gwen, nola, now, *worn_nights(now, nights))
        with store.writing() as session:
            set_plan(session, pavel, nola, form, now)
        answers = [
            shown(store, cast, "Gwen", "Nola", now + timedelta(days=days))["answer"]["wearer"] for days in range(4)
        ]
        assert answers == ["wear", "rest_by_plan", "wear", "rest_by_plan"]


def test_reading_changes_nothing(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), *worn_nights(clock(), 3))
    with store.reading() as session:
        tonight(session, gwen, nola, clock() + timedelta(hours=3))
        assert not session.new
        assert not session.dirty
        assert session.scalars(select(WearerState)).one().forecast is None
