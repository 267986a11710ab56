"""What the practice signs: by whom, from when, nothing overwritten, every wrong field named at once."""

from __future__ import annotations

from typing import Any

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import actor_named

from companion.common.errors import InvalidInput, NotAllowed, NotFound
from companion.store.engine import Store
from companion.store.models import Plan, Wearer
from companion.usecases import prescribing
from companion.usecases.wearer_page import wearer as wearer_page

PLAN = {"every": "2", "target_acuity_logmar": "0,1", "target_until": "17:00", "target_eyes": "better"}
REFRACTION = {"eye": "right", "kind": "residual", "sphere_d": "−0.25", "cylinder_d": "-0.50", "axis_deg": "180"}
LENS = {"eye": "left", "marked_as": "two dots", "aim_d": "0.75", "base_curve_mm": "8.1", "diameter_mm": "10.6"}
CLEARANCE = {"may_skip": "yes", "longest_gap_nights": "1", "until": "2027-01-31"}
VISIT = {"due_on": "2026-12-01", "kind": "month"}
NEW = {"name": "Rosa", "birth_date": "2017-02-03", "zone": "Europe/London", "first_night": "2026-11-02"}


def page(store: Store, cast: Cast, clock: Clock) -> dict[str, Any]:
    with store.reading() as session:
        pavel = actor_named(store, cast.people["Pavel"])
        return wearer_page(session, pavel, cast.wearers["Nola"], clock())


def test_all_that_is_signed_shows_on_the_wearers_page_with_its_signer(
    store: Store, cast: Cast, clock: Clock
) -> None:
    pavel, nola = actor_named(store, cast.people["Pavel"]), cast.wearers["Nola"]
    with store.writing() as session:
        prescribing.set_plan(session, pavel, nola, PLAN, clock())
        prescribing.set_clearance(session, pavel, nola, CLEARANCE, clock())
        prescribing.add_refraction(session, pavel, nola, REFRACTION, clock())
        prescribing.add_lens(session, pavel, nola, LENS, clock())
        prescribing.set_visit(session, pavel, nola, VISIT, clock())
    shown = page(store, cast, clock)
    plan = shown["plan"]
    assert (plan["every"], plan["target_logmar"], plan["signed_by"]) == (2, 0.1, "Pavel")
    assert (shown["clearance"]["until"], shown["clearance"]["signed_by"]) == ("2027-01-31", "Pavel")
    newest = shown["refractions"][0]
    # Spherical equivalent: sphere plus half the cylinder (the power vector's M, handbook optics).
    assert (newest["sphere_d"], newest["spherical_equivalent_d"]) == (-0.25, -0.50)
    assert shown["lenses"]["left"]["marked_as"] == "two dots"
    assert "2026-12-01" in [visit["due_on"] for visit in shown["visits"]]


def test_a_change_starts_a_new_row_and_the_old_one_ruled_its_own_nights(
    store: Store, cast: Cast, clock: Clock
) -> None:
    pavel, nola = actor_named(store, cast.people["Pavel"]), cast.wearers["Nola"]
    with store.writing() as session:
        prescribing.set_plan(session, pavel, nola, PLAN, clock())
    with store.reading() as session:
        assert len(session.scalars(select(Plan).where(Plan.wearer_id == nola)).all()) == 2
    clock.advance(days=4)
    nights = page(store, cast, clock)["nights"][::-1]
    assert [night["planned"] for night in nights[-5:]] == [True, False, True, False, True]
    assert all(night["planned"] for night in nights[:-5])


def test_numbers_may_be_written_in_ones_own_digits(store: Store, cast: Cast, clock: Clock) -> None:
    pavel, nola = actor_named(store, cast.people["Pavel"]), cast.wearers["Nola"]
    with store.writing() as session:
        prescribing.set_plan(session, pavel, nola, PLAN | {"target_acuity_logmar": "٠٫١", "every": "٣"}, clock())
        prescribing.set_visit(session, pavel, nola, VISIT | {"due_on": "٢٠٢٦-١٢-٠١"}, clock())
    shown = page(store, cast, clock)
    assert (shown["plan"]["target_logmar"], shown["plan"]["every"]) == (0.1, 3)
    assert "2026-12-01" in [visit["due_on"] for visit in shown["visits"]]


@pytest.mark.parametrize(
    ("verb", "form", "wrong"),
    [
        ("set_plan", {}, ["every", "target_acuity_logmar", "target_until", "target_eyes"]),
        ("set_plan", PLAN | {"every": "0", "target_until": "25:00"}, ["every", "target_until"]),
        ("set_plan", PLAN | {"weekdays": "mon,moonday"}, ["weekdays"]),
        ("set_plan", PLAN | {"target_acuity_logmar": "nan"}, ["target_acuity_logmar"]),
        ("set_clearance", {"may_skip": "maybe"}, ["may_skip"]),
        ("set_clearance", CLEARANCE | {"until": "2026-01-01"}, ["until"]),
        ("add_refraction", REFRACTION | {"sphere_d": "-40"}, ["sphere_d"]),
        ("add_refraction", REFRACTION | {"axis_deg": ""}, ["axis_deg"]),
        ("add_refraction", REFRACTION | {"eye": "both"}, ["eye"]),
        ("add_lens", LENS | {"aim_d": "", "marked_as": " "}, ["marked_as", "aim_d"]),
        ("set_visit", {"due_on": "soon", "kind": "month"}, ["due_on"]),
    ],
)
def test_wrong_fields_are_named_and_nothing_is_written(
    store: Store, cast: Cast, clock: Clock, verb: str, form: dict[str, str], wrong: list[str]
) -> None:
    pavel, nola = actor_named(store, cast.people["Pavel"]), cast.wearers["Nola"]
    before = page(store, cast, clock)
    with store.writing() as session, pytest.raises(InvalidInput) as caught:
        getattr(prescribing, verb)(session, pavel, nola, form, clock())
    assert [problem.field for problem in caught.value.problems] == wrong
    assert page(store, cast, clock) == before


@pytest.mark.parametrize(
    ("verb", "form"),
    [("set_plan", PLAN), ("set_clearance", CLEARANCE), ("add_refraction", REFRACTION), ("add_lens", LENS)],
)
@pytest.mark.parametrize(("name", "error"), [("Asta", NotAllowed), ("Mina", NotAllowed), ("Petra", NotFound)])
def test_only_a_practitioner_of_this_practice_signs(
    store: Store, cast: Cast, clock: Clock, verb: str, form: dict[str, str], name: str, error: type[Exception]
) -> None:
    with store.writing() as session, pytest.raises(error):
        getattr(prescribing, verb)(
            session, actor_named(store, cast.people[name]), cast.wearers["Nola"], form, clock()
        )


def test_an_assistant_enrols_a_wearer_at_the_own_practice(store: Store, cast: Cast, clock: Clock) -> None:
    asta = actor_named(store, cast.people["Asta"])
    with store.writing() as session:
        rosa = prescribing.new_wearer(session, asta, NEW, clock())
    with store.reading() as session:
        row = session.get_one(Wearer, rosa)
        assert (row.practice_id, row.name, row.first_night) == (cast.practices["mill"], "Rosa", row.diary_since)
        assert wearer_page(session, asta, rosa, clock())["curve"] is None


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"name": ""}, "name"),
        ({"birth_date": "2030-01-01"}, "birth_date"),
        ({"birth_date": "3.2.2017"}, "birth_date"),
        ({"zone": "../../etc/passwd"}, "zone"),
        ({"settled_nights_per_week": "8"}, "settled_nights_per_week"),
    ],
)
def test_a_wrong_new_wearer_is_named(
    store: Store, cast: Cast, clock: Clock, change: dict[str, str], field: str
) -> None:
    asta = actor_named(store, cast.people["Asta"])
    with store.writing() as session, pytest.raises(InvalidInput) as caught:
        prescribing.new_wearer(session, asta, NEW | change, clock())
    assert [problem.field for problem in caught.value.problems] == [field]
