"""Words and readings of sight as observations."""

from __future__ import annotations

import pytest
from diary_makers import Book, wall

from companion.common.eyes import Eye
from companion.diary.kinds import SightWord
from companion.diary.merge import standing
from companion.diary.sight import WORD_LOGMAR, observations, word_for


def test_words_keep_their_order_and_come_back() -> None:
    values = [WORD_LOGMAR[word] for word in SightWord]
    assert values == sorted(values)
    assert [word_for(value) for value in values] == list(SightWord)


@pytest.mark.parametrize(
    ("logmar", "word"), [(-0.3, "sharp"), (0.1, "good"), (0.2, "good"), (0.31, "soft"), (1.2, "blurred")]
)
def test_word_for_an_acuity(logmar: float, word: str) -> None:
    assert word_for(logmar) == word


def test_entries_become_observations() -> None:
    book = Book()
    book.add("sight", "2026-10-02 07:00", {"eye": "right", "word": "soft"})
    book.add("sight", "2026-10-02 07:01", {"eye": "both", "logmar": 0.1, "distance_m": 3})
    book.lens_in("2026-10-02 21:30")
    word, reading = observations(standing(book.entries), is_child=True)
    assert (word.eye, word.logmar, word.sd, word.distance_m, word.word) == (Eye.RIGHT, 0.3, 0.15, None, "soft")
    assert (reading.eye, reading.logmar, reading.sd, reading.distance_m) == (None, 0.1, 0.12, 3.0)
    assert observations(standing(book.entries), is_child=False)[1].sd == 0.07


def test_a_word_weighs_less_than_a_reading() -> None:
    book = Book()
    for word in SightWord:
        book.add("sight", "2026-10-02 07:00", {"eye": "right", "word": word.value})
    assert all(one.sd > 0.12 for one in observations(standing(book.entries), is_child=True))


def test_sight_from_next_year_tells_nothing_until_corrected() -> None:
    book = Book()
    entry = book.add(
        "sight", "2027-10-02 07:00", {"eye": "right", "word": "soft"}, received=wall("2026-10-02 07:00")
    )
    assert observations(standing(book.entries), is_child=True) == ()
    book.correct(entry, "2026-10-02 07:00")
    assert len(observations(standing(book.entries), is_child=True)) == 1
