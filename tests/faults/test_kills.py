"""A process is killed at every step of an alert's way, one step a run; then another goes on.

Nothing is chosen by hand: a run without a kill names every commit and every packet, and each is died at in turn.
"""

from __future__ import annotations

from collections import Counter
from datetime import timedelta

import pytest
from processes import Process, dies
from world import FAMILY, START, STEPS, Count, World, said

from companion.usecases.sending import LEASE

SECOND = timedelta(seconds=1)


class Run:
    """One report and the first ``steps`` steps of its alert, with at most one death."""

    def __init__(self, world: World, level: int, steps: int, web: int | None = None, worker: int | None = None):
        self.world, self.level = world, level
        self.died: str | None = None
        self.under_way: str | None = None
        self.web_points: list[str] = []
        self.worker_points: list[str] = []
        world.fresh(level)
        self._report(web)
        self._climb(steps, worker)

    def _report(self, die_at: int | None) -> None:
        raw = said(self.level, self.world.clock())
        web = Process(self.world, "web", die_at)
        if dies(lambda: web.report(raw)):
            self.died = web.points.names[-1]
            again = Process(self.world, "web again")
            again.report(raw)  # the phone has heard nothing, and says the same again
            again.close()
        self.web_points = web.points.names
        web.close()

    def _climb(self, steps: int, die_at: int | None) -> None:
        clock, worker = self.world.clock, Process(self.world, "one", die_at)
        for minutes in STEPS[self.level][:steps]:
            clock.now = max(clock.now, START[self.level] + timedelta(minutes=minutes))
            if dies(worker.round):
                self.died = worker.points.names[-1]
                worker.close()
                worker = self._go_on()
        self.worker_points = worker.points.names
        worker.close()

    def _go_on(self) -> Process:
        """Another worker comes, and waits for the lease."""
        clock, died_at = self.world.clock, self.world.clock()
        leases = self.world.leases()
        assert set(leases) <= {LEASE}, leases
        self.under_way = next((row.id for row, _ in self.world.rows() if row.lease_until), None)
        two = Process(self.world, "two")
        before = self.world.tally()[self.under_way or ""]
        for moment in (died_at + 5 * SECOND, died_at + LEASE - SECOND):
            clock.now = moment
            two.round()
            assert self.world.tally()[self.under_way or ""] == before, "sooner than the lease"
        clock.now = died_at + LEASE
        two.round()
        return two

    def wrong(self, steps: int) -> list[str]:
        """What is not as promised at the end."""
        found, rows, tally = [], self.world.rows(), self.world.tally()
        if len(self.world.alerts()) != 1:
            return [f"{len(self.world.alerts())} alerts"]
        reached = Counter(step.step for _, step in rows)
        if sorted(reached) != list(range(steps)):
            found.append(f"steps {sorted(reached)}")
        for row, step in rows:
            most = 2 if row.id == self.under_way else 1
            if not 1 <= tally[row.id] <= most:
                found.append(f"step {step.step} by {row.channel} was accepted {tally[row.id]} times")
            if row.sent_at is None or step.handed_over_at is None:
                found.append(f"step {step.step} by {row.channel} is not marked")
        for channel in self.world.ways:
            if not {step.step for row, step in rows if row.channel == channel} >= set(range(steps)):
                found.append(f"a step lacks {channel}")
        twins = [one for one in self.world.accepted if tally[one.reference] == 2]
        if twins and twins[1].begun - twins[0].begun < LEASE:
            found.append("a twin came sooner than the lease")
        waited = (self.world.clock() - START[self.level]) / timedelta(minutes=1)
        if (self.world.news() is not None) != (waited >= FAMILY[self.level]):
            found.append(f"the family hears {self.world.news()} after {waited:.0f} minutes")
        return [f"{self.died}: {one}" for one in found]


def tried(world: World, level: int, steps: int, every: int = 1, first: int = 0) -> tuple[int, list[str]]:
    """Die once at every point, or at every so many; return how often, and what was wrong."""
    usual = Run(world, level, steps)
    assert usual.wrong(steps) == []
    assert set(world.tally().values()) == {1}, "without a crash each is sent once"
    web, worker = range(len(usual.web_points)), range(len(usual.worker_points))
    found = [one for number in web for one in Run(world, level, steps, web=number).wrong(steps)]
    for number in worker[first::every]:
        found += Run(world, level, steps, worker=number).wrong(steps)
    return len(web) + len(worker[first::every]), found


@pytest.mark.slow
@pytest.mark.parametrize("level", [3, 4, 5])
def test_H2_killed_up_to_the_second_person_nothing_is_lost(
    world: World, level: int, database: str, record_property: Count
) -> None:
    """Every point, once: the six runs take every sixth, each beginning at another."""
    kills, found = tried(world, level, steps=2, every=6, first=2 * (level - 3) + (database == "sqlite"))
    record_property("kills", kills)
    assert found == []


@pytest.mark.long
@pytest.mark.parametrize("level", [3, 4, 5])
def test_H2_killed_anywhere_up_to_the_second_person_nothing_is_lost(
    world: World, level: int, database: str, record_property: Count
) -> None:
    """Every point at every level: the even ones on one database, the odd ones on the other."""
    kills, found = tried(world, level, steps=2, every=2, first=int(database == "sqlite"))
    record_property("kills", kills)
    assert found == []
    assert kills > 50


@pytest.mark.long
@pytest.mark.parametrize("level", [3, 4, 5])
def test_H2_killed_up_to_everybody_told_again_nothing_is_lost(
    world: World, level: int, database: str, record_property: Count
) -> None:
    kills, found = tried(
        world, level, steps=len(STEPS[level]), every=24, first=4 * (level - 3) + (database == "sqlite")
    )
    record_property("kills", kills)
    assert found == []
