"""The table of doors: for each route and method, the answer that each kind of visitor gets.

Columns: ``nobody`` signed in; ``family``, the guardian of this child or the adult wearer in their own pages;
``stranger``, somebody else's guardian or another wearer; the three roles of this practice; ``elsewhere``, staff of
another practice, whatever their role. A stranger sees 404 where a limited member sees 403; who is not signed in is
led to the sign-in (302), or, with a form, asked to sign in while it is kept (401).

``form`` is what is posted; ``{wearer_id}`` and the like stand for the ids of the record asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Door:
    method: str
    endpoint: str
    nobody: int
    family: int
    stranger: int
    assistant: int
    practitioner: int
    manager: int
    elsewhere: int
    form: Mapping[str, str] = field(default_factory=dict)
    arguments: Mapping[str, str] = field(default_factory=dict)


DOORS: tuple[Door, ...] = ()
