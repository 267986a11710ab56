"""The one way into the diary: a batch of entries, from a phone's week offline or from one form.

Each entry has its own savepoint, so that a bad one takes nothing with it. Sending twice is harmless: an id that is
known, saying the same, is accepted again. A symptom report is judged, and its alert written, in this transaction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from sqlalchemy.orm import Session

from companion.access import Action, Role, may
from companion.common.errors import InvalidInput, NotAllowed, NotFound, Problem
from companion.common.ids import is_id
from companion.diary.entry import Draft, Kind, check_shape
from companion.diary.merge import Acceptance, accepts, may_follow, target_id
from companion.store.models import Practice, Wearer
from companion.store.queries import entries
from companion.usecases.actor import Actor, former_roles_towards, roles_towards
from companion.usecases.derived import refresh_state
from companion.usecases.raising import judge

LARGEST_BATCH = 1000


@dataclass(frozen=True)
class Rejection:
    """An entry that was not taken, and what its author can mend."""

    id: str
    problems: tuple[Problem, ...]


@dataclass
class Receipt:
    """What became of a batch."""

    accepted: list[str] = field(default_factory=list)
    rejected: list[Rejection] = field(default_factory=list)
    reports: list[str] = field(default_factory=list)
    """Ids of the symptom reports among the accepted: each has a judgement to read."""
    verified: bool = True
    """False: the sender's right had ended; the desk has the reports, and the sender sees nothing of them."""


def record_entries(
    session: Session, actor: Actor, wearer_id: str, raw_entries: Sequence[object], now: datetime
) -> Receipt:
    """Take a batch of entries about one wearer; say of each whether it was accepted.

    A raw entry has the keys id, kind, at, zone, made_at and payload; times are ISO 8601 with an offset. Raises
    NotFound for a stranger to the wearer, and InvalidInput for a batch of more than 1,000. From somebody whose
    right has ended, reports of trouble are taken all the same, unverified, and nothing else is.
    """
    receipt = take_batch(session, actor, wearer_id, raw_entries, now)
    session.commit()
    return receipt


def take_batch(
    session: Session, actor: Actor, wearer_id: str, raw_entries: Sequence[object], now: datetime
) -> Receipt:
    """Take a batch inside the caller's transaction."""
    wearer = session.get(Wearer, wearer_id) if is_id(wearer_id) else None
    if wearer is None or wearer.ended_at is not None:
        raise NotFound("wearer")
    roles = roles_towards(session, actor, wearer) or former_roles_towards(session, actor, wearer, now)
    if not roles:
        raise NotFound("wearer")
    allowed = _kinds_allowed(roles)
    if not allowed:
        raise NotAllowed(Action.WRITE_DIARY)
    if len(raw_entries) > LARGEST_BATCH:
        raise InvalidInput(Problem("batch_too_large", "entries", {"largest": LARGEST_BATCH}))
    practice = session.get_one(Practice, wearer.practice_id)
    receipt = Receipt(verified=not may(roles, Action.REPORT_UNVERIFIED))
    for raw in raw_entries:
        try:
            with session.begin_nested():
                draft = check_shape({**raw, "wearer_id": wearer.id} if isinstance(raw, Mapping) else raw)
                if draft.kind not in allowed:
                    raise InvalidInput(Problem("not_allowed", "kind"))
                _record(session, practice, wearer, actor, draft, now, receipt.verified)
            receipt.accepted.append(draft.id)
            if draft.kind is Kind.SYMPTOM_REPORT:
                receipt.reports.append(draft.id)
        except InvalidInput as wrong:
            claimed = raw.get("id") if isinstance(raw, Mapping) else None
            receipt.rejected.append(Rejection(str(claimed or "")[:64], wrong.problems))
    if receipt.accepted:
        refresh_state(session, wearer, now)
    return receipt


def _kinds_allowed(roles: frozenset[Role]) -> frozenset[Kind]:
    writes, reports = may(roles, Action.WRITE_DIARY), {Action.REPORT_SYMPTOMS, Action.REPORT_UNVERIFIED}
    allowed = set(Kind) - {Kind.SYMPTOM_REPORT} if writes else set()
    if any(may(roles, one) for one in reports):
        allowed.add(Kind.SYMPTOM_REPORT)
    return frozenset(allowed)


def _record(
    session: Session,
    practice: Practice,
    wearer: Wearer,
    actor: Actor,
    draft: Draft,
    now: datetime,
    verified: bool,
) -> None:
    match accepts(entries.find(session, draft.id), draft):
        case Acceptance.SAME:
            return
        case Acceptance.ID_CONFLICT:
            raise InvalidInput(Problem("id_conflict", "id"))
    target = target_id(draft)
    if target is not None:
        problem = may_follow(draft, entries.find(session, target))
        if problem is not None:
            raise InvalidInput(problem)
    seq = entries.next_seq(session, wearer)
    received = draft.received(seq=seq, author_id=actor.person_id, received_at=now, verified=verified)
    row = entries.add(session, wearer, received)
    if draft.kind is Kind.SYMPTOM_REPORT:
        judge(session, practice, wearer, row, now)
