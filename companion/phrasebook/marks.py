"""Marks for sentences that stand in tables: they are collected for translation here and looked up later."""

from __future__ import annotations

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
