"""Lens care: the steps, what is due, handling help with the clock of a stuck lens, the form for what is new."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from companion.common.errors import InvalidInput, NotAllowed
from companion.common.eyes import eyes_named
from companion.common.moments import NOON, at_wall_clock, parse_instant, zone
from companion.regimen.care import load_care
from companion.regimen.due import BOTTLES
from companion.usecases import care, recording
from companion.usecases.forms import Reading
from companion.web import care_painting, entries, safety_voice
from companion.web.context import actor, now, reading, typed
from companion.web.family import ask_consent_first
from companion.web.forms import Form

pages = Blueprint("care", __name__)
pages.before_request(ask_consent_first)
pages.context_processor(care_painting.care_words)

LONGEST_LABEL_DAYS = 1100
LONGEST_CARRIED = timedelta(hours=24)
FIELDS = ("day", "which", "eyes", "label_days", "use_by")


@pages.get("/w/<wearer_id>/care")
def steps(wearer_id: str) -> ResponseReturnValue:
    view = _view(wearer_id)
    return render_template("family/care.html", view=view, wearer=view["wearer"], topics=load_care().help)


@pages.get("/w/<wearer_id>/care/help/<topic>")
def help_with(wearer_id: str, topic: str) -> ResponseReturnValue:
    """Handling help about one thing that went wrong with a lens."""
    view = _view(wearer_id)
    found = load_care().help.get(topic)
    if found is None:
        abort(404)
    return render_template("family/care_help.html", view=view, wearer=view["wearer"], help=found)


@pages.route("/w/<wearer_id>/care/help/stuck", methods=["GET", "POST"])
def stuck(wearer_id: str) -> ResponseReturnValue:
    """A lens that does not move. Its clock starts with a diary entry; looking again only looks."""
    if request.method == "GET":
        return _paint_stuck(wearer_id, Form())
    said, eyes = request.form.get("said", ""), request.form.get("eyes", "")
    try:
        at = entries.when(request.form, now())
        raw = entries.raw(request.form, "stuck_lens", at, {"eyes": eyes, "said": said}, now())
        receipt = entries.send(wearer_id, [raw])
        if not _only_not_theirs(receipt):
            entries.refuse_rejected(receipt)
            return redirect(url_for("care.stuck", wearer_id=wearer_id), 303)
    except NotAllowed:
        pass
    except InvalidInput as error:
        return _paint_stuck(wearer_id, Form.refused(typed(), error)), 422
    _view(wearer_id)  # who may not even read it is turned away here
    # The carrier of a pass writes no diary: the clock rides in the address instead.
    since = at.isoformat(timespec="seconds") if said == "stuck" else None
    return redirect(url_for("care.stuck", wearer_id=wearer_id, eyes=eyes, since=since), 303)


@pages.post("/w/<wearer_id>/care/soak")
def soak(wearer_id: str) -> ResponseReturnValue:
    """The lenses went into fresh peroxide."""
    raw = entries.raw(request.form, "care_item", entries.when(request.form, now()), {"item": "soak"}, now())
    receipt = entries.send(wearer_id, [raw])
    entries.refuse_unallowed(receipt)
    if receipt.rejected:
        abort(409)
    return redirect(url_for("care.steps", wearer_id=wearer_id, saved=1), 303)


@pages.route("/w/<wearer_id>/care/<any(bottle, case, suction_cup, protein, lens):item>", methods=["GET", "POST"])
def renew(wearer_id: str, item: str) -> ResponseReturnValue:
    """Write down that a thing was opened, replaced or done."""
    view = _view(wearer_id)
    if not view["may_write"]:
        raise NotAllowed("write_diary")
    form = Form()
    if request.method == "POST":
        try:
            at, payload = _renewed(item, zone(view["wearer"]["zone"]))
            raw = entries.raw(request.form, "care_item", at, payload, now())
            receipt = entries.send(wearer_id, [raw])
            entries.refuse_rejected(receipt)
            return redirect(url_for("care.steps", wearer_id=wearer_id, saved=1), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    return render_template(
        "family/care_renew.html", view=view, wearer=view["wearer"], item=item, form=form, fields=FIELDS,
        today=view["now"][:10], bottles=BOTTLES,
    ), 422 if form.problems else 200  # fmt: skip


def _view(wearer_id: str) -> dict[str, Any]:
    with reading() as store:
        view = care.care(store, actor(), wearer_id, now())
        safety_voice.about(store, [view["practice"]["id"]])
        return view


def _paint_stuck(wearer_id: str, form: Form) -> str:
    view = _view(wearer_id)
    clocks = view["stuck"] or _carried(zone(view["wearer"]["zone"]))
    return render_template(
        "family/care_stuck.html", view=view, wearer=view["wearer"], form=form, clocks=clocks,
        help=load_care().help["stuck"],
    )  # fmt: skip


def _carried(where: ZoneInfo) -> list[dict[str, Any]]:
    """Return the clock that rides in the address, if one does that can be true."""
    try:
        eyes, since = request.args.get("eyes", ""), parse_instant(request.args.get("since", ""))
        eyes_named(eyes)
    except ValueError:
        return []
    return [care.stuck_plain(eyes, since, now(), where)] if now() - LONGEST_CARRIED <= since <= now() else []


def _only_not_theirs(receipt: recording.Receipt) -> bool:
    """Say whether all that is wrong with an entry is that its sender keeps no diary."""
    codes = {problem.code for one in receipt.rejected for problem in one.problems}
    return codes == {"not_allowed"}


def _renewed(item: str, where: ZoneInfo) -> tuple[datetime, dict[str, Any]]:
    """Read the form: when it was new (today is now, an earlier day its noon) and what else the item needs."""
    read = Reading(request.form)
    today = now().astimezone(where).date()
    day = read.day("day", latest=today)
    payload: dict[str, Any] = {"item": item}
    if item == "bottle":
        payload["which"] = read.choice("which", BOTTLES)
    if item == "lens":
        payload["eyes"] = read.choice("eyes", ("both", "right", "left"))
    if item in ("bottle", "case", "suction_cup"):
        label_days = read.whole("label_days", 1, LONGEST_LABEL_DAYS, optional=True)
        payload |= {"label_days": label_days} if label_days is not None else {}
    if item == "bottle":
        use_by = read.day("use_by", optional=True)
        payload |= {"use_by": use_by.isoformat()} if use_by is not None else {}
    read.finish()
    assert day is not None
    return (now() if day == today else at_wall_clock(day, NOON, where)), payload
