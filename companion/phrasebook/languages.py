"""The languages we can speak, and the sentences of each.

A language is a tag, the Babel locale that shapes its numbers and dates, and a writing direction. English is the
source. Two pseudo-languages are made from it on the fly (longer, accented, bracketed; one written from right to
left): a screen that shows a plain English word in them has an untranslatable string, and a layout that breaks in
them will break in German or Arabic.
"""

from __future__ import annotations

import gettext as gettext_module
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Protocol

from babel.support import Translations

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


ENGLISH = Language("en", "en_GB", "English")
PSEUDO = Language("en-x-pseudo", "en_GB", "Pseudo", pseudo=True)
PSEUDO_RTL = Language("en-x-mirror", "en_GB", "Mirror", right_to_left=True, pseudo=True)
LANGUAGES: Mapping[str, Language] = {one.tag: one for one in (ENGLISH, PSEUDO, PSEUDO_RTL)}


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
    return Translations.load(TRANSLATIONS, [language.tag.replace("-", "_")])
