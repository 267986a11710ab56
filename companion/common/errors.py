"""What can be wrong, as codes and values. Rooms speak these; the phrasebook owns the sentences."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from dataclasses import field as default
from typing import Any


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong.

    code: a stable word such as ``out_of_range``; the phrasebook has a sentence for each.
    field: where, as the person sees it: ``wear[3].out``, ``password``, ``--as-of``.
    values: what the sentence needs: ``{"low": -15, "high": 10}``.
    """

    code: str
    field: str
    values: Mapping[str, Any] = default(default_factory=dict)


class InvalidInput(ValueError):
    """The input is wrong and its owner can mend it."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__("; ".join(f"{p.field}: {p.code}" for p in problems))
        self.problems = problems


class NotFound(LookupError):
    """There is no such thing for this person: a stranger learns nothing about what exists."""


class NotAllowed(PermissionError):
    """The thing is theirs to see, the deed is not theirs to do."""


class Conflict(RuntimeError):
    """Somebody else was faster; nothing was written. ``code`` says what happened."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code
