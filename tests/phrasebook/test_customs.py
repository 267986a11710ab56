"""Clock and digits as the reader wants them, in any language. Expected forms: Unicode CLDR 45, by Babel."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from companion.phrasebook.languages import ARABIC, ENGLISH, PSEUDO_RTL, Language
from companion.phrasebook.phrases import Customs, Phrases, own_digits

EVENING = datetime(2026, 11, 2, 21, 5, tzinfo=UTC)
HINDI = Language("hi", "hi", "हिन्दी")
CAIRO = ARABIC


@pytest.mark.parametrize(
    ("language", "customs", "time", "number"),
    [
        (ENGLISH, Customs(), "21:05", "12.5"),
        (ENGLISH, Customs("h12"), "9:05\N{NARROW NO-BREAK SPACE}pm", "12.5"),
        (ENGLISH, Customs("h23", "native"), "21:05", "12.5"),
        (HINDI, Customs("h23"), "21:05", "12.5"),
        (HINDI, Customs("h23", "native"), "२१:०५", "१२.५"),
        (CAIRO, Customs("h23", "latin"), "21:05", "12.5"),
        (CAIRO, Customs("h23"), "٢١:٠٥", "١٢٫٥"),
    ],
)
def test_clock_and_digits(language: Language, customs: Customs, time: str, number: str) -> None:
    phrases = Phrases(language, customs)
    assert phrases.time(EVENING, UTC).replace(" ", "\N{NARROW NO-BREAK SPACE}") == time
    assert phrases.number(12.5) == number


def test_dates_are_written_in_the_same_digits() -> None:
    assert Phrases(HINDI, Customs(digits="native")).day(date(2026, 11, 12)) == "गुरु, १२ नव॰"


def test_only_languages_with_digits_of_their_own_offer_them() -> None:
    assert [own_digits(one) for one in (ENGLISH, HINDI)] == ["", "० १ २ ३ ४ ५ ६ ७ ८ ९"]
    assert own_digits(CAIRO).startswith("٠ ١")


@pytest.mark.parametrize("written", ["انتظر 20 دقيقة.", "انتظر ٢٠ دقيقة."])
@pytest.mark.parametrize(("digits", "number"), [("usual", "٢٠"), ("native", "٢٠"), ("latin", "20")])
def test_a_sentences_own_numbers_follow_the_reader_too(
    written: str, digits: str, number: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever digits its translator wrote. What is still English stays as it is."""

    class Catalogue:
        def gettext(self, message: str) -> str:
            return written if message == "Wait 20 minutes." else message

    monkeypatch.setattr("companion.phrasebook.phrases.catalogue", lambda language: Catalogue())
    phrases = Phrases(ARABIC, Customs(digits=digits))
    assert phrases.gettext("Wait 20 minutes.") == f"انتظر {number} دقيقة."
    assert phrases.gettext("Not translated, 20.") == "Not translated, 20."


def test_a_value_keeps_its_direction_to_itself() -> None:
    """A Latin name beside a full stop in a sentence from right to left (Unicode UAX #9, isolates)."""
    said = Phrases(PSEUDO_RTL).gettext("%(who)s has taken it: %(link)s", who="Asta", link="https://a.example/x")
    assert "\u2068Asta\u2069" in said
    assert "\u2068https" not in said, "an address stays bare"
    assert "\u2068" not in Phrases(ENGLISH).gettext("%(who)s has taken it.", who="Asta")
