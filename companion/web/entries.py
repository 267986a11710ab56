"""From a form without script to raw entries for the diary. Owns the field names; the diary judges what they say.

The id of an entry is made when its form is painted and rides in a hidden field: a form sent twice is one entry.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from flask import request

from companion.common.errors import InvalidInput, NotAllowed, NotFound, Problem
from companion.common.eyes import EYES
from companion.common.ids import new_id
from companion.common.moments import NOON, at_wall_clock, zone
from companion.usecases.recording import Receipt, record_entries
from companion.web import context
from companion.web.kept import is_local

Form = Mapping[str, str]
RawEntry = dict[str, Any]


def tap(form: Form, now: datetime) -> RawEntry:
    """Read a one-tap form: lenses in, out, or not tonight."""
    kind = form.get("kind", "")
    payload: dict[str, Any] = {"eyes": form.get("eyes", "")}
    if kind == "no_lenses":
        payload["night"] = form.get("night", "")
    at = when(form, now)
    return raw(form, kind, at, payload, now)


def raw(
    form: Form, kind: str, at: datetime, payload: Mapping[str, Any], now: datetime, id_field: str = "id"
) -> RawEntry:
    """Return an entry as the diary takes it in."""
    return {
        "id": form.get(id_field, ""),
        "kind": kind,
        "at": at.isoformat(),
        "zone": form.get("zone", ""),
        "made_at": now.isoformat(),
        "payload": payload,
    }


def when(form: Form, now: datetime) -> datetime:
    """Read when it happened: a date with a time, a time within the last 24 hours, minutes ago, or now."""
    if form.get("day"):
        return _on_day(form)
    if form.get("clock"):
        return _last_time(form, now)
    minutes = form.get("minutes_ago") or "0"
    if not minutes.isascii() or not minutes.isdigit() or int(minutes) > 24 * 60:
        raise InvalidInput(Problem("not_a_number", "minutes_ago"))
    return now - timedelta(minutes=int(minutes))


def sight(form: Form, now: datetime) -> list[RawEntry]:
    """Read how sight was: in words or off a chart, for each eye; an eye left out says nothing."""
    at = when(form, now)
    said = []
    for eye in EYES:
        if form.get(f"word_{eye}"):
            payload: dict[str, Any] = {"eye": eye.value, "word": form[f"word_{eye}"]}
            said.append(raw(form, "sight", at, payload, now, f"id_word_{eye}"))
        if form.get(f"logmar_{eye}"):
            payload = {
                "eye": eye.value,
                "logmar": _decimal(form, f"logmar_{eye}"),
                "distance_m": _decimal(form, "distance_m"),
            }
            said.append(raw(form, "sight", at, payload, now, f"id_chart_{eye}"))
    if not said:
        raise InvalidInput(Problem("sight_missing", "word_right"))
    return said


def of_night(form: Form, night: date, now: datetime) -> RawEntry:
    """Read what is added to a past night: lenses in or out at a time, or none."""
    kind, eyes = form.get("kind", ""), form.get("eyes", "")
    if kind == "no_lenses":
        return raw(form, kind, now, {"eyes": eyes, "night": night.isoformat()}, now)
    try:
        clock, where = time.fromisoformat(form.get("clock", "")), zone(form.get("zone", ""))
    except ValueError:
        raise InvalidInput(Problem("not_a_clock", "clock")) from None
    day = night if clock >= NOON else night + timedelta(days=1)
    return raw(form, kind, at_wall_clock(day, clock, where), {"eyes": eyes}, now)


def as_planned(form: Form, exceptions: Sequence[str], now: datetime) -> RawEntry:
    payload = {"since": form.get("since", ""), "until": form.get("until", ""), "except": list(exceptions)}
    return raw(form, "as_planned", now, payload, now)


def correction(form: Form, entry_id: str, now: datetime) -> RawEntry:
    """Read how an entry should read. Its kind stays, and so does its time unless another one was typed."""
    kind = form.get("kind", "")
    payload = {
        "replaces": entry_id,
        "kind": kind,
        "at": _on_day(form).isoformat() if form.get("day") else form.get("at", ""),
        "zone": form.get("zone", ""),
        "payload": _corrected(kind, form),
    }
    return raw(form, "correction", now, payload, now)


def _corrected(kind: str, form: Form) -> dict[str, Any]:
    match kind:
        case "lenses_in" | "lenses_out":
            return {"eyes": form.get("eyes", "")}
        case "no_lenses":
            return {"eyes": form.get("eyes", ""), "night": form.get("of_night", "")}
        case "sight" if "word" in form:
            return {"eye": form.get("eye", ""), "word": form["word"]}
        case "sight":
            return {
                "eye": form.get("eye", ""),
                "logmar": _decimal(form, "logmar"),
                "distance_m": _decimal(form, "distance_m"),
            }
        case "as_planned":
            exceptions = [one for one in form.get("except", "").split(",") if one]
            return {"since": form.get("since", ""), "until": form.get("until", ""), "except": exceptions}
    return {"text": form.get("text", "")}


def send(wearer_id: str, raw_entries: Sequence[RawEntry]) -> Receipt:
    """Record entries in the name of whoever is signed in, and say what became of them.

    An id that stands for other words already comes from a page kept open since an earlier tap: the entries are
    then sent anew under ids of their own, so that a stale page loses nothing.
    """
    receipt = _record(wearer_id, raw_entries)
    if any(problem.code == "id_conflict" for one in receipt.rejected for problem in one.problems):
        taken = set(receipt.accepted)
        anew = [one if one["id"] in taken else {**one, "id": new_id()} for one in raw_entries]
        receipt = _record(wearer_id, anew)
    return receipt


def _record(wearer_id: str, raw_entries: Sequence[RawEntry]) -> Receipt:
    with context.writing() as store:
        return record_entries(store, context.actor(), wearer_id, raw_entries, context.now())


def refuse_rejected(receipt: Receipt) -> None:
    """Raise what is wrong with the entries that were not taken, if any."""
    refuse_unallowed(receipt)
    problems = [problem for one in receipt.rejected for problem in one.problems]
    if problems:
        raise InvalidInput(*problems)


def refuse_unallowed(receipt: Receipt) -> None:
    """Where nothing was taken because it was not theirs to say: 403, or 404 for somebody whose right has ended."""
    codes = {problem.code for one in receipt.rejected for problem in one.problems}
    if codes == {"not_allowed"} and not receipt.accepted:
        raise NotAllowed("write_diary") if receipt.verified else NotFound("wearer")


def _on_day(form: Form) -> datetime:
    try:
        local = datetime.fromisoformat(f"{form['day']}T{form.get('clock', '')}")
        return at_wall_clock(local.date(), local.time(), zone(form.get("zone", "")))
    except ValueError:
        raise InvalidInput(Problem("not_a_clock", "clock")) from None


def _last_time(form: Form, now: datetime) -> datetime:
    """Return the last instant at which the clock at the wearer's place showed the time that was typed."""
    try:
        clock, where = time.fromisoformat(form["clock"]), zone(form.get("zone", ""))
    except ValueError:
        raise InvalidInput(Problem("not_a_clock", "clock")) from None
    today = now.astimezone(where).date()
    at = at_wall_clock(today, clock, where)
    return at if at <= now else at_wall_clock(today - timedelta(days=1), clock, where)


def _decimal(form: Form, field: str) -> float:
    try:
        return float(form.get(field, "").strip().replace(",", ".").replace("−", "-"))
    except ValueError:
        raise InvalidInput(Problem("not_a_number", field)) from None


def back_to(otherwise: str) -> str:
    """Return where the form wants to go on, if that is a page of ours."""
    target = request.form.get("back", "")
    return target if is_local(target) else otherwise
