"""Every sentence can be translated, and the list that translators get is current."""

import importlib.util
import re
from pathlib import Path

from babel.messages.pofile import read_po

ROOT = Path(__file__).resolve().parents[2]
TRANSLATIONS = ROOT / "translations"


def refresh_module():
    spec = importlib.util.spec_from_file_location("refresh", TRANSLATIONS / "refresh.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_list_of_sentences_is_current() -> None:
    module = refresh_module()
    assert module.TEMPLATE.read_bytes() == module.collected(), "run .venv/bin/python translations/refresh.py"


def test_templates_call_the_phrasebook_by_its_bare_names() -> None:
    """``phrases.gettext("...")`` works in a template, and is silently missed by the collector."""
    missed = [
        f"{path.relative_to(ROOT)}: {hit[0]}"
        for path in sorted((ROOT / "companion").rglob("templates/**/*"))
        if path.is_file()
        for hit in re.finditer(r"\w+\.(?:n?p?gettext|_)\(", path.read_text())
    ]
    assert not missed


def test_sentences_name_their_values() -> None:
    """Translators reorder: a value has a name (``%(hours)s``), never a place (``%s``), and never glues words."""
    with (TRANSLATIONS / "messages.pot").open("rb") as file:
        catalogue = read_po(file)
    wrong = []
    for message in catalogue:
        for text in message.id if isinstance(message.id, tuple) else (message.id,):
            bare = re.sub(r"%\([a-z_0-9]+\)[sd]|%%", "", text)
            if "%" in bare or text != text.strip() or "\n" in text:
                wrong.append(text)
    assert not wrong
