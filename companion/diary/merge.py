"""Many entries become one story: which statements stand, and in whose words.

The diary is a grow-only set of entries. ``standing`` reduces it, whatever the order in which the entries came and
however often; no clock is asked. The rules:

- An entry that is neither a correction nor a withdrawal is an *original*. A correction may name the original or
  any correction of it: all of them are rivals about the same original, and the highest sequence number wins.
- A withdrawal of an original is one more rival: if it has the highest number, the statement is gone; a correction
  received after it brings the statement back in the correction's words.
- A withdrawal of a correction takes back that correction alone; the others stand. A withdrawal is never withdrawn:
  say the thing again.
- A symptom report always stands as it was sent: it can be added to or raised by another report, never lowered.
- An unverified correction or withdrawal (the right or the log-in of its author had ended) changes nothing that was
  said by somebody verified.
- A correction or withdrawal whose target is not there (yet), is another wearer's or of another kind, waits and
  changes nothing.

Who is allowed to correct is for ``access``; what the statements add up to is for ``nights``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from companion.common.errors import Problem
from companion.common.moments import parse_instant, utc
from companion.diary.entry import Draft, Entry
from companion.diary.kinds import CORRECTABLE, FOLLOW_UPS, Kind

DOUBLE_TAP = timedelta(minutes=10)
"""So long one form may go on arriving: a second tap, or a slow network's second try."""


@dataclass(frozen=True)
class StandingEntry:
    """A statement that stands, in its last words."""

    id: str
    """The original's id: what the family sees as this entry."""
    wearer_id: str
    kind: Kind
    at: datetime
    zone: str
    payload: Mapping[str, Any]
    author_id: str
    """Who said these words: the original's author, or the corrector."""
    received_at: datetime
    """When these words were received."""
    seq: int
    """The sequence number of these words."""
    decided_by: str
    """The id of the entry that holds these words: the original or a correction."""
    verified: bool

    @property
    def corrected(self) -> bool:
        return self.decided_by != self.id


class Acceptance(StrEnum):
    """What to do with a draft whose id may have been seen before."""

    NEW = "new"
    SAME = "same"
    ID_CONFLICT = "id_conflict"


def accepts(existing: Entry | None, draft: Draft) -> Acceptance:
    """Say whether ``draft`` is new, the same statement again, or another statement under a used id.

    A form without script says *now*, or *40 minutes ago*, and gets its time when it arrives: sent twice by a
    double tap it comes with two times. It is the same statement if it lies as long before its own tap.
    """
    if existing is None:
        return Acceptance.NEW
    said_before = (existing.wearer_id, existing.kind, existing.zone, existing.payload)
    said_now = (draft.wearer_id, draft.kind, draft.zone, draft.payload)
    apart = abs(draft.made_at - existing.made_at)
    same_time = existing.at == draft.at or (
        apart <= DOUBLE_TAP and existing.made_at - existing.at == draft.made_at - draft.at
    )
    return Acceptance.SAME if said_before == said_now and same_time else Acceptance.ID_CONFLICT


def target_id(entry: Draft | Entry) -> str | None:
    """Return the id of the entry about which a correction or withdrawal speaks; None for any other kind."""
    if entry.kind is Kind.CORRECTION:
        return str(entry.payload["replaces"])
    return str(entry.payload["withdraws"]) if entry.kind is Kind.WITHDRAWAL else None


def may_follow(draft: Draft, target: Entry | None) -> Problem | None:
    """Say what keeps ``draft``, a correction or withdrawal, from following ``target``; None if nothing does.

    target: the stored entry with the id that ``target_id(draft)`` gives, if there is one.
    """
    key = "payload.replaces" if draft.kind is Kind.CORRECTION else "payload.withdraws"
    if target is None or target.wearer_id != draft.wearer_id:
        return Problem("no_such_entry", key)
    if target.kind is Kind.SYMPTOM_REPORT:
        return Problem("report_stays", key)
    if target.kind is Kind.WITHDRAWAL:
        return Problem("withdrawal_stays", key)
    if draft.kind is Kind.CORRECTION and draft.payload["kind"] != _kind_said(target):
        return Problem("correction_changes_kind", "payload.kind", {"kind": str(_kind_said(target))})
    return None


def standing(entries: Iterable[Entry]) -> tuple[StandingEntry, ...]:
    """Return the statements that stand, by the time when they happened. Order and repetition do not matter."""
    by_id: dict[str, Entry] = {}
    for entry in entries:
        known = by_id.get(entry.id)
        if known is None or (entry.seq, entry.received_at) < (known.seq, known.received_at):
            by_id[entry.id] = entry
    taken_back = {
        target.id
        for entry in by_id.values()
        if entry.kind is Kind.WITHDRAWAL
        and (target := by_id.get(str(target_id(entry)))) is not None
        and target.kind is Kind.CORRECTION
        and _counts_against(entry, target)
    }
    last_word: dict[str, Entry] = {}
    for entry in by_id.values():
        if entry.kind not in FOLLOW_UPS or entry.id in taken_back:
            continue
        original = _original_of(entry, by_id)
        if original is None or not _counts_against(entry, original):
            continue
        rival = last_word.get(original.id)
        if rival is None or (entry.seq, entry.id) > (rival.seq, rival.id):
            last_word[original.id] = entry
    originals = (entry for entry in by_id.values() if entry.kind not in FOLLOW_UPS)
    said = (_in_last_words(entry, last_word.get(entry.id)) for entry in originals)
    return tuple(sorted((one for one in said if one), key=lambda one: (one.at, one.seq, one.id)))


def _kind_said(entry: Entry) -> Kind:
    return Kind(entry.payload["kind"]) if entry.kind is Kind.CORRECTION else entry.kind


def _counts_against(follow_up: Entry, target: Entry) -> bool:
    return (
        follow_up.wearer_id == target.wearer_id
        and _kind_said(target) in CORRECTABLE
        and (follow_up.kind is Kind.WITHDRAWAL or _kind_said(follow_up) == _kind_said(target))
        and (follow_up.verified or not target.verified)
    )


def _original_of(follow_up: Entry, by_id: Mapping[str, Entry]) -> Entry | None:
    """Follow the chain of names to its original; None if it breaks, runs in a circle or ends in a correction.

    A withdrawal reaches an original only directly: one that names a correction takes back that correction alone.
    """
    seen: set[str] = set()
    current = by_id.get(str(target_id(follow_up)))
    if follow_up.kind is Kind.WITHDRAWAL:
        return current if current is not None and current.kind not in FOLLOW_UPS else None
    while current is not None and current.kind is Kind.CORRECTION and current.id not in seen:
        seen.add(current.id)
        current = by_id.get(str(target_id(current)))
    return current if current is not None and current.kind not in FOLLOW_UPS else None


def _in_last_words(original: Entry, word: Entry | None) -> StandingEntry | None:
    if word is not None and word.kind is Kind.WITHDRAWAL:
        return None
    at, zone, payload = original.at, original.zone, original.payload
    if word is not None:
        at, zone, payload = utc(parse_instant(word.payload["at"])), word.payload["zone"], word.payload["payload"]
    by = word or original
    return StandingEntry(
        id=original.id,
        wearer_id=original.wearer_id,
        kind=original.kind,
        at=at,
        zone=zone,
        payload=payload,
        author_id=by.author_id,
        received_at=by.received_at,
        seq=by.seq,
        decided_by=by.id,
        verified=by.verified,
    )
