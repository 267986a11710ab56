"""What a person typed and what is wrong with it, field by field. Shown again, it holds all but passwords."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from companion.common.errors import InvalidInput, Problem


class Form:
    """The state of one form on a page: ``form.value("login")``, ``form.problem("login")``."""

    def __init__(self, typed: Mapping[str, str] | None = None, problems: Sequence[Problem] = ()) -> None:
        self._typed = typed or {}
        self.problems = tuple(problems)

    @classmethod
    def refused(cls, typed: Mapping[str, str], error: InvalidInput) -> Form:
        return cls(typed, error.problems)

    def value(self, field: str, otherwise: str = "") -> str:
        return self._typed.get(field, otherwise)

    def problem(self, field: str) -> Problem | None:
        """Return what is wrong with ``field``; a problem deep in a payload counts for the field it ends with."""
        for one in self.problems:
            if one.field == field or one.field.endswith(f".{field}"):
                return one
        return None

    def unplaced(self, *fields: str) -> list[Problem]:
        """Return the problems that belong to none of ``fields``: they are said at the top."""
        placed = [self.problem(field) for field in fields]
        return [one for one in self.problems if one not in placed]
