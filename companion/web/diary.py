"""The diary: nights at a glance, one night with everything said of it, and all of it open to correction."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from flask import Blueprint, render_template, request, url_for
from flask import redirect as lead_to
from flask.typing import ResponseReturnValue

from companion.common.errors import InvalidInput, NotFound
from companion.usecases import diary_pages, moving
from companion.web import entries
from companion.web.context import actor, now, reading, typed, writing
from companion.web.entries import RawEntry
from companion.web.family import ask_consent_first
from companion.web.forms import Form

pages = Blueprint("diary", __name__)
pages.before_request(ask_consent_first)


@pages.get("/w/<wearer_id>/diary")
def weeks(wearer_id: str) -> ResponseReturnValue:
    wanted = request.args.get("weeks", 4, type=int)
    view = _weeks(wearer_id, wanted)
    return render_template("diary/weeks.html", view=view, wearer=view["wearer"])


@pages.route("/w/<wearer_id>/diary/<night>", methods=["GET", "POST"])
def night(wearer_id: str, night: str) -> ResponseReturnValue:
    """One night; a form here adds to it."""
    if request.method == "GET":
        return _paint_night(wearer_id, night, Form())
    try:
        _record(wearer_id, entries.of_night(request.form, _date(night), now()))
    except InvalidInput as error:
        return _paint_night(wearer_id, night, Form.refused(typed(), error)), 422
    return lead_to(url_for("diary.night", wearer_id=wearer_id, night=night, saved=1), 303)


@pages.post("/w/<wearer_id>/entries/<entry_id>/correct")
def correct(wearer_id: str, entry_id: str) -> ResponseReturnValue:
    night = request.form.get("night", "")
    try:
        _record(wearer_id, entries.correction(request.form, entry_id, now()))
    except InvalidInput as error:
        return _paint_night(wearer_id, night, Form.refused(typed(), error)), 422
    return lead_to(entries.back_to(url_for("diary.weeks", wearer_id=wearer_id, saved=1)), 303)


@pages.post("/w/<wearer_id>/entries/<entry_id>/move")
def move(wearer_id: str, entry_id: str) -> ResponseReturnValue:
    """It was about another child: taken back here, said there."""
    form = request.form
    ids = (form.get("id", ""), form.get("moved_id", ""))
    with writing() as store:
        moving.move_entry(store, actor(), wearer_id, entry_id, form.get("to", ""), ids, now())
    return lead_to(url_for("family.tonight_of", wearer_id=form["to"], moved=1), 303)


@pages.route("/w/<wearer_id>/note", methods=["GET", "POST"])
def note(wearer_id: str) -> ResponseReturnValue:
    form = Form()
    if request.method == "POST":
        try:
            said = {"text": request.form.get("text", "")}
            _record(wearer_id, entries.raw(request.form, "note", now(), said, now()))
            return lead_to(url_for("diary.weeks", wearer_id=wearer_id, saved=1), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    view = _weeks(wearer_id, 1)
    status = 422 if form.problems else 200
    return render_template("diary/note.html", view=view, wearer=view["wearer"], form=form), status


@pages.route("/w/<wearer_id>/planned", methods=["GET", "POST"])
def planned(wearer_id: str) -> ResponseReturnValue:
    """All as planned since a night, with exceptions: one tap a week for a settled family."""
    form = Form()
    if request.method == "POST":
        try:
            _record(wearer_id, entries.as_planned(request.form, request.form.getlist("except"), now()))
            return lead_to(url_for("diary.weeks", wearer_id=wearer_id, saved=1), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    view = _weeks(wearer_id, 3)
    past = [one for one in view["nights"] if one["night"] < view["tonight"]][:14]
    return render_template(
        "diary/planned.html", view=view, wearer=view["wearer"], nights=past, form=form,
        picked=request.form.getlist("except"),
    ), 422 if form.problems else 200  # fmt: skip


def _weeks(wearer_id: str, wanted: int) -> dict[str, Any]:
    with reading() as store:
        return diary_pages.diary(store, actor(), wearer_id, now(), weeks=wanted)


def _record(wearer_id: str, raw: RawEntry) -> None:
    entries.refuse_rejected(entries.send(wearer_id, [raw]))


def _paint_night(wearer_id: str, night: str, form: Form) -> str:
    with reading() as store:
        view = diary_pages.night(store, actor(), wearer_id, _date(night), now())
    tomorrow = (_date(night) + timedelta(days=1)).isoformat()
    return render_template(
        "diary/night.html", view=view, night=view["night"], tomorrow=tomorrow, wearer=view["wearer"], form=form
    )


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise NotFound("night") from None
