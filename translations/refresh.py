"""Collects every sentence of the app into ``messages.pot``, for translators.

    .venv/bin/python translations/refresh.py

Sentences are marked as ``companion/phrasebook/marks.py`` and ``Phrases`` have it; a comment that starts with
``note:`` right above a sentence reaches its translator. Places are named by file, without line numbers, so that
moving a line changes nothing here. ``tests/house/test_translations.py`` fails when the file is behind the code.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.frontend import parse_mapping_cfg
from babel.messages.pofile import write_po

HERE = Path(__file__).resolve().parent
TEMPLATE = HERE / "messages.pot"
KEYWORDS = {
    "N_": (1,),
    "NP_": ((1, "c"), 2),
    "_": (1,),
    "gettext": (1,),
    "ngettext": (1, 2),
    "pgettext": ((1, "c"), 2),
    "npgettext": ((1, "c"), 2, 3),
}
# No dates, people or tools: the file changes only when a sentence does.
HEADER = """\
# The sentences of the companion, in English. Made by translations/refresh.py.
msgid ""
msgstr ""
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"

"""


def collected() -> bytes:
    """Return what ``messages.pot`` should hold now."""
    with (HERE / "babel.cfg").open() as mapping:
        methods, options = parse_mapping_cfg(mapping)  # type: ignore[no-untyped-call]
    found = extract_from_dir(
        HERE.parent, methods, options, keywords=KEYWORDS, comment_tags=("note:",), strip_comment_tags=True
    )
    catalogue = Catalog(fuzzy=False)
    for path, _, message, notes, context in sorted(found, key=lambda one: (one[0], one[1])):
        catalogue.add(message, locations=[(path, 0)], auto_comments=notes, context=context)
    body = BytesIO()
    write_po(body, catalogue, width=110, sort_by_file=True, include_lineno=False, omit_header=True)
    return HEADER.encode() + body.getvalue()


if __name__ == "__main__":
    TEMPLATE.write_bytes(collected())
