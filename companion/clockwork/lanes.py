"""The hands that carry the outbox: a lane for each channel, so that one that hangs holds up no other.

Within a lane several hands work at once, and an address has one hand at most: a dead address keeps one hand, not
the lane. The row's lease says whose a message is; two workers may both be at it.
"""

from __future__ import annotations

import logging
import threading
from collections import defaultdict
from collections.abc import Callable, Mapping
from datetime import datetime
from itertools import count

from companion.store.engine import Store
from companion.store.models import Outbox
from companion.usecases.sending import LEASE, Carrier, carry, claim, due_by_channel

log = logging.getLogger(__name__)

HANDS = 4
"""How many messages of one channel are under way at once in one worker."""


class Lane:
    """Who is at work on one channel."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.hands: dict[str, str | None] = {}
        """The address that each hand is busy with."""

    def busy(self) -> list[str]:
        return [address for address in self.hands.values() if address is not None]


class Lanes:
    """The lanes of one worker."""

    def __init__(
        self,
        store: Store,
        carriers: Mapping[str, Carrier],
        base_url: str,
        worker: str,
        clock: Callable[[], datetime],
    ) -> None:
        self._store, self._carriers, self._base_url = store, carriers, base_url
        self._worker, self._clock = worker, clock
        self._lanes: defaultdict[str, Lane] = defaultdict(Lane)
        self._threads: set[threading.Thread] = set()
        self._numbers = count(1)
        self._stopping = threading.Event()

    def start_due(self) -> None:
        """Give every channel that has something due the hands it needs. Waits for none of them."""
        for channel, waiting in due_by_channel(self._store, self._clock()).items():
            lane = self._lanes[channel]
            with lane.lock:
                for _ in range(min(waiting, HANDS - len(lane.hands))):
                    self._start(channel, lane)

    def stop(self) -> None:
        """Let each hand finish what it is at, and wait for it no longer than a lease lasts."""
        self._stopping.set()
        for thread in list(self._threads):
            thread.join(LEASE.total_seconds())

    def _start(self, channel: str, lane: Lane) -> None:
        hand = f"{self._worker}/{next(self._numbers)}"
        lane.hands[hand] = None
        # A daemon: what hangs past its time must not keep the process from ending.
        thread = threading.Thread(target=self._work, args=(channel, lane, hand), name=hand, daemon=True)
        self._threads.add(thread)
        thread.start()

    def _work(self, channel: str, lane: Lane, hand: str) -> None:
        try:
            while not self._stopping.is_set() and (row := self._claim(channel, lane, hand)) is not None:
                carry(self._store, self._carriers, self._base_url, hand, row, self._clock)
        except Exception:
            log.exception("the channel %s broke", channel)  # the lease ends, and another hand tries
        finally:
            with lane.lock:
                del lane.hands[hand]
            self._threads.discard(threading.current_thread())

    def _claim(self, channel: str, lane: Lane, hand: str) -> Outbox | None:
        with lane.lock:
            lane.hands[hand] = None
            row = claim(self._store, hand, self._clock(), channel, besides=lane.busy())
            lane.hands[hand] = row.address if row else None
            return row
