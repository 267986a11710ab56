"""One reader's way of saying things: sentences, numbers, dates and hours in their language and zone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Any

from babel import Locale
from babel.dates import format_date, format_datetime, format_skeleton, format_time, format_timedelta
from babel.lists import format_list
from babel.numbers import format_decimal

from companion.phrasebook.languages import ENGLISH, Language, catalogue
from companion.phrasebook.marks import InContext

FIRST_STRONG, POP = "\N{FIRST STRONG ISOLATE}", "\N{POP DIRECTIONAL ISOLATE}"
_ZEROS = {"arab": "٠", "arabext": "۰", "deva": "०", "beng": "০", "taml": "௦", "telu": "౦", "mymr": "၀"}
"""The sign for nought in each system of digits that counts up from it."""


@dataclass(frozen=True)
class Customs:
    """What a reader wants otherwise than their language has it."""

    hour_cycle: str = "usual"
    """``usual``, ``h23`` (21:30) or ``h12`` (9:30 pm)."""
    digits: str = "usual"
    """``usual``, ``latin`` (0 to 9) or ``native``, where the language has digits of its own."""


class Phrases:
    """Sentences in one language. Values are filled in as ``%(name)s``.

    Every sentence is looked up with its values: ``phrases.gettext("Since %(time)s", time=...)``.
    """

    def __init__(self, language: Language = ENGLISH, customs: Customs | None = None) -> None:
        self.language, self.customs = language, customs or Customs()
        self.locale = Locale.parse(language.locale)
        self.numbering = _numbering_system(self.locale, self.customs.digits)
        """CLDR's name of the digits in use."""
        self._digits = _digits(self.locale, self.numbering)
        self._catalogue = catalogue(language)

    # -- sentences -------------------------------------------------------------------------------------------
    def gettext(self, message: str, **values: Any) -> str:
        return self.sentence(message) % self.apart(values)

    def ngettext(self, singular: str, plural: str, num: int, **values: Any) -> str:
        return self.sentence(singular, plural=plural, num=num) % self.apart({"num": self.number(num), **values})

    def pgettext(self, context: str, message: str, **values: Any) -> str:
        return self.sentence(message, context) % self.apart(values)

    def npgettext(self, context: str, singular: str, plural: str, num: int, **values: Any) -> str:
        said = self.sentence(singular, context, plural, num)
        return said % self.apart({"num": self.number(num), **values})

    def sentence(self, message: str, context: str | None = None, plural: str | None = None, num: int = 0) -> str:
        """Return a sentence before its values are filled in; its own numbers in the reader's digits."""
        spoken = self._catalogue
        if plural is None:
            said = str(spoken.pgettext(context, message)) if context else spoken.gettext(message)
        elif context:
            said = spoken.npgettext(context, message, plural, num)
        else:
            said = spoken.ngettext(message, plural, num)
        return said if said in (message, plural) else self._written(said)

    def apart(self, values: Mapping[str, Any]) -> Mapping[str, Any]:
        """Keep each value's direction to itself: a Latin name in an Arabic sentence moves nothing around it."""
        if not self.language.right_to_left:
            return values
        # An address stays bare, since readers of mail would take the marks for a part of it.
        return {
            name: FIRST_STRONG + one + POP if isinstance(one, str) and "://" not in one else one
            for name, one in values.items()
        }

    def say(self, marked: str | InContext, **values: Any) -> str:
        """Say a sentence from a table, marked there with ``N_`` or ``NP_``."""
        if isinstance(marked, InContext):
            return self.pgettext(marked.context, marked.text, **values)
        return self.gettext(marked, **values)

    # -- values ----------------------------------------------------------------------------------------------
    def number(self, value: float, pattern: str | None = None) -> str:
        symbols = self.numbering if self.numbering in self.locale.number_symbols else "latn"
        said = format_decimal(value, format=pattern, locale=self.locale, numbering_system=symbols)
        return self._written(said)

    def time(self, moment: datetime, where: tzinfo | None) -> str:
        """Say the clock time of an instant in a zone: ``21:30``."""
        skeleton = _HOURS.get(self.customs.hour_cycle)
        if skeleton is None:
            return self._written(format_time(moment, format="short", tzinfo=where, locale=self.locale))
        local = moment.astimezone(where) if where else moment
        return self._written(format_skeleton(skeleton, local, locale=self.locale))

    def day(self, day: date) -> str:
        """Say a date with its weekday, short: ``Thu 24 Sept``."""
        return self._written(format_skeleton("MMMEd", day, locale=self.locale))

    def long_day(self, day: date) -> str:
        return self._written(format_date(day, format="full", locale=self.locale))

    def month(self, day: date) -> str:
        """Say the month of a day, with its year."""
        return self._written(format_skeleton("yMMMM", day, locale=self.locale))

    def short_weekday(self, day: date) -> str:
        return format_date(day, format="EEE", locale=self.locale)

    def weekday(self, day: date) -> str:
        return format_date(day, format="EEEE", locale=self.locale)

    def moment(self, moment: datetime, where: tzinfo | None) -> str:
        """Say date and time of an instant in a zone."""
        return self._written(format_datetime(moment, format="medium", tzinfo=where, locale=self.locale))

    def span(self, length: timedelta) -> str:
        """Say a length of time, coarsely: ``6 hours``."""
        return self._written(format_timedelta(length, locale=self.locale, threshold=1.5))

    def listing(self, parts: list[str]) -> str:
        """Say several things as one list: ``a, b and c``."""
        return format_list(parts, locale=self.locale)

    def _written(self, text: str) -> str:
        return text.translate(self._digits) if self._digits else text


_HOURS = {"h23": "Hm", "h12": "hm"}


def own_digits(language: Language) -> str:
    """Return the language's own digits in a row, where it has others than 0 to 9; else nothing."""
    locale = Locale.parse(language.locale)
    return " ".join(_row(_numbering_system(locale, "native")))


def _numbering_system(locale: Locale, wanted: str) -> str:
    """Return CLDR's name for the digits that a reader wants."""
    if wanted == "latin":
        return "latn"
    native = locale.other_numbering_systems.get("native")
    return str((native if wanted == "native" else locale.default_numbering_system) or "latn")


def _digits(locale: Locale, system: str) -> dict[int, str]:
    """Return how to write a digit where not as it comes: from Babel as 0 to 9, from a translator as either."""
    row, native = _row(system), _row(_numbering_system(locale, "native"))
    if row:
        return {ord("0") + i: digit for i, digit in enumerate(row)}
    return {ord(digit): str(i) for i, digit in enumerate(native)}


def _row(system: str) -> list[str]:
    """Return the digits of a numbering system from nought to nine; nothing for 0 to 9 themselves."""
    zero = _ZEROS.get(system)
    return [chr(ord(zero) + i) for i in range(10)] if zero else []
