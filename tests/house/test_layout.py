"""The house rules that a tool can hold: floors, style, types, sizes, and what may stand where."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
BIN = Path(sys.executable).parent
TOP_FILES = {"README.md", "DEVELOPERS.md", "pyproject.toml"}
TOP_FOLDERS = {"companion", "translations", "tests", "demo_family", "instance"}


def tracked() -> list[Path]:
    """Return the project's own files: those in git or about to be; without git, all but what tools made."""
    try:
        asked = subprocess.run(
            ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
            cwd=ROOT, capture_output=True, text=True, check=True,
        )  # fmt: skip
        names = [Path(line) for line in asked.stdout.splitlines()]
    except (OSError, subprocess.CalledProcessError):
        names = [path.relative_to(ROOT) for path in ROOT.rglob("*") if not made_by_tools(path.relative_to(ROOT))]
    return [name for name in names if (ROOT / name).is_file()]


def made_by_tools(name: Path) -> bool:
    inside = name.parts[0] == "instance" and name.name != ".gitkeep"
    return inside or name.parts[0].endswith((".egg-info", "_cache", ".venv")) or "__pycache__" in name.parts


def texts() -> list[tuple[Path, str]]:
    pairs = []
    for name in tracked():
        try:
            pairs.append((name, (ROOT / name).read_text(encoding="utf-8")))
        except UnicodeDecodeError:
            continue
    return pairs


def run(*command: str) -> None:
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}{done.stderr}"


def test_an_import_goes_down_a_floor_never_up() -> None:
    run(str(BIN / "lint-imports"), "--no-cache")


def test_code_is_plain_to_the_linter() -> None:
    run(str(BIN / "ruff"), "check", "companion", "tests", "translations", "demo_family")


def test_types_hold() -> None:
    run(str(BIN / "mypy"))


def test_the_top_level_is_what_the_design_names() -> None:
    seen = {name.parts[0] for name in tracked()}
    assert {one for one in seen if not one.startswith(".")} == TOP_FILES | TOP_FOLDERS


def test_no_source_file_is_longer_than_400_lines() -> None:
    """A migration may be: it is history, read once, and never edited."""
    kinds = {".py", ".html", ".css", ".js"}
    lengths = {
        str(name): text.count("\n")
        for name, text in texts()
        if name.suffix in kinds and "versions" not in name.parts
    }
    assert {name: lines for name, lines in lengths.items() if lines > 400} == {}


@pytest.mark.parametrize(
    ("what", "pattern"),
    [
        # Spelt so that this file does not hold what it looks for.
        ("a machine's own path", r"(?<![\w.<])/(?:work|farm|root|home)/[a-z]"),
        ("a registry's host", r"(?:py[p]i\.org|python[h]osted\.org|deb\.deb[i]an\.org|npm[j]s\.org)"),
        ("a direct download", r"(?:--extra-)?index-[u]rl|--find-[l]inks"),
    ],
)
def test_no_file_names(what: str, pattern: str) -> None:
    found = [
        f"{name}:{text.count(chr(10), 0, hit.start()) + 1}: {hit[0]}"
        for name, text in texts()
        for hit in re.finditer(pattern, text)
    ]
    assert not found, what


def test_the_pinned_set_holds_names_and_versions_only() -> None:
    lines = (ROOT / "tests/constraints.txt").read_text().splitlines()
    assert all(re.fullmatch(r"#.*|[A-Za-z0-9_.-]+==[A-Za-z0-9.+]+", line) for line in lines)
    assert len(lines) == len(set(lines))


def test_every_module_says_what_it_is() -> None:
    silent = [
        str(name)
        for name, text in texts()
        if name.suffix == ".py" and name.parts[0] == "companion" and text.strip()
        if not text.startswith(('"""', 'r"""'))
    ]
    assert not silent


def test_every_test_module_has_a_name_of_its_own() -> None:
    """The folders of the tests are no packages, so two modules of one name would be taken for each other."""
    names = [path.name for path in (ROOT / "tests").rglob("*.py") if path.name != "conftest.py"]
    assert sorted({name for name in names if names.count(name) > 1}) == []
