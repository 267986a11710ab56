"""The two files that hold the phone's modules: each is in one of them, and finds there what it asks for."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from companion.web import bundling
from companion.web.static_files import TREE, build_of

JS = TREE / "js"
SOURCES = {f"js/{one.name}": one.read_bytes() for one in JS.glob("*.js")}
CLASSIC = {"js/early.js", "js/worker.js", "js/pushed.js"}
"""Scripts that are no modules, and what the worker's is made of beside modules."""
ALONE = {"js/alerting.js", "js/photo.js"}
"""What a page starts that shares nothing with the entry."""


def source(path: str) -> str:
    return SOURCES[path].decode()


def test_every_module_is_in_one_of_the_two_files() -> None:
    first, later = bundling.first_modules(SOURCES), bundling.later_modules(SOURCES)
    assert len(first) == len(set(first)) and len(later) == len(set(later)) and not set(first) & set(later)
    desk = {path for path in SOURCES if path.startswith("js/desk")}
    assert {*first, *later} == SOURCES.keys() - CLASSIC - ALONE - desk
    assert not any(re.search(r"^import\b|\bimport\(", source(path), re.MULTILINE) for path in ALONE)


@pytest.mark.parametrize("path", sorted(SOURCES))
def test_sources_keep_to_what_the_folding_understands(path: str) -> None:
    text = source(path)
    assert len(re.findall(r"^import\b", text, re.MULTILINE)) == len(bundling.IMPORT.findall(text))
    assert len(re.findall(r"^export\b", text, re.MULTILINE)) == len(bundling.EXPORTED.findall(text))
    assert len(re.findall(r"\bimport\(", text)) == len(bundling.ASKED_LATER.findall(text))


def test_what_is_imported_stands_before_it_and_by_the_right_name() -> None:
    files = build_of({}).files
    for path in (bundling.ENTRY, bundling.LATER):
        text = files[path].decode()
        assert not re.search(r"^import .*\./(?!app\.js)", text, re.MULTILINE), "nothing else is fetched"
    for path, names in ((path, bundling.EXPORTED.findall(source(path))) for path in SOURCES):
        for other in SOURCES:
            for asked, name in bundling.IMPORT.findall(source(other)):
                if f"js/{name}.js" == path:
                    assert {one.split(" as ")[0].strip() for one in asked.split(",")} <= {*names}, (other, path)


def test_a_painter_that_the_router_knows_comes_with_one_of_the_files() -> None:
    painters = set(re.findall(r'^  \[/.+/, "(\w+)"\],$', source("js/shell.js"), re.MULTILINE))
    folded = {*bundling.first_modules(SOURCES), *bundling.later_modules(SOURCES)}
    assert painters and {f"js/{one}.js" for one in painters} <= folded


def test_a_change_in_any_module_is_another_build(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = build_of({})
    for one in TREE.rglob("*"):
        if one.is_file():
            there = tmp_path / one.relative_to(TREE)
            there.parent.mkdir(parents=True, exist_ok=True)
            there.write_bytes(one.read_bytes())
    (tmp_path / "js" / "dates.js").write_bytes(SOURCES["js/dates.js"] + b"\nexport const more = 1;\n")
    monkeypatch.setattr("companion.web.static_files.TREE", tmp_path)
    after = build_of({})
    assert before.version != after.version and "more }" in after.files[bundling.ENTRY].decode()


def test_the_workers_one_scope_has_each_name_once() -> None:
    """A name used twice would leave phones without a worker, and break nothing else that is tested."""
    script = bundling.one_script(SOURCES, "js/worker.js")
    names = re.findall(r"^(?:async function|function|const|let|class) (\w+)", script, re.MULTILINE)
    assert len(names) > 40 and [name for name, count in Counter(names).items() if count > 1] == []
