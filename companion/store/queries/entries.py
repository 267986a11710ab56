"""A wearer's entries, to and from the diary's values, and the number that each one gets."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from companion.diary.entry import Entry, Kind
from companion.store.models import EntryRow, Wearer


def entries_of(session: Session, wearer: Wearer) -> tuple[Entry, ...]:
    """Return all entries of a wearer in order of receipt."""
    rows: Sequence[EntryRow] = session.scalars(
        select(EntryRow)
        .where(EntryRow.practice_id == wearer.practice_id, EntryRow.wearer_id == wearer.id)
        .order_by(EntryRow.seq)
    ).all()
    return tuple(entry_of(row) for row in rows)


def entries_after(session: Session, wearer: Wearer, seq: int, most: int) -> Sequence[EntryRow]:
    """Return the next entries of a wearer in order of receipt, up to ``most``."""
    return session.scalars(
        select(EntryRow)
        .where(EntryRow.practice_id == wearer.practice_id, EntryRow.wearer_id == wearer.id, EntryRow.seq > seq)
        .order_by(EntryRow.seq)
        .limit(most)
    ).all()


def entry_of(row: EntryRow) -> Entry:
    return Entry(
        id=row.id,
        wearer_id=row.wearer_id,
        seq=row.seq,
        kind=Kind(row.kind),
        author_id=row.author_id or "",
        at=row.at,
        zone=row.zone,
        made_at=row.made_at,
        received_at=row.received_at,
        payload=row.payload,
        verified=row.verified,
    )


def find(session: Session, entry_id: str) -> Entry | None:
    row = session.get(EntryRow, entry_id)
    return entry_of(row) if row else None


def next_seq(session: Session, wearer: Wearer) -> int:
    """Give out the wearer's next sequence number; the row is locked until the transaction ends."""
    seq = session.scalar(
        update(Wearer)
        .where(Wearer.id == wearer.id)
        .values(last_seq=Wearer.last_seq + 1)
        .returning(Wearer.last_seq)
        .execution_options(synchronize_session=False)
    )
    assert seq is not None
    return seq


def add(session: Session, wearer: Wearer, entry: Entry) -> EntryRow:
    row = EntryRow(
        id=entry.id,
        practice_id=wearer.practice_id,
        wearer_id=wearer.id,
        seq=entry.seq,
        kind=entry.kind.value,
        author_id=entry.author_id or None,
        at=entry.at,
        zone=entry.zone,
        made_at=entry.made_at,
        received_at=entry.received_at,
        payload=dict(entry.payload),
        verified=entry.verified,
    )
    session.add(row)
    session.flush()
    return row
