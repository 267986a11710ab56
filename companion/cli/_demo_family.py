"""Fills an empty store with the demo's practice and families, as if they had used it all along until now.

Reads ``demo_family/``: who they are, and a record file for each wearer. The records' dates are moved so that the
last night ends today, and their clock times are taken as the practice's own. Everything is written through the
use cases, by the people themselves, at the time when it happened.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from companion.common.errors import InvalidInput, Problem
from companion.common.ids import new_id
from companion.common.moments import at_wall_clock, zone
from companion.store.engine import Store
from companion.store.models import Person, Practice, Wearer
from companion.store.queries.prescriptions import visits_of
from companion.triage.answers import answers_from_file
from companion.usecases import consents, invitations, prescribing, regimens, signing
from companion.usecases.actor import Actor
from companion.usecases.forecasting import refresh_forecast
from companion.usecases.recording import record_entries

FAMILY = Path(__file__).resolve().parents[2] / "demo_family"
MORNING, NOON = time(9), time(12, 30)


@dataclass
class Demo:
    """What the demo prints: who signs in how, and a link to try."""

    password: str
    logins: list[tuple[str, str, str]] = field(default_factory=list)
    """Log-in, name, and what they are."""
    invitation: str = ""
    """The token of an invitation that nobody has used yet."""


def read_family(folder: Path = FAMILY) -> dict[str, Any]:
    """Read who the demo's people are. Raises InvalidInput where the folder is not there (an installed package)."""
    try:
        people: dict[str, Any] = json.loads((folder / "people.json").read_text(encoding="utf-8"))
        for one in people["wearers"]:
            one["record"] = json.loads((folder / "records" / f"{one['record']}.json").read_text(encoding="utf-8"))
    except OSError:
        raise InvalidInput(Problem("demo_missing", "demo_family")) from None
    return people


def fill(store: Store, people: Mapping[str, Any], now: datetime) -> Demo:
    """Write the demo into an empty, migrated store."""
    filling = _Filling(store, people, now)
    filling.practice()
    for one in people["wearers"]:
        filling.wearer(one)
    filling.invitation()
    return filling.demo


class _Filling:
    def __init__(self, store: Store, people: Mapping[str, Any], now: datetime) -> None:
        self.store, self.people, self.now = store, people, now
        self.zone: ZoneInfo = zone(people["practice"]["zone"])
        self.today = now.astimezone(self.zone).date()
        self.demo = Demo(people["password"])
        self.actors: dict[str, Actor] = {}
        self.wearer_ids: dict[str, str] = {}
        self.practice_id = ""

    def practice(self) -> None:
        opened = self.now - timedelta(days=400)
        with self.store.writing() as session:
            row = Practice(**self.people["practice"], created_at=opened)
            session.add(row)
            session.flush()
            self.practice_id = row.id
            links = [
                (one, invitations.write_invitation(session, row.id, one["role"], one["name"], "en", opened, None))
                for one in self.people["staff"]
            ]
            session.commit()
        for one, token in links:
            self._join(one, token, opened, one["role"])
        with self.store.writing() as session:
            order = [
                {"person_id": self.actors[login].person_id, "channel": "mail"}
                for login in self.people["told_in_order"]
            ]
            session.get_one(Practice, self.practice_id).alert_plan = order
            session.commit()
        with self.store.writing() as session:
            regimens.sign_regimen(session, self.actors["ben"], self.people["care"], opened)

    def wearer(self, one: Mapping[str, Any]) -> None:
        record = _Moved(one["record"], self.zone, self.today, self.now)
        ada, ben = self.actors["ada"], self.actors["ben"]
        start = at_wall_clock(record.first_night, NOON, self.zone)
        form = {"name": one["name"], "birth_date": one["birth_date"], **record.habit()}
        with self.store.writing() as session:
            wearer_id = prescribing.new_wearer(session, ada, form, start)
        with self.store.writing() as session:
            row = session.get_one(Wearer, wearer_id)
            row.mark, row.usual_in, row.usual_out = one["mark"], *map(time.fromisoformat, one["hours"])
            session.commit()
        self.wearer_ids[one["name"].lower()] = wearer_id
        for person in one["family"]:
            with self.store.writing() as session:
                token = invitations.invite(session, ada, wearer_id, person["kind"], person["name"], start)
            self._join(person, token, start, person["kind"], of=one["name"])
        self._sign(ben, wearer_id, one, record, start)
        self._live(wearer_id, one, record)
        refresh_forecast(self.store, wearer_id, self.now)

    def invitation(self) -> None:
        asked = self.people["invitation"]
        wearer_id = self.wearer_ids[asked["wearer"]]
        with self.store.writing() as session:
            self.demo.invitation = invitations.invite(
                session, self.actors["ada"], wearer_id, asked["kind"], asked["name"], self.now
            )

    def _join(self, one: Mapping[str, Any], token: str, at: datetime, role: str, of: str = "") -> None:
        """Accept an invitation as its person would, and agree to the consent text."""
        password = self.demo.password
        form = {"name": one["name"], "login": one["login"], "password": password, "password_again": password}
        with self.store.reading() as session:
            account = invitations.read_form(session, token, form, at)
        with self.store.writing() as session:
            signed_in = invitations.accept(session, token, account, at)
        with self.store.writing() as session:
            actor = signing.actor_for_token(session, signed_in, at)
            assert actor is not None
            person = session.get_one(Person, actor.person_id)
            person.phone, person.email = one["phone"], f"{one['login']}@example.org"
            session.commit()
        with self.store.writing() as session:
            if of:
                consents.give(session, actor, consents.TEXT_VERSION, "en", at)
            signing.sign_out(session, actor, at)
        self.actors[one["login"]] = actor
        tie = f"{role} of {of}" if of and role != "wearer" else role
        self.demo.logins.append((one["login"], one["name"], tie))

    def _sign(
        self, ben: Actor, wearer_id: str, one: Mapping[str, Any], record: _Moved, start: datetime
    ) -> None:
        with self.store.writing() as session:
            prescribing.set_plan(session, ben, wearer_id, record.plan(), start)
            clearance = record.clearance()
            if clearance:
                prescribing.set_clearance(session, ben, wearer_id, clearance, start)
            for eye, facts in record.eyes.items():
                baseline = {"eye": eye, "kind": "baseline", "sphere_d": str(facts["baseline_d"])}
                best = {"best_acuity_logmar": str(facts.get("best_acuity_logmar", ""))}
                prescribing.add_refraction(session, ben, wearer_id, baseline | best, start)
                lens = {"eye": eye, "marked_as": one["lenses"][eye], "aim_d": str(facts["aim_d"])}
                prescribing.add_lens(session, ben, wearer_id, lens, start)
            for row in record.refractions():
                form = {"eye": row["eye"], "kind": "residual", "sphere_d": str(row["sphere_d"])}
                prescribing.add_refraction(session, ben, wearer_id, form, row["at"])
            for visit in one["visits"]:
                due = self.today + timedelta(days=visit["due_in_days"])
                prescribing.set_visit(
                    session, ben, wearer_id, {"due_on": due.isoformat(), "kind": visit["kind"]}, start
                )
        if any(visit.get("done") for visit in one["visits"]):
            self._mark_done(ben, wearer_id, one)

    def _mark_done(self, ben: Actor, wearer_id: str, one: Mapping[str, Any]) -> None:
        with self.store.reading() as session:
            rows = {row.kind: row.id for row in visits_of(session, session.get_one(Wearer, wearer_id))}
        for visit in one["visits"]:
            if visit.get("done"):
                on = at_wall_clock(self.today + timedelta(days=visit["due_in_days"]), MORNING, self.zone)
                with self.store.writing() as session:
                    prescribing.set_visit(session, ben, wearer_id, {"visit_id": rows[visit["kind"]]}, on)

    def _live(self, wearer_id: str, one: Mapping[str, Any], record: _Moved) -> None:
        """Let the family write its diary, a day at a time, each in turn."""
        authors = [self.actors[person["login"]] for person in one["family"]]
        told = [*record.entries(), *self._notes(one), *self._report(one)]
        days: dict[date, list[dict[str, Any]]] = {}
        for entry in sorted(told, key=lambda entry: str(entry["at"])):
            at = datetime.fromisoformat(entry["at"])
            if at <= self.now:
                days.setdefault(at.astimezone(self.zone).date(), []).append(entry)
        for turn, entries in enumerate(days.values()):
            last = max(datetime.fromisoformat(entry["at"]) for entry in entries)
            with self.store.writing() as session:
                record_entries(session, authors[turn % len(authors)], wearer_id, entries, last)

    def _notes(self, one: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
        for note in one.get("notes", ()):
            yield _entry("note", self._ago(note), self.zone, {"text": note["text"]})

    def _report(self, one: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
        report = one.get("report")
        if report:
            at = self._ago(report)
            if at > self.now:
                at -= timedelta(days=1)
            answers = answers_from_file(report["answers"]).document()
            yield _entry("symptom_report", at, self.zone, {"answers": answers, "language": "en"})

    def _ago(self, row: Mapping[str, Any]) -> datetime:
        day = self.today - timedelta(days=row["days_ago"])
        return at_wall_clock(day, time.fromisoformat(row["clock"]), self.zone)


class _Moved:
    """A record file with its dates moved so that its last night ends today, at the practice's place."""

    def __init__(self, record: Mapping[str, Any], where: ZoneInfo, today: date, now: datetime) -> None:
        self.record, self.zone, self.now = record, where, now
        last = max(datetime.fromisoformat(row["out"]).date() for row in record["wear"])
        self.days = today - last
        if "weekdays" in record.get("plan", {}):  # whole weeks, so that weekends stay weekends
            self.days = timedelta(weeks=-(-self.days.days // 7))
        self.eyes: Mapping[str, Any] = record["eyes"]
        self.first_night = min(datetime.fromisoformat(row["in"]).date() for row in record["wear"]) + self.days

    def at(self, text: str) -> datetime:
        local = datetime.fromisoformat(text)
        return at_wall_clock(local.date() + self.days, local.time(), self.zone)

    def habit(self) -> dict[str, str]:
        history = self.record.get("history")
        if history is None:
            return {"first_night": self.first_night.isoformat()}
        since = date.fromisoformat(history["since"]) + self.days
        return {"first_night": since.isoformat(), "settled_nights_per_week": str(history["nights_per_week"])}

    def plan(self) -> dict[str, str]:
        plan, target = self.record.get("plan", {"every": 1}), self.record["target"]
        nights = {"weekdays": ",".join(plan["weekdays"])} if "weekdays" in plan else {"every": str(plan["every"])}
        return {
            **nights,
            "target_acuity_logmar": str(target["acuity_logmar"]),
            "target_until": target["until_local"],
            "target_eyes": target.get("eyes", "each"),
            "target_distance_m": str(target.get("distance_m", "")),
        }

    def clearance(self) -> dict[str, str] | None:
        clearance = self.record.get("clearance")
        if clearance is None:
            return None
        return {
            "may_skip": "yes" if clearance["may_skip"] else "no",
            "longest_gap_nights": str(clearance["longest_gap_nights"]),
        }

    def refractions(self) -> Iterator[dict[str, Any]]:
        for row in self.record["refraction"]:
            if self.at(row["at"]) <= self.now:
                yield {**row, "at": self.at(row["at"])}

    def entries(self) -> Iterator[dict[str, Any]]:
        for row in self.record["wear"]:
            yield _entry("lenses_in", self.at(row["in"]), self.zone, {"eyes": row["eye"]})
            if "out" in row:
                yield _entry("lenses_out", self.at(row["out"]), self.zone, {"eyes": row["eye"]})
        for row in self.record.get("no_wear", ()):
            night = date.fromisoformat(row["night"]) + self.days
            at = at_wall_clock(night, time(22), self.zone)
            yield _entry("no_lenses", at, self.zone, {"eyes": row["eye"], "night": night.isoformat()})
        for row in self.record["acuity"]:
            seen = {"eye": row["eye"], "logmar": row["logmar"], "distance_m": row.get("distance_m", 6)}
            yield _entry("sight", self.at(row["at"]), self.zone, seen)


def _entry(kind: str, at: datetime, where: ZoneInfo, payload: Mapping[str, Any]) -> dict[str, Any]:
    moment = at.isoformat()
    return {
        "id": new_id(),
        "kind": kind,
        "at": moment,
        "zone": where.key,
        "made_at": moment,
        "payload": dict(payload),
    }
