"""Lens care as the family reads it: the steps of the practice's regimen, what is due when, and the two clocks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from companion.access import Action, may
from companion.common.eyes import BOTH, Eye, eyes_named
from companion.common.moments import night_of, zone
from companion.diary.entry import Kind
from companion.diary.merge import StandingEntry
from companion.diary.wear import concerns
from companion.regimen.care import Regimen, Step, load_care
from companion.regimen.clocks import SoakState, soak, stuck, stuck_often
from companion.regimen.due import Renewed, due_items
from companion.store.models import Practice
from companion.usecases.actor import Actor, roles_towards, wearer_for
from companion.usecases.raising import open_holds
from companion.usecases.regimens import current_regimen
from companion.usecases.showing import iso, practice_now, wearer_plain
from companion.usecases.story import Story, load_story
from companion.usecases.tonight import hour_of_day

FREED_SHOWN_FOR = timedelta(hours=12)
_ABOUT_A_LENS = frozenset({Kind.STUCK_LENS, Kind.LENSES_IN, Kind.LENSES_OUT})


def care(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """Everything that the pages of lens care show, as codes and values."""
    wearer = wearer_for(session, actor, wearer_id, Action.SEE_CARE)
    practice = session.get_one(Practice, wearer.practice_id)
    story = load_story(session, wearer, now)
    where = zone(wearer.zone)
    signed = current_regimen(session, practice.id)
    clocks = {eye: _stuck_of(story, eye, now) for eye in story.eyes}
    return {
        "wearer": wearer_plain(wearer, now),
        "now": iso(now, where),
        "hour": hour_of_day(story, now),
        "may_write": may(roles_towards(session, actor, wearer), Action.WRITE_DIARY),
        "system": signed.system,
        "numbers": dict(signed.numbers),
        "evening": _steps_plain(signed.evening),
        "morning": _steps_plain(signed.morning),
        "marks": _marks(story),
        "items": _items_plain(story, signed, now),
        "soak": _soak_plain(story, signed, now),
        "stuck": _together([one for one in clocks.values() if one["running"]], where, now),
        "freed": [{"eye": eye.value, "often": one["often"]} for eye, one in clocks.items() if one["freed"]],
        "held": sorted({one.eye for one in open_holds(session, wearer, now)}, reverse=True),
        "practice": practice_now(practice, now, where),
    }


def stuck_plain(eyes: str, started: datetime, now: datetime, where: ZoneInfo) -> dict[str, Any]:
    """Return the clock of a stuck lens: since when, when to call, when to report, and how far it has run."""
    clock = stuck(min(started, now), now, load_care().stuck)
    return {
        "eyes": eyes,
        "started_at": iso(clock.started, where),
        "call_at": iso(clock.call_at, where),
        "report_at": iso(clock.report_at, where),
        "stage": clock.stage.value,
    }


def _steps_plain(steps: Sequence[Step]) -> list[dict[str, str]]:
    return [{"id": step.id, "why": step.why} for step in steps]


def _marks(story: Story) -> dict[str, str]:
    """How each eye's lens is marked, in the practice's own words."""
    newest = {row.eye: row.marked_as for row in reversed(story.lenses)}
    return {eye.value: newest[eye.value] for eye in story.eyes if eye.value in newest}


def _items_plain(story: Story, signed: Regimen, now: datetime) -> list[dict[str, Any]]:
    today = now.astimezone(story.habits.home).date()
    fitted = {Eye(row.eye): row.since for row in reversed(story.lenses) if row.since <= today}
    return [
        {
            "item": due.item,
            "part": due.part,
            "since": due.since and due.since.isoformat(),
            "due_on": due.on and due.on.isoformat(),
            "by": due.by,
            "state": due.state.value,
        }
        for due in due_items(signed, _renewed(story), story.eyes, fitted, today)
    ]


def _renewed(story: Story) -> Iterator[Renewed]:
    for entry in story.standing:
        if entry.kind is not Kind.CARE_ITEM or entry.payload["item"] == "soak":
            continue
        said, on = entry.payload, entry.at.astimezone(zone(entry.zone)).date()
        use_by = said.get("use_by")
        parts = [eye.value for eye in eyes_named(said["eyes"])] if "eyes" in said else [said.get("which")]
        for part in parts:
            yield Renewed(
                said["item"], on, part, said.get("label_days"), date.fromisoformat(use_by) if use_by else None
            )


def _soak_plain(story: Story, signed: Regimen, now: datetime) -> dict[str, Any] | None:
    """The clock of the peroxide; None where the regimen knows none."""
    hours, stored = signed.numbers.get("peroxide_hours"), signed.numbers.get("stored_days")
    if hours is None or stored is None:
        return None
    soaked = [one.at for one in story.standing if one.kind is Kind.CARE_ITEM and one.payload["item"] == "soak"]
    worn = [one.at for one in story.standing if one.kind is Kind.LENSES_IN]
    where = story.habits.home
    state = soak(max(soaked, default=None), max(worn, default=None), now, hours, stored, where)
    return {
        "state": state.state.value,
        "started_at": iso(state.started, where),
        "ready_at": iso(state.ready_at, where),
        "hours": hours,
        "is_ready": state.state is SoakState.READY,
    }


def _stuck_of(story: Story, eye: Eye, now: datetime) -> dict[str, Any]:
    """What was last said about a stuck lens of one eye, and whether it happens often."""
    said = [one for one in story.standing if one.kind in _ABOUT_A_LENS and concerns(one, eye)]
    running: StandingEntry | None = None
    freed: datetime | None = None
    for one in said:
        if one.kind is Kind.STUCK_LENS and one.payload["said"] == "stuck":
            running, freed = running or one, None
        elif running is not None:
            running, freed = None, one.at
    nights = [
        night_of(one.at, zone(one.zone), story.habits.split)
        for one in said
        if one.kind is Kind.STUCK_LENS and one.payload["said"] == "stuck"
    ]
    return {
        "eye": eye.value,
        "running": running,
        "freed": freed is not None and now - freed <= FREED_SHOWN_FOR,
        "often": stuck_often(nights, story.tonight, load_care().stuck),
    }


def _together(running: Sequence[dict[str, Any]], where: ZoneInfo, now: datetime) -> list[dict[str, Any]]:
    """Return one clock an entry: both lenses that got stuck together have one."""
    clocks = {one["running"].id: one for one in running}
    both = len(running) == 2 and len(clocks) == 1
    return [
        {
            **stuck_plain(BOTH if both else one["eye"], one["running"].at, now, where),
            "often": one["often"],
        }
        for one in clocks.values()
    ]
