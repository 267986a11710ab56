"""Carry the outbox: claim, commit, send, record.

A message is sent outside any transaction, so a slow channel holds up nothing but itself. Whoever dies on the way
leaves a lease that ends after two minutes; then another tries: a twin may arrive, silence may not.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from companion.delivery.base import DeliveryError, Message
from companion.phrasebook.languages import ENGLISH, LANGUAGES
from companion.phrasebook.mail_words import FAMILY_LETTERS, letter
from companion.phrasebook.phrases import Phrases
from companion.store.engine import Store
from companion.store.models import Outbox
from companion.store.queries import outbox
from companion.store.queries.outbox import LEASE as LEASE
from companion.store.queries.outbox import LONGEST_PAUSE

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
    channel: str | None = None,
    most: int = 100,
) -> Sent:
    """Send one after the other what is due on one channel, or on any; at most ``most`` messages.

    First what was never tried, then what has been due longest: a dead recipient, tried again and again, never
    keeps a fresh message waiting.
    """
    sent, put_off, given_up = 0, 0, 0
    for _ in range(most):
        row = claim(store, worker, clock(), channel)
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


def due_by_channel(store: Store, now: datetime) -> Mapping[str, int]:
    """Return how many messages wait to be claimed, by channel."""
    with store.reading() as session:
        return outbox.due_by_channel(session, now)


def pause_after(attempts: int) -> timedelta:
    """Return how long to wait after the ``attempts``-th try."""
    return timedelta(seconds=PAUSES_S[min(attempts, len(PAUSES_S)) - 1])


def claim(
    store: Store, hand: str, now: datetime, channel: str | None = None, besides: Collection[str] = ()
) -> Outbox | None:
    """Claim one message that is due, passing over those whose alert is closed: they have nothing left to say."""
    while True:
        with store.writing() as session:
            row = outbox.claim_next(session, hand, now, channel, besides)
            if row is not None:
                alert = outbox.alert_of(session, row)
                if alert is not None and alert.closed_at is not None:
                    outbox.give_up(session, row.id, now, "closed before it was sent", failed=False)
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
    try:
        if row.channel not in carriers:
            raise DeliveryError(f"no channel {row.channel} is set up", permanent=False)
        carriers[row.channel](_in_words(row, base_url))
    except DeliveryError as error:
        reason, final = error.reason, error.permanent
    except Exception as error:  # a message that breaks us must not break its neighbours
        reason, final = f"{type(error).__name__}: {error}"[:200], False
    else:
        with store.writing() as session:
            outbox.mark_sent(session, row.id, clock())
            session.commit()
        return "sent"
    now = clock()
    final = final or now - row.created_at >= LONGEST_TRY
    with store.writing() as session:
        if final:
            outbox.give_up(session, row.id, now, reason)
        else:
            outbox.put_off(session, row.id, hand, now + pause_after(row.attempts), reason)
        session.commit()
    return "given_up" if final else "put_off"


def _in_words(row: Outbox, base_url: str) -> Message:
    language = LANGUAGES.get(row.message["language"], ENGLISH)
    key, values = row.message["key"], row.message["values"]
    path = "/tonight" if key in FAMILY_LETTERS else f"/desk/alerts/{values['alert_id']}/take"
    words = letter(Phrases(language), key, values, base_url.rstrip("/") + path)
    return Message(address=row.address, subject=words.subject, text=words.text, reference=row.id)
