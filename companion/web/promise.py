"""The promise that an alert is: how it climbs, test alerts, the switch, and what the family says of a call."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from companion.common.errors import InvalidInput
from companion.usecases import alert_settings, called, test_alerts
from companion.web.context import actor, now, reading, typed, writing
from companion.web.desk_painting import desk_words, now_as
from companion.web.forms import Form

pages = Blueprint("promise", __name__)
pages.context_processor(desk_words)


# -- how alerts climb, the manager's --
@pages.route("/desk/practice/alerts", methods=["GET", "POST"])
def alerts() -> ResponseReturnValue:
    if request.method != "POST":
        return _settings(Form())
    try:
        with writing() as session:
            alert_settings.save(session, actor(), typed(), now())
    except InvalidInput as error:
        return _settings(Form.refused(typed(), error)), 422
    return redirect(url_for("promise.alerts", saved=1), 303)


@pages.post("/desk/practice/alerts/switch")
def switch() -> ResponseReturnValue:
    """On or off. Off is asked for twice: by the box beside the button."""
    on, confirmed = request.form.get("on") == "yes", request.form.get("confirmed") == "yes"
    try:
        with writing() as session:
            alert_settings.switch(session, actor(), on, confirmed, now())
    except InvalidInput as error:
        return _settings(Form.refused(typed(), error)), 422
    return redirect(url_for("promise.alerts", saved=1), 303)


@pages.post("/desk/practice/alerts/test/<person_id>")
def send_test(person_id: str) -> ResponseReturnValue:
    try:
        with writing() as session:
            test_alerts.send_now(session, actor(), person_id, now())
    except InvalidInput as error:
        return _settings(Form.refused({}, error)), 422
    return redirect(url_for("promise.alerts", sent=1) + "#ways", 303)


def _settings(form: Form) -> str:
    with reading() as session:
        view = alert_settings.settings(session, actor(), now())
    moment = now_as(view["now"])
    return render_template("practice/alerts.html", view=view, form=form, now=moment, here="practice")


# -- answering a test --
@pages.route("/desk/tests/<alert_test_id>", methods=["GET", "POST"])
def test_alert(alert_test_id: str) -> ResponseReturnValue:
    """The page that a test links to. Looking answers nothing; mail scanners look too."""
    if request.method == "POST":
        with writing() as session:
            test_alerts.answer(session, actor(), alert_test_id, now())
        return redirect(url_for("promise.test_alert", alert_test_id=alert_test_id), 303)
    with reading() as session:
        view = test_alerts.show(session, actor(), alert_test_id)
    return render_template("practice/test_alert.html", test=view, now=now_as(view["sent_at"]), here="desk")


# -- the family's word --
@pages.post("/w/<wearer_id>/reports/<report_id>/called")
def say_called(wearer_id: str, report_id: str) -> ResponseReturnValue:
    with writing() as session:
        called.say_called(session, actor(), wearer_id, report_id, request.form.get("called", ""), now())
    return redirect(url_for("wrong.report", wearer_id=wearer_id, report_id=report_id) + "#told", 303)
