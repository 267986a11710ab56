"""The words for scripts: each key in each language with all its plurals, and the very sentences of the pages."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from babel import Locale
from babel.messages.pofile import read_po

from companion.phrasebook import script_pages
from companion.phrasebook.languages import ENGLISH, LANGUAGES, Language
from companion.phrasebook.marks import InContext, Plural
from companion.phrasebook.script_triage import WRONG
from companion.phrasebook.script_words import CATEGORIES, SCREEN, TABLES, marked_words, more_words_of, words_of
from companion.triage.rules import load_rules

TEMPLATE = Path(__file__).resolve().parents[2] / "translations" / "messages.pot"
VALUE = re.compile(r"%\((\w+)\)s")
HERE = re.compile(r"companion/phrasebook/(?:script_words|phone_words|script_triage|script_pages)\.py")

each_language = pytest.mark.parametrize("language", LANGUAGES.values(), ids=lambda one: one.tag)


def all_words(language: Language) -> dict[str, Any]:
    return words_of(language)["words"] | more_words_of(language)["words"]


@each_language
def test_each_key_is_in_each_language(language: Language) -> None:
    document = words_of(language)
    assert document["words"].keys() == marked_words().keys()
    assert all(document["words"].values())
    assert document["dir"] == ("rtl" if language.right_to_left else "ltr")


@each_language
def test_the_pages_beside_tonight_have_words_of_their_own(language: Language) -> None:
    first, more = words_of(language)["words"], more_words_of(language)["words"]
    assert more.keys() == marked_words(script_pages.TABLES).keys() and all(more.values())
    assert not first.keys() & more.keys()


@each_language
def test_plurals_come_by_every_category_of_the_language(language: Language) -> None:
    document = words_of(language)
    rule = Locale.parse(language.locale).plural_form
    assert document["plural"] == [one for one in CATEGORIES if one in rule.tags or one == "other"]
    for key, said in marked_words().items():
        form = document["words"][key]
        assert isinstance(form, dict) == isinstance(said, Plural), key
        if isinstance(form, dict):
            assert list(form) == document["plural"] and all(form.values()), key


@pytest.mark.parametrize("tag", ["zh-Hans", "ar"])
def test_nothing_is_left_in_english(tag: str) -> None:
    here, english = all_words(LANGUAGES[tag]), all_words(ENGLISH)
    same = [
        key
        for key, said in english.items()
        if here[key] == said and re.search("[a-z]{2}", VALUE.sub("", str(said)))
    ]
    assert same == []


@each_language
def test_values_keep_their_names(language: Language) -> None:
    english, here = all_words(ENGLISH), all_words(language)
    for key, said in english.items():
        needed = set(VALUE.findall(str(said)))
        forms = here[key].values() if isinstance(here[key], dict) else [here[key]]
        for form in forms:
            assert needed - {"num"} <= set(VALUE.findall(form)) <= needed, key


def test_sentences_of_the_pages_are_still_the_pages_own() -> None:
    """A page that says something else now, while the script says the old words, is found here."""
    with TEMPLATE.open("rb") as file:
        places = {
            (one.context, one.id[0] if isinstance(one.id, tuple) else one.id): {path for path, _ in one.locations}
            for one in read_po(file)
        }
    only_script = {"saved", "unsaved", "refused", "has_it", "follow", "photo_later"}
    wrong = {key: said for key, said in WRONG.items() if key not in only_script}
    shared = {**SCREEN, **script_pages.PAGES, **wrong}
    gone = []
    for key, said in shared.items():
        if isinstance(said, InContext):
            found = places[said.context, said.text]
        else:
            found = places[None, said.singular if isinstance(said, Plural) else said]
        if all(HERE.fullmatch(path) for path in found):
            gone.append(key)
    assert gone == []


def test_H4_all_of_triage_can_be_said() -> None:
    rules, words = load_rules(), words_of(ENGLISH)["words"]
    for question in rules.questions.values():
        assert f"question.{question.id}" in words
        assert all(f"option.{question.id}.{option}" in words for option in question.options)
    for level in range(1, 6):
        assert {f"urgency.{level}", f"not_told.{level}", f"on_duty.{level}", f"off_duty.{level}"} <= words.keys()
    assert all(f"advice.{step.key}" in words for step in rules.advice)
    assert words["option_unsure"] == "Not sure"


def test_H4_what_is_safety_text_is_named_as_such() -> None:
    document = words_of(LANGUAGES["ar"])
    assert document["speech"] == "beside"
    vital = set(document["safety"])
    for table in ("answer", "reason", "question", "advice", "why", "lens", "emergency", "not_told"):
        keys = {key for key in document["words"] if key.partition(".")[0] == table}
        assert keys and keys <= vital, table
    assert not {key for key in vital if key.partition(".")[0] in ("phone", "lock", "sight", "tap")}
    more = more_words_of(LANGUAGES["ar"])
    tables = ("help_step", "help_lead", "stuck_heading")
    assert {key for key in more["words"] if key.partition(".")[0] in tables} <= set(more["safety"])


def test_no_two_tables_share_a_key() -> None:
    assert len(marked_words()) == sum(1 for name, table in TABLES.items() for _ in _leaves(table))


def _leaves(table):  # type: ignore[no-untyped-def]
    for one in table.values():
        yield from _leaves(one) if hasattr(one, "values") else (one,)
