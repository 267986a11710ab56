"""Many faults in a row, by a seed: channels break and mend, workers die, clocks jump, and families report.

Whatever happens, in the end every step of every report has reached somebody, and nothing was sent again too soon.
"""

from __future__ import annotations

import random
from datetime import timedelta

import pytest
from fake_channels import Answer
from fakes import Mode
from processes import Process, dies
from sqlalchemy import select
from telling import report
from world import SAID, START, Count, World

from companion.escalation.climb import LADDERS
from companion.store.models import Alert, Delivery
from companion.usecases.sending import LEASE, LONGEST_PAUSE

SEED = 20261102
EVENTS, MOST_REPORTS = 16, 2
QUICK, MANY = 2, 8
BROKEN = (Answer.TROUBLE, Answer.BUSY, Answer.FORBIDDEN, Answer.REDIRECT, Answer.ACCEPT_UNSAID, Answer.HUGE)
POST_BROKEN = (Mode.LATER, Mode.MISSET, Mode.LATER_AFTER_DATA, Mode.MISSET_AFTER_DATA, Mode.ACCEPT_UNSAID)
WORKERS = ("one", "two")


class Night:
    """One night of faults, all drawn from one seed."""

    def __init__(self, world: World, seed: int) -> None:
        self.world, self.draw = world, random.Random(seed)
        self.faults = self.reports = 0
        self.dead_under_way: set[str] = set()
        world.fresh(4)
        self.say()

    def say(self) -> None:
        """A family reports, and says it again while it hears nothing."""
        if self.reports == MOST_REPORTS:
            return
        level, now = self.draw.choice((4, 5)), self.world.clock()
        raw = report(now, right=SAID[level])
        self.reports += 1
        web = Process(self.world, "web", self.draw.choice((None, 0, 1)))
        died = dies(lambda: web.report(raw))
        web.close()
        if died:
            self.faults += 1
            again = Process(self.world, "web")
            again.report(raw)
            again.close()

    def work(self) -> None:
        """One of two workers ticks, and may die anywhere."""
        die_at = self.draw.choice((None, self.draw.randrange(120)))
        worker = Process(self.world, self.draw.choice(WORKERS), die_at)
        if dies(worker.round):
            self.faults += 1
            self.dead_under_way |= {row.id for row, _ in self.world.rows() if row.lease_until}
        worker.close()

    def break_one(self) -> None:
        self.faults += 1
        channel = self.draw.choice(self.world.ways)
        if self.draw.random() < 0.3:
            self.world.fake(channel).close()
        elif channel == "mail":
            self.world.postbox.mode = self.draw.choice(POST_BROKEN)
        else:
            self.world.fake(channel).answer = self.draw.choice(BROKEN)

    def wait(self) -> None:
        self.world.clock.now += timedelta(seconds=self.draw.choice((1, 10, 60, 119, 120, 300, 900, 3600)))

    def step_clock(self) -> None:
        """A jump as small as one that cannot be told from two workers' clocks."""
        self.faults += 1
        self.world.clock.now += timedelta(seconds=self.draw.choice((-90, -30, 30, 7200)))

    def play(self) -> None:
        acts = (self.say, self.work, self.work, self.work, self.wait, self.wait, self.break_one, self.world.mend)
        for _ in range(EVENTS):
            self.draw.choice((*acts, self.step_clock))()
        self.world.mend()
        for wait in (2 * LEASE, 2 * LONGEST_PAUSE, timedelta(minutes=31)):
            self.world.clock.now += wait
            self.world.round()
            self.world.round()

    def wrong(self) -> list[str]:
        found, rows, tally = [], self.world.rows(), self.world.tally()
        with self.world.store.reading() as session:
            alerts = list(session.scalars(select(Alert)))
            steps: dict[str, set[int]] = {one.id: set() for one in alerts}
            for delivery in session.scalars(select(Delivery).where(Delivery.handed_over_at.is_not(None))):
                steps[delivery.alert_id].add(delivery.step)
        if len(alerts) != self.reports:
            found.append(f"{self.reports} reports made {len(alerts)} alerts")
        for alert in alerts:
            if not steps[alert.id] >= set(range(len(LADDERS[alert.level].after_minutes))):
                found.append(f"an alert of level {alert.level} reached only steps {sorted(steps[alert.id])}")
        for row, step in rows:
            if row.sent_at is None or tally[row.id] == 0:
                found.append(f"step {step.step} by {row.channel} never arrived")
            if tally[row.id] > row.attempts:
                found.append(f"step {step.step} by {row.channel} came more often than it was tried")
        return found


def nights(world: World, seeds: range) -> tuple[int, list[str]]:
    faults, found = 0, []
    for seed in seeds:
        night = Night(world, SEED + seed)
        night.play()
        faults += night.faults
        found += [f"seed {SEED + seed}: {one}" for one in night.wrong()]
        assert START[4] < world.clock.now
    return faults, found


def test_H2_nights_of_many_faults_lose_nothing(world: World, record_property: Count) -> None:
    faults, found = nights(world, range(QUICK))
    record_property("drawn", faults)
    assert found == []


@pytest.mark.long
def test_H2_many_nights_of_many_faults_lose_nothing(world: World, record_property: Count) -> None:
    faults, found = nights(world, range(QUICK, MANY))
    record_property("drawn", faults)
    assert found == []
