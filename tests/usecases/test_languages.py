"""A practice's word on the safety text in a language: a manager's alone, for one version, and taken back."""

from __future__ import annotations

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import actor_named

from companion.common.errors import InvalidInput, NotAllowed
from companion.phrasebook.languages import ARABIC, CHINESE, ENGLISH
from companion.phrasebook.safety_text import Speech, text_version
from companion.store.engine import Store
from companion.store.models import AuditEvent, PracticeLanguage
from companion.usecases import languages

FORM = {
    "language": "zh-Hans",
    "reviewer": "Somebody who reads it",
    "reviewer_role": "optometrist, grew up with it",
    "confirmed": "yes",
    "text_version": text_version(),
}


def sign(store: Store, cast: Cast, clock: Clock, name: str = "Mina", **changes: str) -> None:
    with store.writing() as session:
        languages.sign(session, actor_named(store, cast.people[name]), FORM | changes, clock())


def speech(store: Store, cast: Cast, *practices: str, language=CHINESE, demo: bool = False) -> Speech:
    with store.reading() as session:
        return languages.speech(session, [cast.practices[one] for one in practices], language, demo)


def test_H4_a_live_practice_holds_a_language_until_its_manager_signs(
    store: Store, cast: Cast, clock: Clock
) -> None:
    assert speech(store, cast, "mill") is Speech.HELD
    assert speech(store, cast, "mill", demo=True) is Speech.BESIDE
    sign(store, cast, clock)
    assert speech(store, cast, "mill") is Speech.REVIEWED
    assert speech(store, cast, "mill", language=ARABIC) is Speech.HELD, "one language, not another"
    assert speech(store, cast, "hill") is Speech.HELD, "one practice, not another"
    assert speech(store, cast, "mill", "hill") is Speech.HELD, "a family of both reads as the stricter has it"
    with store.reading() as session:
        row = session.scalars(select(PracticeLanguage)).one()
        assert (row.text_version, row.signed_by, row.signed_at) == (text_version(), cast.people["Mina"], clock())
        assert (row.reviewer, row.reviewer_role) == (FORM["reviewer"], FORM["reviewer_role"])
        audit = session.scalars(select(AuditEvent).where(AuditEvent.object_kind == "language")).one()
        assert (audit.verb, audit.object_id, audit.actor_id) == ("sign", row.id, cast.people["Mina"])


def test_H4_a_signature_holds_for_the_text_that_was_read(
    store: Store, cast: Cast, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    sign(store, cast, clock)
    monkeypatch.setattr(languages, "text_version", lambda: "a later text")
    assert speech(store, cast, "mill") is Speech.HELD
    with store.reading() as session:
        view = languages.languages(session, actor_named(store, cast.people["Mina"]), ["en", "zh-Hans"])
    states = {one["tag"]: (one["open"], one["stale"]) for one in view["languages"]}
    assert states == {"en": (False, False), "zh-Hans": (False, True)}
    with pytest.raises(InvalidInput, match="text_changed"):
        sign(store, cast, clock)


def test_a_language_is_locked_again_at_once(store: Store, cast: Cast, clock: Clock) -> None:
    sign(store, cast, clock)
    clock.advance(minutes=1)
    sign(store, cast, clock, deed="lock", confirmed="", reviewer="", reviewer_role="")
    assert speech(store, cast, "mill") is Speech.HELD


def test_english_is_signed_as_well_and_until_then_says_so(store: Store, cast: Cast, clock: Clock) -> None:
    assert speech(store, cast, "mill", language=ENGLISH) is Speech.SOURCE
    sign(store, cast, clock, language="en")
    assert speech(store, cast, "mill", language=ENGLISH) is Speech.REVIEWED


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"confirmed": ""}, "confirmed"),
        ({"reviewer": " "}, "reviewer"),
        ({"reviewer_role": ""}, "reviewer_role"),
        ({"language": "xx"}, "language"),
        ({"language": "en-x-pseudo"}, "language"),
        ({"text_version": "an older text"}, "language"),
    ],
)
def test_nothing_is_signed_by_halves(
    store: Store, cast: Cast, clock: Clock, changes: dict[str, str], field: str
) -> None:
    with pytest.raises(InvalidInput) as refused:
        sign(store, cast, clock, **changes)
    assert [one.field for one in refused.value.problems] == [field]
    assert speech(store, cast, "mill") is Speech.HELD


@pytest.mark.parametrize("name", ["Asta", "Pavel", "Gwen"])
def test_only_the_manager_signs_or_looks(store: Store, cast: Cast, clock: Clock, name: str) -> None:
    with pytest.raises(NotAllowed):
        sign(store, cast, clock, name)
    with pytest.raises(NotAllowed), store.reading() as session:
        languages.languages(session, actor_named(store, cast.people[name]), ["en"])
