"""Carry the outbox: claim, commit, send, record.

A message is sent outside any transaction, so a slow channel holds up nothing but itself. Whoever dies on the way
leaves a lease that ends after two minutes; then another tries: a twin may arrive, silence may not.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from companion.delivery.base import DeliveryError, Message
from companion.store.engine import Store
from companion.store.models import Outbox
from companion.store.queries import channels, outbox
from companion.store.queries.outbox import LEASE as LEASE
from companion.store.queries.outbox import LONGEST_PAUSE, Lane
from companion.usecases.wording import in_words

PAUSES_S = (10, 20, 40, 80, 160, int(LONGEST_PAUSE.total_seconds()))
"""Between one try and the next [s]; the last one repeats."""
LONGEST_TRY = timedelta(hours=24)
"""After this a message is given up. Its alert has climbed past it long before."""

Carrier = Callable[[Message], str]
"""A channel: hands one message over and returns its receipt, or raises DeliveryError."""


@dataclass(frozen=True)
class Sent:
    """What one round did."""

    sent: int = 0
    put_off: int = 0
    given_up: int = 0


def send_due(
    store: Store,
    carriers: Mapping[str, Carrier],
    base_url: str,
    worker: str,
    clock: Callable[[], datetime],
    lane: Lane | None = None,
    most: int = 100,
) -> Sent:
    """Send one after the other what is due in one lane, or in any; at most ``most`` messages.

    First what was never tried, then what has been due longest: a dead recipient, tried again and again, never
    keeps a fresh message waiting.
    """
    sent, put_off, given_up = 0, 0, 0
    for _ in range(most):
        row = claim(store, worker, clock(), lane)
        if row is None:
            break
        match carry(store, carriers, base_url, worker, row, clock):
            case "sent":
                sent += 1
            case "put_off":
                put_off += 1
            case _:
                given_up += 1
    return Sent(sent, put_off, given_up)


def any_due(store: Store, now: datetime) -> bool:
    """Say whether there is anything to send."""
    with store.reading() as session:
        return outbox.any_due(session, now)


def due_by_lane(store: Store, now: datetime) -> Mapping[Lane, int]:
    """Return how many messages wait to be claimed, by lane."""
    with store.reading() as session:
        return outbox.due_by_lane(session, now)


def pause_after(attempts: int) -> timedelta:
    """Return how long to wait after the ``attempts``-th try."""
    return timedelta(seconds=PAUSES_S[min(attempts, len(PAUSES_S)) - 1])


def claim(
    store: Store, hand: str, now: datetime, lane: Lane | None = None, besides: Collection[str] = ()
) -> Outbox | None:
    """Claim one message that is due, passing over those whose alert is closed, which have nothing left to say, and
    those to somebody who works at the practice no more."""
    while True:
        with store.writing() as session:
            row = outbox.claim_next(session, hand, now, lane, besides)
            if row is not None:
                alert = outbox.alert_of(session, row)
                if alert is not None and alert.closed_at is not None:
                    outbox.give_up(session, row.id, now, "closed before it was sent", failed=False)
                    session.commit()
                    continue
                if outbox.has_left(session, row):
                    outbox.give_up(session, row.id, now, "works there no more")
                    session.commit()
                    continue
            session.commit()
            return row


def carry(
    store: Store,
    carriers: Mapping[str, Carrier],
    base_url: str,
    hand: str,
    row: Outbox,
    clock: Callable[[], datetime],
) -> str:
    """Hand a claimed message to its channel and record what became of it: sent, put off or given up."""
    refused = False
    try:
        if row.channel not in carriers:
            raise DeliveryError(f"no channel {row.channel} is set up", permanent=False)
        carriers[row.channel](in_words(row, base_url))
    except DeliveryError as error:
        reason, final, refused = error.reason, error.permanent, row.channel in carriers
    except Exception as error:  # a message that breaks us must not break its neighbours
        reason, final = f"{type(error).__name__}: {error}"[:200], False
    else:
        with store.writing() as session:
            now = clock()
            outbox.mark_sent(session, row.id, now)
            channels.note_accepted(session, row.channel, row.address, now)
            session.commit()
        return "sent"
    now = clock()
    with store.writing() as session:
        if refused:
            channels.note_refused(session, row.channel, row.address, now, final)
        final = final or now - row.created_at >= LONGEST_TRY
        if final:
            outbox.give_up(session, row.id, now, reason)
        else:
            outbox.put_off(session, row.id, hand, now + pause_after(row.attempts), reason)
        session.commit()
    return "given_up" if final else "put_off"
