"""Which statements stand: corrections, withdrawals, reports, and the same result in any order."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from diary_makers import FATHER, MOTHER, Book, raw, wall
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.diary.entry import Draft, Entry, check_shape
from companion.diary.merge import Acceptance, StandingEntry, accepts, may_follow, standing, target_id

OTHER_CHILD = "00000000-0000-4000-8000-00000000000c"
REPORT = {"answers": {"right": {"redness": "red"}}}


def draft_of(entry: Entry, **changes: Any) -> Draft:
    said = replace(entry, **changes)
    return Draft(said.id, said.wearer_id, said.kind, said.at, said.zone, said.made_at, said.payload)


def test_a_correction_replaces_the_words_and_keeps_the_place() -> None:
    book = Book()
    first = book.lens_in("2026-10-01 21:30")
    said = book.correct(first, "2026-10-01 20:50", {"eyes": "right"}, author=FATHER)
    (one,) = standing(book.entries)
    assert (one.id, one.decided_by, one.author_id) == (first.id, said.id, FATHER)
    assert one.at == wall("2026-10-01 20:50")
    assert one.payload == {"eyes": "right"}
    assert one.corrected


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 2, 0)])
def test_of_rival_corrections_the_highest_sequence_wins(order: tuple[int, ...]) -> None:
    book = Book()
    first = book.lens_in("2026-10-01 21:30")
    book.correct(first, "2026-10-01 20:50", author=MOTHER)
    book.correct(first, "2026-10-01 21:00", author=FATHER)
    assert [one.at for one in standing([book.entries[i] for i in order])] == [wall("2026-10-01 21:00")]


def test_a_correction_of_a_correction_is_a_rival_about_the_original() -> None:
    book = Book()
    first = book.lens_in("2026-10-01 21:30")
    second = book.correct(first, "2026-10-01 20:50")
    third = book.correct(second, "2026-10-01 20:55")
    (one,) = standing(book.entries)
    assert (one.id, one.decided_by) == (first.id, third.id)
    book.correct(first, "2026-10-01 20:40")
    assert standing(book.entries)[0].at == wall("2026-10-01 20:40"), "later word on the original wins too"


def test_withdrawing_an_original_takes_it_away() -> None:
    book = Book()
    first = book.lens_in("2026-10-01 21:30")
    book.correct(first, "2026-10-01 20:50")
    book.withdraw(first)
    assert standing(book.entries) == ()


def test_a_correction_received_after_a_withdrawal_brings_it_back() -> None:
    book = Book()
    first = book.lens_in("2026-10-01 21:30")
    book.withdraw(first, author=MOTHER)
    book.correct(first, "2026-10-01 20:50", author=FATHER)
    assert [one.at for one in standing(book.entries)] == [wall("2026-10-01 20:50")]


def test_withdrawing_a_correction_takes_back_that_correction_alone() -> None:
    book = Book()
    first = book.lens_in("2026-10-01 21:30")
    second = book.correct(first, "2026-10-01 20:50")
    third = book.correct(first, "2026-10-01 20:40")
    book.withdraw(third)
    assert standing(book.entries)[0].decided_by == second.id
    book.withdraw(second)
    assert standing(book.entries)[0].decided_by == first.id


def test_H1_a_report_is_neither_corrected_nor_withdrawn() -> None:
    book = Book()
    report = book.add("symptom_report", "2026-10-02 07:00", REPORT)
    withdrawal = book.withdraw(report)
    (one,) = standing(book.entries)
    assert one.payload["answers"]["right"] == {"redness": "red"}
    assert not one.corrected
    problem = may_follow(draft_of(withdrawal), report)
    assert problem is not None
    assert problem.code == "report_stays"


def test_H15_a_report_sent_twice_stands_once_and_two_reports_stand_both() -> None:
    book = Book()
    report = book.add("symptom_report", "2026-10-02 07:00", {**REPORT, "asked_level": 4})
    assert len(standing([report, report, report])) == 1
    book.add("symptom_report", "2026-10-02 07:05", {"answers": {"right": {"redness": "none"}}})
    levels = [one.payload.get("asked_level") for one in standing(book.entries)]
    assert levels == [4, None], "better answers later do not replace the first report"


def test_H15_the_same_id_is_accepted_again_only_with_the_same_words() -> None:
    book = Book()
    entry = book.lens_in("2026-10-01 21:30")
    assert accepts(None, draft_of(entry)) is Acceptance.NEW
    assert accepts(entry, draft_of(entry)) is Acceptance.SAME
    again = check_shape(
        raw(
            "lenses_in", entry.at, {"eyes": "both"}, id=entry.id, at="2026-10-01T15:30-04:00", zone="Europe/Berlin"
        )
    )
    assert accepts(entry, again) is Acceptance.SAME, "the same instant written with another offset"
    for change in (
        {"payload": {"eyes": "left"}},
        {"at": entry.at + timedelta(seconds=1)},
        {"zone": "Asia/Singapore"},
        {"wearer_id": OTHER_CHILD},
    ):
        assert accepts(entry, draft_of(entry, **change)) is Acceptance.ID_CONFLICT


@pytest.mark.parametrize(
    ("later", "earlier", "same"),
    [
        (timedelta(seconds=2), timedelta(0), True),
        (timedelta(minutes=9), timedelta(minutes=40), True),
        (timedelta(minutes=11), timedelta(0), False),
        (timedelta(days=1), timedelta(0), False),
    ],
)
def test_H15_a_form_sent_twice_is_one_statement_and_a_stale_form_another(
    later: timedelta, earlier: timedelta, same: bool
) -> None:
    """Without script the time is the server's: the second of two taps has a later one."""
    entry = Book().lens_in("2026-10-01 21:30")
    first = replace(entry, at=entry.made_at - earlier)
    moved = draft_of(first, at=first.at + later, made_at=first.made_at + later)
    assert (accepts(first, moved) is Acceptance.SAME) is same
    assert accepts(first, draft_of(first, at=first.at + later)) is Acceptance.ID_CONFLICT


def test_an_unverified_word_changes_nothing_that_was_verified() -> None:
    book = Book()
    first = book.lens_in("2026-10-01 21:30")
    book.correct(first, "2026-10-01 20:50", verified=False)
    book.withdraw(first, verified=False)
    assert standing(book.entries)[0].decided_by == first.id
    own = book.lens_in("2026-10-02 21:30", verified=False)
    book.withdraw(own, verified=False)
    assert [one.id for one in standing(book.entries)] == [first.id]


def test_H8_what_names_another_childs_entry_changes_nothing() -> None:
    book = Book()
    first = book.lens_in("2026-10-01 21:30")
    stray = replace(book.withdraw(first), wearer_id=OTHER_CHILD)
    assert [one.id for one in standing([first, stray])] == [first.id]
    problem = may_follow(draft_of(stray), first)
    assert problem is not None
    assert problem.code == "no_such_entry"


def test_a_word_about_an_entry_that_has_not_arrived_waits_for_it() -> None:
    book = Book()
    first = book.lens_in("2026-10-01 21:30")
    withdrawal = book.withdraw(first)
    assert standing([withdrawal]) == ()
    assert standing([withdrawal, first]) == ()
    correction = book.correct(first, "2026-10-01 20:50")
    assert standing([correction]) == ()


def test_corrections_that_name_each_other_in_a_circle_change_nothing() -> None:
    book = Book()
    first = book.lens_in("2026-10-01 21:30")
    one = book.correct(first, "2026-10-01 20:50")
    two = book.correct(one, "2026-10-01 20:40")
    one = replace(one, payload={**one.payload, "replaces": two.id})
    assert [entry.decided_by for entry in standing([first, one, two])] == [first.id]


def test_follow_up_checks() -> None:
    book = Book()
    first = book.lens_in("2026-10-01 21:30")
    correction = book.correct(first, "2026-10-01 20:50")
    withdrawal = book.withdraw(first)
    assert target_id(first) is None
    assert target_id(correction) == target_id(withdrawal) == first.id
    assert may_follow(draft_of(correction), first) is None
    assert may_follow(draft_of(correction), correction) is None
    assert may_follow(draft_of(withdrawal), correction) is None
    codes = {
        "no_such_entry": may_follow(draft_of(correction), None),
        "withdrawal_stays": may_follow(draft_of(withdrawal), withdrawal),
        "correction_changes_kind": may_follow(draft_of(correction), book.lens_out("2026-10-02 06:30")),
    }
    assert {code: problem.code if problem else None for code, problem in codes.items()} == {c: c for c in codes}


@st.composite
def diaries(draw: st.DrawFn) -> list[Entry]:
    """A diary with corrections, withdrawals, unverified words and corrections of corrections."""
    book = Book()
    for _ in range(draw(st.integers(1, 12))):
        action = draw(st.sampled_from(["in", "out", "report", "none", "correct", "withdraw"]))
        moment = wall("2026-10-01 21:30") + timedelta(minutes=draw(st.integers(0, 5000)))
        verified = draw(st.booleans())
        target = draw(st.sampled_from(book.entries)) if book.entries else None
        if action == "in":
            book.lens_in(moment, verified=verified)
        elif action == "out":
            book.lens_out(moment, verified=verified)
        elif action == "report":
            book.add("symptom_report", moment, REPORT, verified=verified)
        elif action == "none":
            book.add("no_lenses", moment, {"eyes": "left", "night": "2026-10-02"})
        elif target is not None and action == "withdraw":
            book.withdraw(target, verified=verified)
        elif target is not None and target.kind not in ("symptom_report", "withdrawal"):
            book.correct(target, moment, verified=verified)
    return book.entries


@settings(max_examples=300, derandomize=True, deadline=None)
@given(diaries(), st.data())
def test_order_and_repetition_never_matter(entries: list[Entry], data: st.DataObject) -> None:
    sent = data.draw(st.permutations(entries))
    again = data.draw(st.lists(st.sampled_from(entries), max_size=6)) if entries else []
    assert standing([*sent, *again]) == standing(entries)


@settings(max_examples=200, derandomize=True, deadline=None)
@given(diaries())
def test_every_report_stands_and_every_statement_is_an_original(entries: list[Entry]) -> None:
    stand: tuple[StandingEntry, ...] = standing(entries)
    originals = {entry.id for entry in entries if entry.kind not in ("correction", "withdrawal")}
    reports = {entry.id for entry in entries if entry.kind == "symptom_report"}
    assert reports <= {one.id for one in stand} <= originals
    assert len({one.id for one in stand}) == len(stand)
