"""The ANSWERS file of `companion triage` and the document it prints. Owns the JSON; the triage room judges."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from companion.exchange.strict_json import read_json
from companion.triage.answers import Answers, answers_from_file
from companion.triage.evaluate import Verdict

FIELD = "ANSWERS"


def read_answers(path: Path) -> Answers:
    """Read an answers file, where a question left out was answered with its best option.

    Raises InvalidInput if the file is unreadable, is not strict JSON, or answers something that was not asked.
    """
    return answers_from_file(read_json(path, FIELD))


def verdict_document(verdict: Verdict) -> dict[str, Any]:
    """Return the verdict as plain values: what the command prints and what a stored report keeps."""
    return {
        "level": verdict.level,
        "eyes": {eye.value: level for eye, level in verdict.eyes.items()},
        "rules": list(verdict.rules),
        "lens": {eye.value: instruction for eye, instruction in verdict.lens.items()},
        "wear_hold": {eye.value: held for eye, held in verdict.wear_hold.items()},
        "advice": [one.key for one in verdict.advice],
        "rules_version": verdict.rules_version,
    }
