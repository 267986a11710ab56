"""Tonight, and the few taps that a family makes every day."""

from __future__ import annotations

from flask import Blueprint, abort, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from companion.common.errors import InvalidInput, NotAllowed
from companion.usecases import signing, tonight
from companion.web import entries
from companion.web.context import actor, now, phrases, reading, typed
from companion.web.forms import Form
from companion.web.tonight_page import tonight_page

pages = Blueprint("family", __name__)
PLACES = {"tonight": "family.tonight_of", "diary": "diary.weeks", "care": "care.steps"}


def ask_consent_first() -> ResponseReturnValue | None:
    """Before a family's first page: what is kept here, and who sees it. Emergency advice never waits for it."""
    with reading() as store:
        g.frame = signing.frame(store, actor(), now())
    return redirect(url_for("account.consent")) if g.frame["consent_due"] else None


pages.before_request(ask_consent_first)


@pages.get("/<any(tonight, diary, care):place>")
def whose(place: str) -> ResponseReturnValue:
    """Go to the only wearer's page, or ask whose."""
    wearers = g.frame["wearers"]
    if len(wearers) == 1:
        return redirect(url_for(PLACES[place], wearer_id=wearers[0]["id"]))
    return render_template("family/whose.html", wearers=wearers, place=place, endpoint=PLACES[place])


@pages.get("/w/<wearer_id>/tonight")
def tonight_of(wearer_id: str) -> ResponseReturnValue:
    return _paint_tonight(wearer_id, Form())


@pages.post("/w/<wearer_id>/entries")
def record(wearer_id: str) -> ResponseReturnValue:
    try:
        raw = entries.tap(request.form, now())
        entries.refuse_rejected(entries.send(wearer_id, [raw]))
    except InvalidInput as error:
        return _paint_tonight(wearer_id, Form.refused(typed(), error)), 422
    return redirect(entries.back_to(url_for("family.tonight_of", wearer_id=wearer_id, saved=1)), 303)


@pages.post("/w/<wearer_id>/entries/<entry_id>/withdraw")
def withdraw(wearer_id: str, entry_id: str) -> ResponseReturnValue:
    raw = entries.raw(request.form, "withdrawal", now(), {"withdraws": entry_id}, now())
    receipt = entries.send(wearer_id, [raw])
    entries.refuse_unallowed(receipt)
    if receipt.rejected:
        abort(409)
    return redirect(entries.back_to(url_for("family.tonight_of", wearer_id=wearer_id, saved=1)), 303)


@pages.route("/w/<wearer_id>/sight", methods=["GET", "POST"])
def sight(wearer_id: str) -> ResponseReturnValue:
    form = Form()
    if request.method == "POST":
        try:
            raw_entries = entries.sight(request.form, now())
            entries.refuse_rejected(entries.send(wearer_id, raw_entries))
            return redirect(url_for("family.tonight_of", wearer_id=wearer_id, saved=1), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    with reading() as store:
        view = tonight.tonight(store, actor(), wearer_id, now())
    if "write_diary" not in view["may"]:
        raise NotAllowed("write_diary")
    status = 422 if form.problems else 200
    return render_template("family/sight.html", view=view, wearer=view["wearer"], form=form), status


def _paint_tonight(wearer_id: str, form: Form) -> str:
    with reading() as store:
        view = tonight.tonight(store, actor(), wearer_id, now())
    page = tonight_page(view, phrases())
    return render_template("family/tonight.html", view=view, page=page, wearer=view["wearer"], form=form)
