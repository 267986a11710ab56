"""Each language's catalogue: current, never guessed, its values and plurals right, complete where it says so."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

import pytest
from babel import Locale
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po
from test_translations import TRANSLATIONS, refresh_module

from companion.phrasebook.languages import LANGUAGES, TRANSLATED, Language, catalogue, is_built

REVIEWS = json.loads((TRANSLATIONS / "reviews.json").read_text(encoding="utf-8"))
CATEGORIES = ("zero", "one", "two", "few", "many", "other")
"""CLDR's, in the order of the forms in a file."""
VALUE = re.compile(r"%\(([a-z_0-9]+)\)[sd]")
NOT_FOR_FAMILIES = re.compile(
    r"companion/(?:cli/.*|phrasebook/(?:check_words|problems_(?:record|serve|founding))\.py"
    r"|web/templates/style\.html"
    r"|web/templates/practice/(?!(?:alert|desk|page|pieces|take)\.html).*)"
)
"""Whoever runs the server, and the practice's pages but for those about alerts, may read English for now."""

each_language = pytest.mark.parametrize("language", TRANSLATED, ids=lambda one: one.tag)


def read(language: Language) -> Catalog:
    with (language.folder / "messages.po").open("rb") as file:
        return read_po(file, locale=language.locale)


def forms(message: Message) -> tuple[str, ...]:
    return message.string if isinstance(message.string, tuple) else (message.string,)


def sources(message: Message) -> tuple[str, ...]:
    return message.id if isinstance(message.id, tuple) else (message.id,)


def translated(language: Language) -> Iterator[Message]:
    """Every message that has a translation, even in part."""
    return (one for one in read(language) if one.id and any(forms(one)))


@each_language
def test_it_has_every_sentence_of_today(language: Language) -> None:
    module = refresh_module()
    now = (language.folder / "messages.po").read_bytes()
    assert now == module.updated(language, module.template()), "run .venv/bin/python translations/refresh.py"


@each_language
def test_nothing_is_guessed(language: Language) -> None:
    assert not [one.id for one in read(language) if one.id and one.fuzzy]
    assert not [one.id for one in translated(language) if not all(forms(one))], "a plural form is missing"


@each_language
def test_plural_forms_are_those_of_the_language(language: Language) -> None:
    rule = Locale.parse(language.locale).plural_form
    kinds = [one for one in CATEGORIES if one in rule.tags or one == "other"]
    spoken = catalogue(language)
    for n in (*range(130), 1000, 1001, 1_000_000):
        assert kinds[spoken.plural(n)] == rule(n), n  # type: ignore[attr-defined]
    wrong = [one.id for one in read(language) if isinstance(one.id, tuple) and len(forms(one)) != len(kinds)]
    assert not wrong, f"each needs {', '.join(kinds)}"


@each_language
def test_H4_each_value_of_a_sentence_is_in_its_translation(language: Language) -> None:
    """A form for one or two may say the number as a word; no other value is lost, made up or glued."""
    wrong = []
    for message in translated(language):
        needed = {name for text in sources(message) for name in VALUE.findall(text)}
        spare = {"num"} if isinstance(message.id, tuple) else set()
        for text in forms(message):
            named = set(VALUE.findall(text))
            bare = VALUE.sub("", text).replace("%%", "")
            if not needed - spare <= named <= needed or "%" in bare or text != text.strip():
                wrong.append((message.id, text))
    assert not wrong


@each_language
def test_H4_a_number_in_a_safety_sentence_is_the_same_number(language: Language) -> None:
    """20 minutes stay 20 minutes, in whichever digits; a word may stand for a number up to ten."""
    wrong = []
    for message in translated(language):
        source = VALUE.sub("", sources(message)[-1])
        numbers = {one for one in re.findall(r"\d+", source) if int(one) > 10}
        for text in forms(message)[-1:]:
            said = {str(int(one)) for one in re.findall(r"\d+", VALUE.sub("", text))}
            if not numbers <= said:
                wrong.append((message.id, text))
    assert not wrong


def test_every_language_says_how_far_it_is() -> None:
    assert set(REVIEWS) == {one.tag for one in LANGUAGES.values() if not one.pseudo}


@each_language
def test_what_families_and_alerts_say_is_complete(language: Language) -> None:
    if not REVIEWS[language.tag]["finished"]:
        pytest.skip("its translators are still at it, and say so in reviews.json")
    left = [
        one.id
        for one in read(language)
        if one.id
        and not all(forms(one))
        and not all(NOT_FOR_FAMILIES.fullmatch(path) for path, _ in one.locations)
    ]
    assert not left, f"{len(left)} to be translated"


@each_language
def test_set_up_has_built_it(language: Language) -> None:
    assert is_built(language)
    for message in translated(language):
        context = message.context
        if isinstance(message.id, str):
            spoken = catalogue(language)
            said = spoken.pgettext(context, message.id) if context else spoken.gettext(message.id)
            assert said == message.string


# -- bringing a file up to date ----------------------------------------------------------------------------------
def test_a_changed_sentence_stands_empty_and_an_old_one_comes_back(tmp_path, monkeypatch) -> None:
    """H4: a translation that is nearly right is never taken for a new sentence."""
    module = refresh_module()
    chinese = LANGUAGES["zh-Hans"]
    monkeypatch.setattr(type(chinese), "folder", tmp_path)

    def step(*sentences: str) -> dict[str, str]:
        template = Catalog()
        for one in sentences:
            template.add(one, locations=[("a.py", 0)])
        (tmp_path / "messages.po").write_bytes(module.updated(chinese, template))
        return {one.id: one.string for one in read(chinese) if one.id}

    step("Do not pull the lens.")
    file = tmp_path / "messages.po"
    file.write_text(
        file.read_text()
        .replace('msgstr ""\n', 'msgstr "不要拉镜片。"\n')
        .replace('msgstr "不要拉镜片。"\n"', 'msgstr ""\n"')
    )
    assert step("Do not pull the lens.") == {"Do not pull the lens.": "不要拉镜片。"}
    assert step("Do pull the lens.") == {"Do pull the lens.": ""}
    assert step("Do not pull the lens.") == {"Do not pull the lens.": "不要拉镜片。"}
