"""Collects every sentence of the app for translators, and brings each language's file up to date with that.

    .venv/bin/python translations/refresh.py

Sentences are marked as ``companion/phrasebook/marks.py`` and ``Phrases`` have it; a comment that starts with
``note:`` right above a sentence reaches its translator. Places are named by file, without line numbers, so that
moving a line changes nothing here. ``tests/house/test_translations.py`` fails when a file is behind the code.

``messages.pot`` holds the sentences; each language has a ``messages.po`` of its own. A sentence that changed
stands there empty until somebody translates it: nothing is ever guessed from a similar one, since a safety
sentence that is nearly right is dangerous. One that is gone waits at the end of the file, and comes back.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

from babel import Locale
from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.frontend import parse_mapping_cfg
from babel.messages.pofile import read_po, write_po
from babel.plural import to_gettext

from companion.phrasebook.languages import TRANSLATED, Language
from companion.phrasebook.marks import KEYWORDS

HERE = Path(__file__).resolve().parent
TEMPLATE = HERE / "messages.pot"
# No dates, people or tools: a file changes only when a sentence does.
HEADER = """\
# The sentences of the companion, in English. Made by translations/refresh.py.
msgid ""
msgstr ""
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"

"""
LANGUAGE_HEADER = """\
# The sentences of the companion in {language}. Brought up to date by translations/refresh.py.
msgid ""
msgstr ""
"Language: {language}\\n"
"Plural-Forms: {plural_forms}\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"

"""


def template() -> Catalog:
    """Return every sentence of the app, with its places and notes."""
    with (HERE / "babel.cfg").open() as mapping:
        methods, options = parse_mapping_cfg(mapping)  # type: ignore[no-untyped-call]
    found = extract_from_dir(
        HERE.parent, methods, options, keywords=KEYWORDS, comment_tags=("note:",), strip_comment_tags=True
    )
    catalogue = Catalog(fuzzy=False)
    for path, _, message, notes, context in sorted(found, key=lambda one: (one[0], one[1])):
        catalogue.add(message, locations=[(path, 0)], auto_comments=notes, context=context)
    return catalogue


def written(catalogue: Catalog, header: str) -> bytes:
    body = BytesIO()
    write_po(body, catalogue, width=110, sort_by_file=True, include_lineno=False, omit_header=True)
    return header.encode() + body.getvalue()


def collected() -> bytes:
    """Return what ``messages.pot`` should hold now."""
    return written(template(), HEADER)


def updated(language: Language, sentences: Catalog) -> bytes:
    """Return what the file of ``language`` should hold now: every sentence of today, translated where it was."""
    path = language.folder / "messages.po"
    catalogue = Catalog(locale=language.locale)
    if path.exists():
        with path.open("rb") as file:
            catalogue = read_po(file, locale=language.locale)
    for key, message in list(catalogue.obsolete.items()):
        if any(message.string if isinstance(message.string, tuple) else (message.string,)):
            catalogue[message.id] = message
        del catalogue.obsolete[key]
    catalogue.update(sentences, no_fuzzy_matching=True)
    # In the order of CLDR: zero, one, two, few, many, other, as far as the language has them.
    plural_forms = to_gettext(Locale.parse(language.locale).plural_form)
    return written(catalogue, LANGUAGE_HEADER.format(language=language.tag, plural_forms=plural_forms))


if __name__ == "__main__":
    TEMPLATE.write_bytes(collected())
    for each in TRANSLATED:
        each.folder.mkdir(parents=True, exist_ok=True)
        now = updated(each, template())
        if not (each.folder / "messages.po").exists() or (each.folder / "messages.po").read_bytes() != now:
            (each.folder / "messages.po").write_bytes(now)
