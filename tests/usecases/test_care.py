"""Lens care as use cases: who sees it, who signs it, and what the diary's entries add up to."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import actor_named, entry, tell

from companion.common.errors import InvalidInput, NotAllowed, NotFound
from companion.store.engine import Store
from companion.store.models import AuditEvent, CareRegimen
from companion.usecases import care, passes, recording, regimens, signing
from companion.usecases.actor import Actor

FORM = {
    "system": "peroxide", "case_days": "60", "bottle_days": "90", "lens_days": "365", "suction_cup_days": "",
    "protein_days": "14", "stored_days": "1", "peroxide_hours": "6",
}  # fmt: skip


def sign(store: Store, cast: Cast, at: datetime, name: str = "Pavel", **form: str) -> None:
    with store.writing() as session:
        regimens.sign_regimen(session, actor_named(store, cast.people[name]), FORM | form, at)


def seen(store: Store, cast: Cast, at: datetime, name: str = "Gwen", wearer: str = "Nola") -> dict[str, Any]:
    with store.reading() as session:
        return care.care(session, actor_named(store, cast.people[name]), cast.wearers[wearer], at)


def item(view: dict[str, Any], name: str, part: str | None = None) -> dict[str, Any]:
    return next(one for one in view["items"] if (one["item"], one["part"]) == (name, part))


def carrier(store: Store, cast: Cast, at: datetime) -> Actor:
    with store.writing() as session:
        form = {"name": "Granny", "lasts": "1"}
        gwen = actor_named(store, cast.people["Gwen"])
        token = passes.issue(session, gwen, cast.wearers["Nola"], form, at)
    with store.writing() as session:
        opened = passes.open_pass(session, token, at)
    with store.reading() as session:
        who = signing.actor_for_token(session, opened, at)
    assert who
    return who


def test_the_newest_signature_counts_and_nothing_is_overwritten(store: Store, cast: Cast, clock: Clock) -> None:
    assert seen(store, cast, clock())["system"] is None
    sign(store, cast, clock())
    later = clock.advance(days=1)
    sign(store, cast, later, case_days="30")
    view = seen(store, cast, later)
    assert (view["system"], view["numbers"]["case_days"]) == ("peroxide", 30)
    with store.reading() as session:
        assert len(session.scalars(select(CareRegimen)).all()) == 2
        verbs = session.scalars(select(AuditEvent.verb).where(AuditEvent.object_kind == "care_regimen")).all()
    assert list(verbs) == ["sign", "sign"]


def test_each_practice_has_its_own(store: Store, cast: Cast, clock: Clock) -> None:
    sign(store, cast, clock(), name="Petra")
    assert seen(store, cast, clock())["system"] is None
    assert seen(store, cast, clock(), "Gil", "Lea")["system"] == "peroxide"


@pytest.mark.parametrize("name", ["Asta", "Mina", "Gwen"])
def test_only_a_practitioner_signs(store: Store, cast: Cast, clock: Clock, name: str) -> None:
    with pytest.raises(NotAllowed):
        sign(store, cast, clock(), name=name)


@pytest.mark.parametrize(("name", "error"), [("Hedda", NotFound), ("Petra", NotFound), ("Asta", NotAllowed)])
def test_care_is_the_familys(store: Store, cast: Cast, clock: Clock, name: str, error: type[Exception]) -> None:
    with pytest.raises(error):
        seen(store, cast, clock(), name)


def test_a_form_with_everything_wrong_names_it_all_at_once(store: Store, cast: Cast, clock: Clock) -> None:
    wrong = {"case_days": "400", "lens_days": "1", "peroxide_hours": "two", "bottle_days": ""}
    with pytest.raises(InvalidInput) as caught:
        sign(store, cast, clock(), **wrong)
    assert {problem.field for problem in caught.value.problems} == set(wrong)


def test_H18_what_the_family_wrote_down_and_the_shorter_limit(store: Store, cast: Cast, clock: Clock) -> None:
    sign(store, cast, clock())
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    ago = clock() - timedelta(days=10)
    tell(
        store, gwen, nola, clock(),
        entry("care_item", ago, {"item": "case"}),
        entry("care_item", ago, {"item": "bottle", "which": "solution", "label_days": 28}),
        entry("care_item", ago, {"item": "lens", "eyes": "both"}),
    )  # fmt: skip
    view = seen(store, cast, clock())
    today = clock().date()
    assert item(view, "case")["due_on"] == (today + timedelta(days=50)).isoformat()
    assert item(view, "bottle", "solution")["by"] == "label"
    assert item(view, "bottle", "solution")["due_on"] == (today + timedelta(days=18)).isoformat()
    assert {item(view, "lens", eye)["since"] for eye in ("right", "left")} == {ago.date().isoformat()}


def test_a_thing_taken_back_was_never_new(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    said = entry("care_item", clock(), {"item": "case"})
    tell(store, gwen, nola, clock(), said, entry("withdrawal", clock(), {"withdraws": said["id"]}))
    assert item(seen(store, cast, clock()), "case")["state"] == "unknown"


def test_without_a_fit_lens_its_date_is_the_fitting(store: Store, cast: Cast, clock: Clock) -> None:
    view = seen(store, cast, clock())
    assert item(view, "lens", "right")["since"] == (clock() - timedelta(days=30)).date().isoformat()
    assert view["marks"] == {"right": "right dot", "left": "left dot"}


def test_H13_peroxide_is_counted_from_what_was_said_and_ends_when_a_lens_goes_in(
    store: Store, cast: Cast, clock: Clock
) -> None:
    sign(store, cast, clock())
    gwen, nola, start = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"], clock()
    assert seen(store, cast, start)["soak"]["state"] == "none"
    tell(store, gwen, nola, start, entry("care_item", start, {"item": "soak"}))
    for hours, state in ((0, "waiting"), (5.99, "waiting"), (6, "ready"), (29, "ready"), (31, "again")):
        assert seen(store, cast, start + timedelta(hours=hours))["soak"]["state"] == state
    worn = start + timedelta(hours=7)
    tell(store, gwen, nola, worn, entry("lenses_in", worn, {"eyes": "both"}))
    assert seen(store, cast, worn)["soak"]["state"] == "none"
    assert seen(store, cast, worn, "Hedda", "Timo")["soak"]["state"] == "none", "of another child nothing was said"


def test_without_peroxide_there_is_no_such_clock(store: Store, cast: Cast, clock: Clock) -> None:
    assert seen(store, cast, clock())["soak"] is None
    sign(store, cast, clock(), system="multipurpose")
    assert seen(store, cast, clock())["soak"] is None


def test_H9_a_stuck_lens_counts_from_the_first_word_until_it_is_free(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gwen, nola, start = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"], clock()
    tell(store, gwen, nola, start, entry("stuck_lens", start, {"eyes": "right", "said": "stuck"}))
    again = start + timedelta(minutes=20)
    tell(store, gwen, nola, again, entry("stuck_lens", again, {"eyes": "both", "said": "stuck"}))
    clocks = {one["eyes"]: one for one in seen(store, cast, start + timedelta(minutes=31))["stuck"]}
    assert clocks["right"]["stage"] == "report", "saying it again does not start the clock anew"
    assert clocks["left"]["stage"] == "loosen"
    free = start + timedelta(minutes=32)
    tell(store, gwen, nola, free, entry("stuck_lens", free, {"eyes": "right", "said": "free"}))
    view = seen(store, cast, free)
    assert [one["eyes"] for one in view["stuck"]] == ["left"]
    assert view["freed"] == [{"eye": "right", "often": False}]


def test_a_carer_sees_the_steps_and_writes_no_diary(store: Store, cast: Cast, clock: Clock) -> None:
    granny = carrier(store, cast, clock())
    with store.reading() as session:
        view = care.care(session, granny, cast.wearers["Nola"], clock())
    assert not view["may_write"] and view["evening"]
    said = entry("stuck_lens", clock(), {"eyes": "right", "said": "stuck"})
    with store.writing() as session:
        receipt = recording.record_entries(session, granny, cast.wearers["Nola"], [said], clock())
    assert [problem.code for problem in receipt.rejected[0].problems] == ["not_allowed"]
