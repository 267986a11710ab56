"""The phone's modules as two files: what every page starts with, and what some pages fetch later. And one sheet.

A browser that finds thirty modules one by one, on a slow phone and through a worker, is not done in the second
that a parent gives it. So each module becomes a function in a file of many, and runs once, when first asked for.
The sources stay plain modules, which a browser could load as they are. The sheets that every page has are one file
for the same reason.

Owns the sources' text. Rules for the sources: one import a line, ``import { a, b as c } from "./x.js";``; exports
stand before what they name; what is exported does not change later; only what a page starts may await at its top.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import PurePosixPath

ENTRY, LATER = "js/app.js", "js/later.js"
WITH_ENTRY = ("js/tonight.js",)
"""What comes along with the entry: the page that is opened most."""
STARTED_BY_PAGES = ("js/instead.js", "js/locking.js")
"""Modules that single pages name as scripts of their own: they share everything with the entry."""
PAINTERS = ("js/wrong.js", "js/pages.js")
"""What the shell's router asks for by a name that it reads from the address."""
BEFORE_ALL = "js/early.js"
SHEET = "css/page.css"
SHEETS = tuple(f"css/{one}.css" for one in ("paper", "form", "us", "family", "shell"))
"""What every page is dressed in, in order. The lamp is none of them: it is lit and put out."""

IMPORT = re.compile(r'^import \{ ([^}]+) \} from "\./(\w+)\.js";\n', re.MULTILINE)
EXPORTED = re.compile(r"^export (?:async function|function|const|class) (\w+)", re.MULTILINE)
EXPORT = re.compile(r"^export ", re.MULTILINE)
ASKED_LATER = re.compile(r'\bimport\((?:"\./(\w+)\.js"|`\./\$\{(\w+)\}\.js`)\)')
SHARED = """\
const $made = {};
export const $modules = {};
export const $take = (name) => ($made[name] ??= $modules[name]());
export async function load(name) {
  if (!(name in $modules)) Object.assign($modules, (await import("./later.js")).$later);
  return $take(name);
}
const $load = load;
"""


def bundled(files: Mapping[str, bytes]) -> dict[str, bytes]:
    """Return the files that take the place of, or stand beside, the modules among ``files``."""
    first, later = first_modules(files), later_modules(files)
    entry = "\n".join(
        [
            SHARED,
            *(f"$modules.{_name(one)} = {_as_function(files[one].decode())};" for one in first if one != ENTRY),
            f"(async () => {{\n{_inside(files[ENTRY].decode())}}})();",
        ]
    )
    rest = "\n".join(
        [
            'import { $take, load as $load } from "./app.js";',
            "export const $later = {};",
            *(f"$later.{_name(one)} = {_started(one)}{_as_function(files[one].decode())};" for one in later),
        ]
    )
    started = {
        one: f'import {{ load }} from "./app.js";\nload("{_name(one)}");\n'.encode() for one in STARTED_BY_PAGES
    }
    early = ASKED_LATER.sub(r'import("./app.js").then(({ load }) => load("\1"))', files[BEFORE_ALL].decode())
    sheet = b"".join(files[one] for one in SHEETS)
    return {ENTRY: entry.encode(), LATER: rest.encode(), **started, BEFORE_ALL: early.encode(), SHEET: sheet}


def first_modules(files: Mapping[str, bytes]) -> list[str]:
    """Return what the entry's file holds, each behind what it imports."""
    return with_imports(files, ENTRY, *WITH_ENTRY)


def later_modules(files: Mapping[str, bytes]) -> list[str]:
    """Return what the other file holds: all else that any of them may ask for."""
    first = first_modules(files)
    found, asked = list(first), [*PAINTERS, *STARTED_BY_PAGES, *_asked_later(files, BEFORE_ALL)]
    while True:
        asked += [name for one in found for name in _asked_later(files, one)]
        more = with_imports(files, *first, *asked)
        if more == found:
            return [one for one in found if one not in set(first)]
        found = more


def with_imports(files: Mapping[str, bytes], *paths: str) -> list[str]:
    """Return the modules and all that they import, each behind what it imports."""
    ordered: dict[str, None] = {}

    def take(one: str) -> None:
        if one not in ordered:
            for _, name in IMPORT.findall(files[one].decode()):
                take(f"js/{name}.js")
            ordered[one] = None

    for path in paths:
        take(path)
    return list(ordered)


def one_script(files: Mapping[str, bytes], path: str) -> str:
    """Return a module, after all that it imports, as one classic script. Top-level names are one scope then."""
    texts = (files[one].decode() for one in with_imports(files, path))
    return "\n".join(EXPORT.sub("", IMPORT.sub("", text)) for text in texts)


def _asked_later(files: Mapping[str, bytes], path: str) -> Iterable[str]:
    return [f"js/{name}.js" for name, _ in ASKED_LATER.findall(files[path].decode()) if name]


def _started(path: str) -> str:
    return "async " if path in STARTED_BY_PAGES else ""


def _as_function(text: str) -> str:
    given = ", ".join(EXPORTED.findall(text))
    return f"() => {{\n{_inside(text)}return {{ {given} }};\n}}"


def _inside(text: str) -> str:
    text = IMPORT.sub(lambda found: f"const {{ {_renamed(found[1])} }} = $take(\"{found[2]}\");\n", text)
    text = ASKED_LATER.sub(lambda found: f'$load("{found[1]}")' if found[1] else f"$load({found[2]})", text)
    return EXPORT.sub("", text)


def _renamed(names: str) -> str:
    return names.replace(" as ", ": ")


def _name(path: str) -> str:
    return PurePosixPath(path).stem
