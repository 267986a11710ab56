"""The hands that carry the outbox: a lane for each channel of each practice. One that hangs holds up no other.

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
from companion.store.queries.outbox import Lane
from companion.usecases.sending import LEASE, Carrier, carry, claim, due_by_lane

log = logging.getLogger(__name__)

HANDS = 4
"""How many messages of one lane are under way at once in one worker."""


class _AtWork:
    """The hands of one lane, and the address that each is busy with."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.hands: dict[str, str | None] = {}

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
        self._lanes: defaultdict[Lane, _AtWork] = defaultdict(_AtWork)
        self._threads: set[threading.Thread] = set()
        self._numbers = count(1)
        self._stopping = threading.Event()

    def start_due(self) -> None:
        """Give every lane that has something due the hands it needs. Waits for none of them."""
        for lane, waiting in due_by_lane(self._store, self._clock()).items():
            at_work = self._lanes[lane]
            with at_work.lock:
                for _ in range(min(waiting, HANDS - len(at_work.hands))):
                    self._start(lane, at_work)

    def stop(self) -> None:
        """Let each hand finish what it is at, and wait for it no longer than a lease lasts."""
        self._stopping.set()
        for thread in list(self._threads):
            thread.join(LEASE.total_seconds())

    def _start(self, lane: Lane, at_work: _AtWork) -> None:
        hand = f"{self._worker}/{next(self._numbers)}"
        # A daemon: what hangs past its time must not keep the process from ending.
        thread = threading.Thread(target=self._work, args=(lane, at_work, hand), name=hand, daemon=True)
        thread.start()
        at_work.hands[hand] = None
        self._threads.add(thread)

    def _work(self, lane: Lane, at_work: _AtWork, hand: str) -> None:
        try:
            while not self._stopping.is_set() and (row := self._claim(lane, at_work, hand)) is not None:
                carry(self._store, self._carriers, self._base_url, hand, row, self._clock)
        except Exception:
            log.exception("the channel %s broke", lane.channel)  # the lease ends, and another hand tries
        finally:
            with at_work.lock:
                del at_work.hands[hand]
            self._threads.discard(threading.current_thread())

    def _claim(self, lane: Lane, at_work: _AtWork, hand: str) -> Outbox | None:
        with at_work.lock:
            at_work.hands[hand] = None
            row = claim(self._store, hand, self._clock(), lane, besides=at_work.busy())
            at_work.hands[hand] = row.address if row else None
            return row
