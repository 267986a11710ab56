"""*Something is wrong*: emergency advice first, then questions, then what to do and who has been told.

Open to everybody up to the point where something is stored. A stranger's answers are judged and shown, not kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Blueprint, redirect, render_template, request, session, url_for
from flask.typing import ResponseReturnValue

from companion.common.errors import InvalidInput, NotFound
from companion.common.ids import new_id
from companion.escalation.places import Place, countries
from companion.usecases import asked_level, helping, recording, reports, signing
from companion.usecases.actor import Actor
from companion.web import context, entries, questions, safety_voice
from companion.web.context import actor, now, reading, visitor, writing
from companion.web.doors import open_to_all
from companion.web.forms import Form
from companion.web.passing_on import passing_on
from companion.web.result_page import look_lines, result_page
from companion.web.whereabouts import place_here

pages = Blueprint("wrong", __name__)


@pages.get("/wrong")
@open_to_all
def first() -> ResponseReturnValue:
    """What to do in an emergency, before any question; then who it is about and which eye."""
    who = visitor()
    family: list[dict[str, Any]] = []
    if who:
        with reading() as store:
            family = helping.all_help(store, who, now())
            safety_voice.about(store, [one["practice"]["id"] for one in family])
    place = _place(family[0] if family else None)
    return render_template("wrong/first.html", family=family, place=place, places=countries())


@pages.route("/wrong/questions", methods=["GET", "POST"])
@open_to_all
def stranger() -> ResponseReturnValue:
    sheet = _sheet()
    if sheet is None:
        return redirect(url_for("wrong.first"))
    if not sheet.done:
        return _paint(sheet, None)
    return _judged(sheet, told=_sent_all_the_same(sheet))


@pages.route("/w/<wearer_id>/wrong", methods=["GET", "POST"])
def questions_of(wearer_id: str) -> ResponseReturnValue:
    with reading() as store:
        help_ = helping.help_unless_former(store, actor(), wearer_id, now())
        safety_voice.about(store, [help_["practice"]["id"]] if help_ else [])
    if help_ is None and request.method == "GET":
        raise NotFound("wearer")
    if help_ and not help_["practice"]["triage_on"] and request.method == "GET":
        return _fixed(help_)  # who began to answer before it was switched off may end, and nothing of it is lost
    sheet = _sheet()
    if sheet is None:
        return redirect(url_for("wrong.first"))
    if not sheet.done:
        return _paint(sheet, help_)
    payload = {"answers": sheet.document(), "language": context.language().tag}
    zone = help_["wearer"]["zone"] if help_ else "UTC"
    try:
        report_id = _send(wearer_id, zone, request.form.get("id", ""), payload)
    except NotFound:
        if help_ is not None:
            raise
        return _judged(sheet, told=False)  # the right ended too long ago: nobody has it, and the page says so
    if help_ is None:
        return _judged(sheet, told=True)
    return redirect(url_for("wrong.report", wearer_id=wearer_id, report_id=report_id), 303)


@pages.get("/w/<wearer_id>/reports/<report_id>")
def report(wearer_id: str, report_id: str) -> ResponseReturnValue:
    with reading() as store:
        view = reports.report(store, actor(), wearer_id, report_id, now())
        say = safety_voice.about(store, [view["practice"]["id"]]).say
    page = result_page(view["report"], view["practice"], view["alert"], say, now())
    place = _place(view)
    look = look_lines(view["look"], say, now()) if view["look"] else None
    passing = passing_on(view["report"], view["practice"], view["wearer"]["name"])
    return render_template(
        "wrong/report.html", view=view, report=view["report"], page=page, wearer=view["wearer"], place=place,
        places=countries(), look=look, passing=passing,
    )  # fmt: skip


@pages.post("/w/<wearer_id>/reports/<report_id>/more")
def more(wearer_id: str, report_id: str) -> ResponseReturnValue:
    """Ask for more urgency than the answers gave: the same answers once more, with the level asked for."""
    with reading() as store:
        asked = asked_level.asked_for(store, actor(), wearer_id, report_id, _level_asked(), now())
    if asked is not None:
        report_id = _send(wearer_id, asked.zone, request.form.get("id", ""), asked.payload, at=asked.at)
    return redirect(url_for("wrong.report", wearer_id=wearer_id, report_id=report_id), 303)


def _level_asked() -> int:
    said = request.form.get("asked_level", "")
    return int(said) if said.isdecimal() else 0


def _judged(sheet: questions.Sheet, told: bool = False) -> str:
    """What the answers call for. ``told``: the desk has them, though not sure from whom; else nobody has."""
    report = reports.stranger_report(sheet.shown, sheet.given, _level_asked())
    page = result_page(report, None, None, safety_voice.voice().say, now())
    passing = passing_on(report | {"answers": sheet.document()}, None, None)
    place = _place(None)
    said = [one for one in request.form.items() if one[0] not in ("country", "csrf_token", "asked_level")]
    return render_template(
        "wrong/stranger.html", report=report, page=page, place=place, places=countries(), told=told, said=said,
        passing=passing,
    )


def _sent_all_the_same(sheet: questions.Sheet) -> bool:
    """Send a report whose sign-in is over to the desk, unverified, if this browser still holds that sign-in."""
    token, own_page = session.get("_user_id"), request.headers.get("Origin") == request.host_url.rstrip("/")
    if visitor() or request.endpoint != "wrong.questions_of" or not token or not own_page:
        return False
    with reading() as store:
        sender = signing.sender_for_token(store, token)
    if sender is None:
        return False
    payload = {"answers": sheet.document(), "language": context.language().tag}
    try:
        _send((request.view_args or {})["wearer_id"], "UTC", request.form.get("id", ""), payload, sender)
    except (NotFound, InvalidInput):
        return False
    return True


def _send(
    wearer_id: str,
    zone: str,
    id_: str,
    payload: dict[str, Any],
    sender: Actor | None = None,
    at: str | None = None,
) -> str:
    """Store a report and return its id. An id that is spoilt, or stands for other answers already, is no reason to
    lose this one: it is sent anew under an id of its own."""
    for one in (id_, new_id()):
        raw = {
            "id": one, "kind": "symptom_report", "payload": payload, "zone": zone,
            "at": at or now().isoformat(), "made_at": now().isoformat(),
        }  # fmt: skip
        with writing() as store:
            receipt = recording.record_entries(store, sender or actor(), wearer_id, [raw], now())
        if receipt.reports:
            return receipt.reports[0]
    entries.refuse_rejected(receipt)
    raise RuntimeError("a report was neither taken nor refused")


def _sheet() -> questions.Sheet | None:
    """Return the page of questions that is due; None when nobody has said yet which eye."""
    if request.method == "POST":
        try:
            return questions.next_sheet(request.form)
        except ValueError:
            return None
    try:
        return questions.first_sheet(request.args.get("eyes", ""), request.args)
    except ValueError:
        return None


def _paint(sheet: questions.Sheet, help_: dict[str, Any] | None) -> ResponseReturnValue:
    answered = {f"{part}.{id_}": said for part, given in sheet.given.items() for id_, said in given.items()}
    form = Form(answered, sheet.problems)
    place = _place(help_)
    page = render_template(
        "wrong/questions.html", sheet=sheet, form=form, help=help_, place=place,
        wearer=help_["wearer"] if help_ else None, lost=help_ is None and request.endpoint == "wrong.questions_of",
    )  # fmt: skip
    return page, 422 if sheet.problems else 200


def _fixed(help_: dict[str, Any]) -> str:
    """What stands where a practice has switched triage off: signs and numbers, nothing asked."""
    place = _place(help_)
    return render_template(
        "wrong/fixed.html", help=help_, wearer=help_["wearer"], place=place, places=countries()
    )


def _place(about: Mapping[str, Any] | None) -> Place:
    """Whom to call where they are, in the eyes of a view with a practice and a wearer; None for a stranger."""
    return place_here(about["practice"]["country"], about["wearer"]["zone"]) if about else place_here(None, None)
