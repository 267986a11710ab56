"""Every sentence can be translated, and the list that translators get is current."""

import ast
import importlib.util
import re
from pathlib import Path

from babel.messages.pofile import read_po

from companion.phrasebook.problems import sentences

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


def codes_raised() -> set[str]:
    """Return every problem code that stands as a literal where a problem is made."""
    makers = {"Problem", "wrong", "_wrong"}
    found = set()
    for path in (ROOT / "companion").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
                name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
                if name in makers and isinstance(node.args[0].value, str):
                    found.add(node.args[0].value)
    return found


def test_every_problem_has_its_words() -> None:
    assert {code for code in codes_raised() if code not in sentences()} == set()
