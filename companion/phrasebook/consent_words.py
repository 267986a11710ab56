"""What a family agrees to, by version. Plain words; no lawyer or linguist has reviewed them yet.

A change of meaning is a new version, here and in ``usecases/consents.py``; one that was agreed to stays as it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from companion.phrasebook.marks import N_


class Part(NamedTuple):
    heading: str
    sentences: Sequence[str]


_WHAT_THIS_IS = Part(N_("What this is"), (
    N_("You keep a diary of lenses and sight here. Your practice reads it and looks after the eyes."),
    N_("It is not an emergency service. It cannot see an eye, and it can be wrong."),
    N_("It does not take the place of a check at the practice."),
))  # fmt: skip
_KEPT = (
    N_("Names, dates of birth, and how to reach you."),
    N_("Nights with and without lenses, how sight was, reports of trouble, and notes."),
)
_SIGNED = N_("What the practice signs: lenses, plans and checks.")
_WHO_SEES_IT = Part(N_("Who sees it"), (
    N_("The practice's staff. The adults who look after a child. An older child with an own log-in."),
    N_("A report of trouble with a child's eye always reaches the adults and the practice."),
    N_("Nobody else. It is not sold, and there is no advertising."),
))  # fmt: skip
_WHAT_YOU_MAY_DO = Part(N_("What you may do"), (
    N_("Ask the practice for a copy, for a correction, or to have it deleted."),
    N_("Change your mind at any time: tell the practice. Care goes on without this diary."),
))  # fmt: skip

TEXTS: Mapping[str, Sequence[Part]] = {
    "2026-11": (_WHAT_THIS_IS, Part(N_("What is kept"), (*_KEPT, _SIGNED)), _WHO_SEES_IT, _WHAT_YOU_MAY_DO),
    "2026-12": (
        _WHAT_THIS_IS,
        Part(N_("What is kept"), (*_KEPT, N_("Photos of an eye, if you add them to a report."), _SIGNED)),
        _WHO_SEES_IT,
        _WHAT_YOU_MAY_DO,
    ),
}
