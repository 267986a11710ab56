"""The languages we can speak, and the sentences of each.

A language is a tag, the Babel locale that shapes its numbers and dates, and a writing direction. English is the
source; the others have a gettext catalogue each. Two pseudo-languages are made from English on the fly (longer,
accented, bracketed; one written from right to left): a screen that shows a plain English word in them has an
untranslatable string, and a layout that breaks in them will break in German or Arabic.
"""

from __future__ import annotations

import gettext as gettext_module
import logging
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Protocol

from babel.support import Translations

log = logging.getLogger(__name__)

TRANSLATIONS = Path(__file__).resolve().parents[2] / "translations"


@dataclass(frozen=True)
class Language:
    tag: str
    """BCP 47, as in ``<html lang>``."""
    locale: str
    """Babel's name for its customs."""
    own_name: str
    """Its name in itself."""
    right_to_left: bool = False
    pseudo: bool = False
    """Made for tests; never offered to a family."""

    @property
    def folder(self) -> Path:
        """Where its sentences lie: ``messages.po``, the translators'; ``messages.mo``, which set-up makes."""
        return TRANSLATIONS / self.tag.replace("-", "_") / "LC_MESSAGES"


ENGLISH = Language("en", "en_GB", "English")
CHINESE = Language("zh-Hans", "zh_Hans_CN", "简体中文")
# Egypt's customs: the digits that most readers of Arabic grew up with. Who reads 0 to 9 more easily picks them.
ARABIC = Language("ar", "ar_EG", "العربية", right_to_left=True)
PSEUDO = Language("en-x-pseudo", "en_GB", "Pseudo", pseudo=True)
PSEUDO_RTL = Language("en-x-mirror", "en_GB", "Mirror", right_to_left=True, pseudo=True)
LANGUAGES: Mapping[str, Language] = {one.tag: one for one in (ENGLISH, CHINESE, ARABIC, PSEUDO, PSEUDO_RTL)}
TRANSLATED = tuple(one for one in LANGUAGES.values() if one != ENGLISH and not one.pseudo)
"""The languages that need a catalogue."""


class Catalogue(Protocol):
    """What a gettext catalogue answers."""

    def gettext(self, message: str) -> str: ...
    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str: ...
    def pgettext(self, context: str, message: str) -> object: ...
    def npgettext(self, context: str, msgid1: str, msgid2: str, n: int) -> str: ...


_ACCENTS = str.maketrans("aceinosuyACEINOSUY", "àçéîñöšûýÀÇÉÎÑÖŠÛÝ")
_KEPT = re.compile(r"(%\([a-z_0-9]+\)[sd]|%%|<[^>]+>|&[a-z]+;|\{[a-z_0-9]*\})")


def pseudo_sentence(text: str) -> str:
    """Return ``text`` accented, a third longer and bracketed, its placeholders and tags untouched."""
    if not text.strip():
        return text
    parts = _KEPT.split(text)
    said = "".join(part if i % 2 else part.translate(_ACCENTS) for i, part in enumerate(parts))
    return f"[{said}{'~' * (len(text) // 3 + 1)}]"


class _PseudoCatalogue(gettext_module.NullTranslations):
    def gettext(self, message: str) -> str:
        return pseudo_sentence(message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return pseudo_sentence(msgid1 if n == 1 else msgid2)

    def pgettext(self, context: str, message: str) -> str:
        return pseudo_sentence(message)

    def npgettext(self, context: str, msgid1: str, msgid2: str, n: int) -> str:
        return pseudo_sentence(msgid1 if n == 1 else msgid2)


@cache
def catalogue(language: Language) -> Catalogue:
    """Return the sentences of ``language``; English where it has none yet."""
    if language.pseudo:
        return _PseudoCatalogue()
    if language == ENGLISH:
        return gettext_module.NullTranslations()
    if not is_built(language):
        log.warning("no catalogue for %s: English is shown. Run tests/setup app", language.tag)
    return Translations.load(TRANSLATIONS, [language.folder.parent.name])


def is_built(language: Language) -> bool:
    """Say whether the catalogue of ``language`` has been made from what its translators wrote."""
    return language not in TRANSLATED or (language.folder / "messages.mo").is_file()
