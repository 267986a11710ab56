"""The forecast kept and shown: nothing worked out twice, one that breaks, a new lens, what makes it stale."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta
from typing import Any

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import func, select
from telling import RED_PAIN, actor_named, entry, report, tell, worn_nights

from companion.common.eyes import Eye
from companion.exchange import eye_course, wearer_course
from companion.store.engine import Store
from companion.store.models import Alert, FitRow, Refraction, Wearer, WearerState
from companion.usecases import forecasting, prescribing, wearer_page
from companion.usecases.checking import findings
from companion.usecases.forecasting import refresh_forecast, stale_forecasts
from companion.usecases.story import load_story
from companion.usecases.tonight import tonight
from companion.usecases.wearer_record import record_of

LENS = {"eye": "right", "marked_as": "one dot", "aim_d": "0.75"}
NOT_CLEARED = {"may_skip": "no"}
EASY = {"every": "1", "target_acuity_logmar": "0.9", "target_until": "09:00", "target_eyes": "each"}


def looks(now: datetime, days: int, logmar: float = 0.0, eyes: tuple[str, ...] = ("right", "left")) -> Any:
    """A reading of each eye on each of the last mornings."""
    morning = now.replace(hour=7, minute=30)
    for ago in range(days - 1, -1, -1):
        at = morning - timedelta(days=ago)
        for eye in eyes:
            yield entry("sight", at, {"eye": eye, "logmar": logmar, "distance_m": 6})


@pytest.fixture
def wim(store: Store, cast: Cast, clock: Clock) -> str:
    """Wim may skip; three weeks of nights and ten days of checks are told, and the forecast is stored."""
    actor, wearer_id = actor_named(store, cast.people["Wim"]), cast.wearers["Wim"]
    tell(store, actor, wearer_id, clock(), *worn_nights(clock(), 21), *looks(clock(), 10))
    refresh_forecast(store, wearer_id, clock())
    return wearer_id


def shown(store: Store, cast: Cast, wearer_id: str, now: datetime) -> dict[str, Any]:
    with store.reading() as session:
        return tonight(session, actor_named(store, cast.people["Wim"]), wearer_id, now)


def page(store: Store, cast: Cast, wearer_id: str, now: datetime) -> dict[str, Any]:
    with store.reading() as session:
        return wearer_page.wearer(session, actor_named(store, cast.people["Pavel"]), wearer_id, now)


@pytest.fixture
def science(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What was asked of the science, call by call."""
    asked: list[str] = []
    for module, name in ((wearer_course, "fit_together"), (eye_course, "follow")):
        asking = getattr(module, name)

        def counted(*args: Any, name: str = name, asking: Any = asking, **more: Any) -> Any:
            asked.append(name)
            return asking(*args, **more)

        monkeypatch.setattr(module, name, counted)
    return asked


def test_a_page_of_an_unchanged_wearer_asks_nothing_of_the_science(
    store: Store, cast: Cast, clock: Clock, wim: str, science: list[str]
) -> None:
    for minutes in (0, 50):
        now = clock() + timedelta(minutes=minutes)
        view = shown(store, cast, wim, now)
        assert view["curve"]["now"] == now.isoformat()
        assert page(store, cast, wim, now)["about"]["eyes"]["right"]["checks"] == 10
    assert science == []


def test_what_is_new_is_followed_once_for_everything_and_not_stored(
    store: Store, cast: Cast, clock: Clock, wim: str, science: list[str]
) -> None:
    actor = actor_named(store, cast.people["Wim"])
    tell(store, actor, wim, clock(), entry("sight", clock(), {"eye": "right", "logmar": 0.1, "distance_m": 6}))
    view = shown(store, cast, wim, clock())
    assert science.count("fit_together") == 1
    assert view["forecast"]["used"]["checks"] == 21
    assert view["curve"]["checks"][-1]["logmar"] == 0.1
    with store.reading() as session:
        state = session.scalars(select(WearerState)).one()
        assert state.about is not None and state.about["eyes"]["right"]["checks"] == 10
        assert set(session.scalars(select(FitRow.seq))) == {state.forecast_seq}


def test_a_page_starts_where_the_last_fit_found_the_eye_and_what_is_kept_is_found_anew(
    store: Store, cast: Cast, clock: Clock, wim: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    given: list[Any] = []
    follow = forecasting.follow_wearer
    monkeypatch.setattr(
        forecasting, "follow_wearer", lambda r, n, places: given.append(places) or follow(r, n, places)
    )
    refresh_forecast(store, wim, clock() + timedelta(hours=1))
    assert given[-1] == {}
    actor = actor_named(store, cast.people["Wim"])
    tell(store, actor, wim, clock(), entry("sight", clock(), {"eye": "right", "logmar": 0.1, "distance_m": 6}))
    shown(store, cast, wim, clock() + timedelta(hours=1))
    with store.writing() as session:
        rows = {Eye(row.eye): row for row in session.scalars(select(FitRow))}
        assert set(given[-1]) == set(rows) == {Eye.RIGHT, Eye.LEFT}
        assert given[-1][Eye.LEFT].covariance.shape == (len(rows[Eye.LEFT].mean),) * 2
        rows[Eye.LEFT].model = "another"
        session.commit()
    shown(store, cast, wim, clock() + timedelta(hours=1))
    assert set(given[-1]) == {Eye.RIGHT}


def test_H2_a_fit_that_breaks_holds_up_no_entry_and_no_alert(
    store: Store, cast: Cast, clock: Clock, wim: str, breaks: None
) -> None:
    actor = actor_named(store, cast.people["Wim"])
    receipt = tell(store, actor, wim, clock(), report(clock(), right=RED_PAIN))
    assert receipt.reports
    refresh_forecast(store, wim, clock())
    assert shown(store, cast, wim, clock())["answer"]["wearer"] == "do_not_wear"
    with store.reading() as session:
        assert session.scalars(select(Alert.level)).all() == [4]


@pytest.fixture
def breaks(monkeypatch: pytest.MonkeyPatch) -> None:
    def out_of_paper(*_: Any, **__: Any) -> Any:
        raise FloatingPointError("out of paper")

    monkeypatch.setattr(wearer_course, "fit_together", out_of_paper)


def test_one_that_breaks_keeps_the_last_says_so_and_frees_no_night(
    store: Store, cast: Cast, clock: Clock, wim: str, breaks: None, caplog: pytest.LogCaptureFixture
) -> None:
    before = shown(store, cast, wim, clock())
    later = clock() + timedelta(hours=3)
    with caplog.at_level(logging.ERROR):
        view = shown(store, cast, wim, later)
    assert "out of paper" in caplog.text and "Wim" not in caplog.text
    assert view["forecast"]["as_of"] == before["forecast"]["as_of"]
    assert view["forecast"]["warnings"][0] == {"key": "forecast_kept", "values": {"hours": 3}}
    assert (view["answer"]["wearer"], view["answer"]["reasons"]) == (
        "wear",
        [{"key": "no_forecast", "values": {}}],
    )
    assert view["curve"] is not None
    assert shown(store, cast, wim, clock() + timedelta(days=4))["curve"] is None, "it ends before now"


def test_one_that_breaks_is_found_waits_and_mends(
    store: Store, cast: Cast, clock: Clock, wim: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    later = clock() + timedelta(hours=1)

    def found(now: datetime) -> list[dict[str, Any]]:
        with store.reading() as session:
            return [one.values for one in findings(session, now) if one.code == "forecasts_broke"]

    with monkeypatch.context() as broken:
        broken.setattr(wearer_course, "fit_together", lambda *_: 1 / 0)
        refresh_forecast(store, wim, later)
    assert found(later) == [{"num": 1, "since": later}]
    with store.reading() as session:
        assert wim not in stale_forecasts(session, later + timedelta(minutes=14))
        assert wim in stale_forecasts(session, later + timedelta(minutes=16))
    refresh_forecast(store, wim, later + timedelta(minutes=16))
    assert found(later) == []


def test_a_number_that_is_none_counts_as_broken(
    store: Store, cast: Cast, clock: Clock, wim: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(forecasting, "about", lambda _: {"learned": float("nan")})
    later = clock() + timedelta(hours=1)
    refresh_forecast(store, wim, later)
    assert shown(store, cast, wim, later)["forecast"]["warnings"][0]["key"] == "forecast_kept"


def test_H12_what_the_practice_signs_counts_at_once(store: Store, cast: Cast, clock: Clock, wim: str) -> None:
    """A night freed by a forecast that was made before the clearance was taken back is freed no more."""
    pavel, soon = actor_named(store, cast.people["Pavel"]), clock() + timedelta(minutes=5)
    with store.writing() as session:
        prescribing.set_plan(session, pavel, wim, EASY, clock())
    refresh_forecast(store, wim, clock())
    assert shown(store, cast, wim, soon)["answer"]["wearer"] == "may_skip"
    with store.writing() as session:
        prescribing.set_clearance(session, pavel, wim, NOT_CLEARED, soon)
    view = shown(store, cast, wim, soon)
    assert (view["answer"]["wearer"], view["answer"]["reasons"][0]["key"]) == ("wear", "not_cleared")
    with store.reading() as session:
        assert wim in stale_forecasts(session, soon)


def test_readings_of_another_lens_are_left_out(store: Store, cast: Cast, clock: Clock, wim: str) -> None:
    """From the first night in the new lens on it is this lens that is read; its like changes nothing."""
    actor, pavel = (actor_named(store, cast.people[name]) for name in ("Wim", "Pavel"))

    def checks(now: datetime) -> list[int]:
        with store.reading() as session:
            story = load_story(session, session.get_one(Wearer, wim), now)
            record = record_of(story, [], forecasting.NOT_CLEARED, now)
        assert record is not None
        return [len(one.acuity) for one in record.eyes.values()]

    handed_over = clock() + timedelta(minutes=1)
    with store.writing() as session:
        prescribing.add_lens(session, pavel, wim, LENS | {"aim_d": "0.5"}, handed_over)
    assert checks(handed_over) == [10, 10]
    with store.writing() as session:
        prescribing.add_lens(session, pavel, wim, LENS, handed_over)
    assert checks(handed_over) == [0, 10]
    morning = clock() + timedelta(days=1)
    tell(store, actor, wim, morning, *worn_nights(morning, 1), *looks(morning, 1))
    assert checks(morning) == [1, 11]


def test_a_wearer_without_a_diary_has_a_stored_forecast_too(
    store: Store, cast: Cast, clock: Clock, science: list[str]
) -> None:
    refresh_forecast(store, cast.wearers["Wim"], clock())
    science.clear()
    assert (
        shown(store, cast, cast.wearers["Wim"], clock())["forecast"]["warnings"][0]["key"] == "mostly_population"
    )
    assert science == []


def test_without_a_refraction_nothing_is_said_of_a_forecast(store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        for row in session.scalars(select(Refraction).where(Refraction.wearer_id == cast.wearers["Wim"])):
            session.delete(row)
        session.commit()
    refresh_forecast(store, cast.wearers["Wim"], clock())
    view = shown(store, cast, cast.wearers["Wim"], clock())
    assert (view["forecast"], view["check"], view["surprises"]) == (None, None, [])
    with store.reading() as session:
        assert session.scalar(select(func.count()).select_from(FitRow)) == 0
