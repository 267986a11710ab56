"""What is wrong, in words: every room's sentences for its problem codes, found by code.

Each room keeps its own table in ``problems_<room>.py``; codes are unique across the house.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Mapping
from functools import cache
from importlib import import_module
from types import MappingProxyType

from companion import phrasebook
from companion.common.errors import Problem
from companion.phrasebook.marks import N_
from companion.phrasebook.phrases import Phrases

UNWORDED = N_("is not as it should be")
"""For a code that nobody has put into words: plain, and better than a page that breaks."""


@cache
def sentences() -> Mapping[str, str]:
    """Return the sentence of each code."""
    found: dict[str, str] = {}
    for module in pkgutil.iter_modules(phrasebook.__path__, "companion.phrasebook."):
        if module.name.rpartition(".")[2].startswith("problems_"):
            table: Mapping[str, str] = import_module(module.name).SENTENCES
            twice = found.keys() & table.keys()
            if twice:
                raise LookupError(f"{module.name}: codes that another room uses: {', '.join(sorted(twice))}")
            found.update(table)
    return MappingProxyType(found)


def sentence_for(code: str) -> str:
    """Return the sentence of ``code``, still to be said."""
    return sentences().get(code, UNWORDED)


def problem_text(phrases: Phrases, problem: Problem) -> str:
    """Say what is wrong."""
    return phrases.say(sentence_for(problem.code), **problem.values)
