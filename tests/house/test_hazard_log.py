"""The hazard log and the tests name each other: no measure without its test, no test without its hazard."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LOG = (ROOT / "companion" / "docs" / "hazards.md").read_text("utf-8")
HAZARDS = 18
"""As many as the starter log of the guidance behind the rules has; more may come."""


def sections() -> dict[str, list[str]]:
    """Return the tests that the log names, by hazard."""
    parts = re.split(r"^## (H\d+)\. ", LOG, flags=re.MULTILINE)[1:]
    named = {number: re.findall(r"^- `test_(\w+)`$", text, re.MULTILINE) for number, text in pairs(parts)}
    assert len(named) * 2 == len(parts), "a hazard stands twice"
    return named


def pairs(parts: list[str]) -> list[tuple[str, str]]:
    return list(zip(parts[::2], parts[1::2], strict=True))


def written() -> set[str]:
    """Return every test that begins with the number of a hazard."""
    found: set[str] = set()
    for path in (ROOT / "tests").rglob("test_*.py"):
        found.update(re.findall(r"^def test_(H\d+_\w+)", path.read_text("utf-8"), re.MULTILINE))
    return found


def test_every_hazard_has_its_cause_harm_measure_and_tests() -> None:
    log = sections()
    assert list(log) == [f"H{number}" for number in range(1, len(log) + 1)]
    assert len(log) >= HAZARDS
    for part in ("Cause", "Harm", "Measure"):
        assert LOG.count(f"**{part}**") == len(log)
    assert all(log.values())


def test_each_named_test_exists_under_its_own_hazard() -> None:
    known = written()
    for hazard, names in sections().items():
        assert not [name for name in names if not name.startswith(f"{hazard}_")]
        assert not [name for name in names if name not in known]


def test_no_test_names_a_hazard_that_the_log_does_not_have() -> None:
    assert {name.split("_")[0] for name in written()} <= set(sections())
