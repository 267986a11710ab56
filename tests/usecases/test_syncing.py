"""One round trip of a phone: what goes in, what comes back, who is told nothing."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from fakes import Clock
from people import Cast
from syncers import ENGLISH, asked, count, go, lenses_in, signed_in
from telling import RED_PAIN, report, tell, worn_nights

from companion.phrasebook.languages import LANGUAGES
from companion.phrasebook.phrases import Phrases
from companion.store.engine import Store
from companion.store.models import Alert, EntryRow, Wearer
from companion.usecases import consents, passes, signing, syncing
from companion.usecases.actor import Actor
from companion.usecases.forecasting import refresh_forecast
from companion.usecases.guardianships import end_guardianship
from companion.usecases.sync_request import Part


@pytest.fixture
def gwen(store: Store, cast: Cast, clock: Clock) -> Actor:
    return signed_in(store, clock, "gwen")


@pytest.fixture
def gus(store: Store, cast: Cast, clock: Clock) -> Actor:
    return signed_in(store, clock, "gus")


# -- in and out --
def test_an_empty_request_is_answered_with_everything(store: Store, cast: Cast, clock: Clock, gwen: Actor) -> None:
    tell(store, gwen, cast.wearers["Nola"], clock(), *worn_nights(clock(), 3))
    reply = go(store, gwen, clock)
    assert reply["account"].items() >= {"id": gwen.person_id, "name": "Gwen", "language": "en"}.items()
    (nola,) = reply["wearers"]
    assert (nola["id"], nola["name"], reply["gone"]) == (cast.wearers["Nola"], "Nola", [])
    assert [one["seq"] for one in nola["entries"]] == [1, 2, 3, 4, 5, 6]
    assert (nola["cursor"], nola["more"]) == (6, False)
    assert nola["tonight"]["wearer"]["id"] == nola["id"]
    assert nola["hours"] == {
        "in": "2026-11-02T21:30:00+00:00", "out": "2026-11-03T06:30:00+00:00", "split": "12:00",
    }  # fmt: skip
    assert "write_diary" in nola["may"] and "see_desk" not in nola["may"]
    assert nola["forecast"] is None, "none was stored yet, and none is made here to be stored"


def test_the_other_pages_come_along(store: Store, cast: Cast, clock: Clock, gwen: Actor) -> None:
    tell(store, gwen, cast.wearers["Nola"], clock(), *worn_nights(clock(), 3))
    (nola,) = go(store, gwen, clock)["wearers"]
    diary, care = nola["pages"]["diary"], nola["pages"]["care"]
    assert (diary["weeks"], diary["tonight"]) == (4, "2026-11-02")
    told = {one["night"] for one in diary["nights"] if one["right"]["state"] == "worn"}
    assert told == diary["told"].keys(), "nights of which nothing was said weigh nothing"
    assert [one["kind"] for one in diary["told"]["2026-10-31"]] == ["lenses_in", "lenses_out"]
    assert {"evening", "morning", "items", "stuck", "soak", "practice"} <= care.keys()
    assert nola["tonight"]["ahead"]["all"] == []


def test_entries_go_in_once_and_come_back_as_ones_own(store: Store, cast: Cast, clock: Clock, gwen: Actor) -> None:
    said, nola = lenses_in(clock), cast.wearers["Nola"]
    for _ in range(2):
        (shown,) = go(store, gwen, clock, nola, said)["wearers"]
        assert (shown["accepted"], shown["rejected"]) == ([said["id"]], [])
        (back,) = shown["entries"]
        assert (back["id"], back["mine"], back["author"], back["payload"]) == (
            said["id"],
            True,
            "Gwen",
            said["payload"],
        )
    assert count(store, EntryRow) == 1
    assert shown["tonight"]["lens"]["right"]["state"] == "in"


def test_the_same_id_with_other_words_is_refused_in_the_readers_language(
    store: Store, cast: Cast, clock: Clock, gwen: Actor
) -> None:
    said, nola = lenses_in(clock), cast.wearers["Nola"]
    other, fresh = {**said, "payload": {"eyes": "left"}}, lenses_in(clock, "right")
    go(store, gwen, clock, nola, said)
    chinese = Phrases(LANGUAGES["zh-Hans"])
    parts = {nola: Part(1, (other, fresh))}
    (shown,) = syncing.sync(store, gwen, asked(clock, wearers=parts), chinese, clock())["wearers"]
    assert shown["accepted"] == [fresh["id"]], "a bad one takes nothing with it"
    (refused,) = shown["rejected"]
    assert (refused["id"], refused["code"], refused["field"]) == (said["id"], "id_conflict", "id")
    assert any("\u4e00" <= sign <= "\u9fff" for sign in refused["said"])


def test_anything_at_all_among_the_entries_is_refused_by_itself(
    store: Store, cast: Cast, clock: Clock, gwen: Actor
) -> None:
    odd: list[Any] = [None, 7, [], {}, {"id": "x" * 900}, {"id": {"a": 1}, "kind": "lenses_in"}, {"kind": []}]
    good = lenses_in(clock)
    (shown,) = go(store, gwen, clock, cast.wearers["Nola"], *odd, good)["wearers"]
    assert shown["accepted"] == [good["id"]]
    assert len(shown["rejected"]) == len(odd) and all(one["said"] for one in shown["rejected"])


def test_two_phones_see_each_others_entries_and_one_night(
    store: Store, cast: Cast, clock: Clock, gwen: Actor, gus: Actor
) -> None:
    nola = cast.wearers["Nola"]
    hers, his = lenses_in(clock), lenses_in(clock)
    go(store, gwen, clock, nola, hers)
    (shown,) = go(store, gus, clock, nola, his)["wearers"]
    assert [(one["id"], one["author"], one["mine"]) for one in shown["entries"]] == [
        (hers["id"], "Gwen", False), (his["id"], "Gus", True),
    ]  # fmt: skip
    (shown,) = go(store, gwen, clock, nola, cursor=1)["wearers"]
    assert [one["id"] for one in shown["entries"]] == [his["id"]]
    assert shown["cursor"] == 2


def test_a_cursor_is_the_wearers_own(store: Store, cast: Cast, clock: Clock, gwen: Actor) -> None:
    nola, timo = cast.wearers["Nola"], cast.wearers["Timo"]
    hedda = signed_in(store, clock, "hedda")
    tell(store, hedda, timo, clock(), *worn_nights(clock(), 5))
    (shown,) = go(store, gwen, clock, nola, lenses_in(clock), cursor=0)["wearers"]
    assert shown["cursor"] == 1
    assert go(store, gwen, clock, nola, cursor=1)["wearers"][0]["entries"] == []


def test_a_long_diary_comes_in_pages(
    store: Store, cast: Cast, clock: Clock, gwen: Actor, monkeypatch: Any
) -> None:
    monkeypatch.setattr(syncing, "MOST_SHOWN", 4)
    nola = cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), *worn_nights(clock(), 5))
    cursor, pages = 0, []
    while not pages or pages[-1]["more"]:
        (shown,) = go(store, gwen, clock, nola, cursor=cursor)["wearers"]
        pages.append(shown)
        cursor = shown["cursor"]
    assert [[one["seq"] for one in page["entries"]] for page in pages] == [[1, 2, 3, 4], [5, 6, 7, 8], [9, 10]]


def test_a_cursor_that_was_never_given_starts_again(store: Store, cast: Cast, clock: Clock, gwen: Actor) -> None:
    """The house was restored from an older copy: a phone must not miss what is numbered anew."""
    nola = cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), *worn_nights(clock(), 1))
    (shown,) = go(store, gwen, clock, nola, cursor=77)["wearers"]
    assert (len(shown["entries"]), shown["cursor"]) == (2, 2)


def test_the_stored_forecast_and_its_curve_come_along(store: Store, cast: Cast, clock: Clock, gwen: Actor) -> None:
    nola = cast.wearers["Nola"]
    refresh_forecast(store, nola, clock())
    (shown,) = go(store, gwen, clock)["wearers"]
    assert shown["forecast"]["as_of"] and shown["curve"]["eyes"].keys() == {"right", "left"}


def test_H1_a_report_is_judged_told_and_answered_with_its_verdict(
    store: Store, cast: Cast, clock: Clock, gwen: Actor
) -> None:
    said = report(clock(), right=RED_PAIN)
    for _ in range(2):
        (shown,) = go(store, gwen, clock, cast.wearers["Nola"], said)["wearers"]
        (verdict,) = shown["reports"]
        assert verdict["entry_id"] == said["id"]
        assert (verdict["level"], verdict["eyes"]["right"]) == (4, 4)
        assert verdict["wear_hold"]["right"] is True
    assert count(store, Alert) == 1
    assert shown["tonight"]["answer"]["eyes"]["right"]["answer"] == "do_not_wear"


def test_a_clock_that_is_off_is_noted_and_never_refused(
    store: Store, cast: Cast, clock: Clock, gwen: Actor
) -> None:
    there = replace(asked(clock), sent_at=clock() - timedelta(days=20_000))
    reply = syncing.sync(store, gwen, there, ENGLISH, clock())
    assert reply["skew_s"] == -20_000 * 24 * 3600


# -- who is told nothing --
def test_others_wearers_are_gone_whatever_is_sent(store: Store, cast: Cast, clock: Clock, gwen: Actor) -> None:
    lea, timo, nobody = cast.wearers["Lea"], cast.wearers["Timo"], str(uuid4())
    parts = {one: Part(0, (lenses_in(clock), report(clock(), right=RED_PAIN))) for one in (lea, timo, nobody)}
    reply = syncing.sync(store, gwen, asked(clock, wearers=parts), ENGLISH, clock())
    assert sorted(reply["gone"]) == sorted((lea, timo, nobody))
    assert [one["id"] for one in reply["wearers"]] == [cast.wearers["Nola"]]
    assert count(store, EntryRow) == 0
    assert not any(name in json.dumps(reply) for name in ("Lea", "Timo"))


@pytest.mark.parametrize("name", ["asta", "pavel", "mina", "otto"])
def test_staff_have_the_desk_and_no_phone(store: Store, cast: Cast, clock: Clock, name: str) -> None:
    nola = cast.wearers["Nola"]
    reply = go(store, signed_in(store, clock, name, consent=False), clock, nola)
    assert (reply["wearers"], reply["gone"]) == ([], [nola])
    assert "device_key" not in reply


def test_H11_a_removed_guardians_report_is_taken_and_shows_nothing(
    store: Store, cast: Cast, clock: Clock, gus: Actor
) -> None:
    nola, asta = cast.wearers["Nola"], signed_in(store, clock, "asta", consent=False)
    with store.writing() as session:
        end_guardianship(session, asta, nola, gus.person_id, clock())
    said, tap = report(clock(), right=RED_PAIN), lenses_in(clock)
    reply = go(store, gus, clock, nola, said, tap, cursor=3)
    assert reply["gone"] == [nola]
    (shown,) = reply["wearers"]
    assert shown["accepted"] == [said["id"]]
    assert [(one["id"], one["code"]) for one in shown["rejected"]] == [(tap["id"], "not_allowed")]
    assert shown.keys() == {"id", "accepted", "rejected", "cursor", "entries", "more"}
    assert (shown["entries"], shown["cursor"]) == ([], 3)
    with store.reading() as session:
        assert session.get_one(EntryRow, said["id"]).verified is False


def test_a_pass_shows_tonight_and_no_diary(store: Store, cast: Cast, clock: Clock, gwen: Actor) -> None:
    nola = cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), *worn_nights(clock(), 2))
    with store.writing() as session:
        pass_token = passes.issue(session, gwen, nola, {"name": "Granny", "lasts": "1"}, clock())
    with store.writing() as session:
        token = passes.open_pass(session, pass_token, clock())
    with store.reading() as session:
        granny = signing.actor_for_token(session, token, clock())
    assert granny is not None
    said, tap = report(clock(), right=RED_PAIN), lenses_in(clock)
    (shown,) = go(store, granny, clock, nola, said, tap, cursor=2)["wearers"]
    assert (shown["accepted"], [one["code"] for one in shown["rejected"]]) == ([said["id"]], ["not_allowed"])
    assert (shown["entries"], shown["cursor"], shown["forecast"], shown["curve"]) == ([], 0, None, None)
    assert shown["tonight"]["curve"] is None and "see_own_pages" not in shown["may"]
    assert shown["pages"]["diary"] is None and shown["pages"]["care"]["evening"]


def test_without_agreement_only_reports_get_through_and_nothing_is_shown(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gwen, nola = signed_in(store, clock, "gwen", consent=False), cast.wearers["Nola"]
    said, tap = report(clock(), right=RED_PAIN), lenses_in(clock)
    reply = go(store, gwen, clock, nola, said, tap)
    assert (reply["consent_due"], reply["gone"]) == (True, [])
    (shown,) = reply["wearers"]
    assert shown["accepted"] == [said["id"]]
    assert [(one["id"], one["code"]) for one in shown["rejected"]] == [(tap["id"], "consent_first")]
    assert shown.keys() == {"id", "accepted", "rejected", "cursor", "entries", "more"}
    with store.writing() as session:
        consents.give(session, gwen, consents.TEXT_VERSION, "en", clock())
    (shown,) = go(store, gwen, clock, nola, said, tap)["wearers"]
    assert sorted(shown["accepted"]) == sorted((said["id"], tap["id"]))


def test_what_came_before_trouble_stands(
    store: Store, cast: Cast, clock: Clock, gwen: Actor, monkeypatch: Any
) -> None:
    """A page that breaks takes no entry with it: the phone sends the same again and is told that it is there."""
    nola, said = cast.wearers["Nola"], lenses_in(clock)

    def breaks(*_: Any) -> None:
        raise RuntimeError("no view")

    with monkeypatch.context() as broken:
        broken.setattr(syncing.tonight, "tonight", breaks)
        with pytest.raises(RuntimeError):
            go(store, gwen, clock, nola, said)
    assert count(store, EntryRow) == 1
    (shown,) = go(store, gwen, clock, nola, said)["wearers"]
    assert shown["accepted"] == [said["id"]]
    with store.reading() as session:
        assert session.get_one(Wearer, nola).last_seq == 1
