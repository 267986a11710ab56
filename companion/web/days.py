"""Days that matter, and the first weeks: the family's pages about what is to come."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from companion.common.errors import InvalidInput
from companion.usecases import days, first_weeks
from companion.web.context import actor, now, reading, typed, writing
from companion.web.family import ask_consent_first
from companion.web.forms import Form

pages = Blueprint("days", __name__)
pages.before_request(ask_consent_first)

FIELDS = ("label", "day", "starts", "ends", "driving")


@pages.route("/w/<wearer_id>/days", methods=["GET", "POST"])
def days_of(wearer_id: str) -> ResponseReturnValue:
    form = Form()
    if request.method == "POST":
        try:
            with writing() as store:
                days.add_day(store, actor(), wearer_id, typed(), now())
            return redirect(url_for("days.days_of", wearer_id=wearer_id, saved=1), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    with reading() as store:
        view = days.days_page(store, actor(), wearer_id, now())
    page = render_template("family/days.html", view=view, wearer=view["wearer"], form=form, fields=FIELDS)
    return page, 422 if form.problems else 200


@pages.post("/w/<wearer_id>/days/<day_id>/remove")
def remove(wearer_id: str, day_id: str) -> ResponseReturnValue:
    with writing() as store:
        days.remove_day(store, actor(), wearer_id, day_id, now())
    return redirect(url_for("days.days_of", wearer_id=wearer_id, saved=1), 303)


@pages.get("/w/<wearer_id>/first-weeks")
def weeks(wearer_id: str) -> ResponseReturnValue:
    with reading() as store:
        view = first_weeks.first_weeks_page(store, actor(), wearer_id, now())
    return render_template("family/first_weeks.html", view=view, wearer=view["wearer"])
