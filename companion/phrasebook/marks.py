"""Marks for sentences that stand in tables: they are collected for translation here and looked up later."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple


class InContext(NamedTuple):
    """A sentence that needs its context to be translated (and looked up) rightly."""

    context: str
    text: str


def N_(text: str) -> str:
    """Mark ``text`` for translation without translating it."""
    return text


def NP_(context: str, text: str) -> InContext:
    """Mark ``text`` for translation in ``context`` without translating it."""
    return InContext(context, text)


class Plural(NamedTuple):
    """A sentence that changes with a number; its value is ``%(num)s``."""

    singular: str
    plural: str


def NN_(singular: str, plural: str) -> Plural:
    """Mark a sentence that changes with a number for translation."""
    return Plural(singular, plural)


KEYWORDS: Mapping[str, tuple[int | tuple[int, str], ...]] = {
    "N_": (1,),
    "NP_": ((1, "c"), 2),
    "NN_": (1, 2),
    "_": (1,),
    "gettext": (1,),
    "ngettext": (1, 2),
    "pgettext": ((1, "c"), 2),
    "npgettext": ((1, "c"), 2, 3),
}
"""By which names Babel knows a sentence in the source: which argument it is, and which its context."""
