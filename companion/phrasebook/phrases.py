"""One reader's way of saying things: sentences, numbers, dates and hours in their language and zone."""

from __future__ import annotations

from datetime import date, datetime, timedelta, tzinfo
from typing import Any

from babel import Locale
from babel.dates import format_date, format_datetime, format_skeleton, format_time, format_timedelta
from babel.lists import format_list
from babel.numbers import format_decimal

from companion.phrasebook.languages import ENGLISH, Language, catalogue
from companion.phrasebook.marks import InContext


class Phrases:
    """Sentences in one language. Values are filled in as ``%(name)s``.

    Every sentence is looked up with its values: ``phrases.gettext("Since %(time)s", time=...)``.
    """

    def __init__(self, language: Language = ENGLISH) -> None:
        self.language = language
        self.locale = Locale.parse(language.locale)
        self._catalogue = catalogue(language)

    # -- sentences -------------------------------------------------------------------------------------------
    def gettext(self, message: str, **values: Any) -> str:
        return self._catalogue.gettext(message) % values

    def ngettext(self, singular: str, plural: str, num: int, **values: Any) -> str:
        return self._catalogue.ngettext(singular, plural, num) % {"num": self.number(num), **values}

    def pgettext(self, context: str, message: str, **values: Any) -> str:
        return str(self._catalogue.pgettext(context, message)) % values

    def npgettext(self, context: str, singular: str, plural: str, num: int, **values: Any) -> str:
        said = self._catalogue.npgettext(context, singular, plural, num)
        return said % {"num": self.number(num), **values}

    def say(self, marked: str | InContext, **values: Any) -> str:
        """Say a sentence from a table, marked there with ``N_`` or ``NP_``."""
        if isinstance(marked, InContext):
            return self.pgettext(marked.context, marked.text, **values)
        return self.gettext(marked, **values)

    # -- values ----------------------------------------------------------------------------------------------
    def number(self, value: float, pattern: str | None = None) -> str:
        return format_decimal(value, format=pattern, locale=self.locale)

    def time(self, moment: datetime, where: tzinfo | None) -> str:
        """Say the clock time of an instant in a zone: ``21:30``."""
        return format_time(moment, format="short", tzinfo=where, locale=self.locale)

    def day(self, day: date) -> str:
        """Say a date with its weekday, short: ``Thu 24 Sept``."""
        return format_skeleton("MMMEd", day, locale=self.locale)

    def long_day(self, day: date) -> str:
        return format_date(day, format="full", locale=self.locale)

    def weekday(self, day: date) -> str:
        return format_date(day, format="EEEE", locale=self.locale)

    def moment(self, moment: datetime, where: tzinfo | None) -> str:
        """Say date and time of an instant in a zone."""
        return format_datetime(moment, format="medium", tzinfo=where, locale=self.locale)

    def span(self, length: timedelta) -> str:
        """Say a length of time, coarsely: ``6 hours``."""
        return format_timedelta(length, locale=self.locale, threshold=1.5)

    def listing(self, parts: list[str]) -> str:
        """Say several things as one list: ``a, b and c``."""
        return format_list(parts, locale=self.locale)
