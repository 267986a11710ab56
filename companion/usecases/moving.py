"""An entry that was made for the wrong child, put right: taken back here, said again there, in one transaction."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import InvalidInput, NotFound
from companion.common.ids import is_id
from companion.diary.entry import Kind
from companion.diary.merge import StandingEntry, standing
from companion.store.models import EntryRow
from companion.store.queries.entries import entries_of
from companion.usecases.actor import Actor, wearer_for
from companion.usecases.recording import Receipt, take_batch


def move_entry(
    session: Session, actor: Actor, wearer_id: str, entry_id: str, to: str, ids: tuple[str, str], now: datetime
) -> None:
    """Say of the other wearer ``to`` what the entry says of this one, and take it back here.

    ids: for the withdrawal and for the new entry, minted with the form, so that a second press changes nothing. A
    report of trouble is said again there and stays here too: only the practice closes reports.
    """
    wearer = wearer_for(session, actor, wearer_id, Action.WRITE_DIARY)
    wearer_for(session, actor, to, Action.WRITE_DIARY)
    withdrawal_id, new_id = ids
    done = session.get(EntryRow, new_id) if is_id(new_id) else None
    if done is not None and done.wearer_id == to:
        return
    entry = next((one for one in standing(entries_of(session, wearer)) if one.id == entry_id), None)
    if entry is None or wearer_id == to:
        raise NotFound("entry")
    _refuse_rejected(take_batch(session, actor, to, [_raw(entry, entry.kind, new_id, entry.payload, now)], now))
    if entry.kind is not Kind.SYMPTOM_REPORT:
        withdrawal = _raw(entry, Kind.WITHDRAWAL, withdrawal_id, {"withdraws": entry.id}, now)
        _refuse_rejected(take_batch(session, actor, wearer_id, [withdrawal], now))
    session.commit()


def _raw(entry: StandingEntry, kind: Kind, id_: str, payload: Any, now: datetime) -> dict[str, Any]:
    at = entry.at if kind is entry.kind else now
    return {
        "id": id_,
        "kind": kind.value,
        "at": at.isoformat(),
        "zone": entry.zone,
        "made_at": now.isoformat(),
        "payload": dict(payload),
    }


def _refuse_rejected(receipt: Receipt) -> None:
    problems = [problem for one in receipt.rejected for problem in one.problems]
    if problems:
        raise InvalidInput(*problems)
