"""The practice's screens about people: staff, invitations, guardians, ways back in, hand-over, settings."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from companion.common.errors import Conflict, InvalidInput, Problem
from companion.phrasebook import account_words
from companion.usecases import guardianships, handover, invitations, practice_settings, recovery, staff
from companion.web.cards import Card, card
from companion.web.context import actor, now, reading, typed, writing
from companion.web.desk_painting import desk_words
from companion.web.forms import Form

pages = Blueprint("people", __name__)
pages.context_processor(desk_words)
pages.context_processor(lambda: {"account_words": account_words})


# -- staff and settings, the manager's --
@pages.route("/desk/staff", methods=["GET", "POST"])
def staff_list() -> ResponseReturnValue:
    if request.method == "GET":
        return _staff(Form())
    try:
        with writing() as session:
            form = request.form
            token = invitations.invite_staff(
                session, actor(), form.get("role", ""), form.get("name", ""), now(), form.get("language", "en")
            )
    except InvalidInput as error:
        return _staff(Form.refused(typed(), error)), 422
    return _card_page(invitation_card(token), url_for("people.staff_list"), "staff")


@pages.post("/desk/staff/<person_id>/<any(assistant, practitioner, manager):role>/end")
def end_membership(person_id: str, role: str) -> ResponseReturnValue:
    try:
        with writing() as session:
            staff.end_membership(session, actor(), person_id, role, now())
    except InvalidInput as error:
        return _staff(Form.refused({}, error)), 422
    return redirect(url_for("people.staff_list"), 303)


@pages.route("/desk/practice", methods=["GET", "POST"])
def practice() -> ResponseReturnValue:
    form = Form()
    if request.method == "POST":
        try:
            with writing() as session:
                practice_settings.save(session, actor(), typed(), now())
            return redirect(url_for("people.practice", saved=1), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    with reading() as session:
        view = practice_settings.settings(session, actor())
    page = render_template("practice/settings.html", view=view, form=form, here="practice")
    return page, 422 if form.problems else 200


def _staff(form: Form) -> str:
    with reading() as session:
        view = staff.staff(session, actor(), now())
    roles = list(account_words.ROLES)
    return render_template("practice/staff.html", view=view, roles=roles, form=form, here="staff")


# -- invitations --
@pages.post("/desk/invitations/<invitation_id>/resend")
def resend(invitation_id: str) -> ResponseReturnValue:
    """A fresh link in place of the old one."""
    try:
        with writing() as session:
            token = invitations.resend(session, actor(), invitation_id, now())
    except Conflict as conflict:
        return _sorry(Problem(conflict.code, "invitation"), 409)
    return _card_page(invitation_card(token), _home_of(token), "wearers")


@pages.post("/desk/invitations/<invitation_id>/revoke")
def revoke(invitation_id: str) -> ResponseReturnValue:
    try:
        with writing() as session:
            row = invitations.revoke(session, actor(), invitation_id, now())
    except Conflict as conflict:
        return _sorry(Problem(conflict.code, "invitation"), 409)
    back = url_for("practice.wearer", wearer_id=row.wearer_id) if row.wearer_id else url_for("people.staff_list")
    return redirect(back, 303)


def invitation_card(token: str) -> Card:
    """The card of an invitation that was made a moment ago."""
    with reading() as session:
        view = invitations.look(session, token, now())
    kind = "staff" if view["wearer"] is None else view["kind"]
    wearer = (view["wearer"] or {}).get("name", "")
    return card(
        kind, "account.join", token, view["language"], view["name"], view["practice"], view["expires_at"], wearer
    )


def _home_of(token: str) -> str:
    with reading() as session:
        row = invitations.invitation_of(session, token)
    return url_for("practice.wearer", wearer_id=row.wearer_id) if row.wearer_id else url_for("people.staff_list")


# -- guardians, and ways back in --
@pages.route("/desk/wearers/<wearer_id>/guardians/<person_id>/end", methods=["GET", "POST"])
def end_guardianship(wearer_id: str, person_id: str) -> ResponseReturnValue:
    """Asked once more on a page of its own: it shuts a parent out."""
    problem = None
    if request.method == "POST":
        try:
            with writing() as session:
                guardianships.end_guardianship(session, actor(), wearer_id, person_id, now())
            return redirect(url_for("practice.wearer", wearer_id=wearer_id), 303)
        except InvalidInput as error:
            problem = error.problems[0]
    with reading() as session:
        view = guardianships.guardianship(session, actor(), wearer_id, person_id, now())
    page = render_template("practice/end_guardianship.html", view=view, problem_=problem, here="wearers")
    return page, 422 if problem else 200


@pages.post("/desk/people/<person_id>/recover")
def recover(person_id: str) -> ResponseReturnValue:
    try:
        with writing() as session:
            token = recovery.start_at_the_desk(session, actor(), person_id, now())
    except InvalidInput as error:
        return _sorry(error.problems[0], 422)
    with reading() as session:
        view = recovery.look(session, token, now())
    made = card(
        "recovery", "ways_in.recover", token, view["language"], view["name"], view["practice"], view["expires_at"]
    )
    return _card_page(made, url_for("practice.desk"), "desk")


@pages.post("/desk/recoveries/<recovery_id>/<any(confirm, refuse):deed>")
def recovery_asked(recovery_id: str, deed: str) -> ResponseReturnValue:
    """The practice's word on what a co-guardian asked for."""
    with writing() as session:
        (recovery.confirm if deed == "confirm" else recovery.refuse)(session, actor(), recovery_id, now())
    return redirect(url_for("practice.desk"), 303)


# -- hand-over --
@pages.route("/desk/wearers/<wearer_id>/handover", methods=["GET", "POST"])
def hand_over(wearer_id: str) -> ResponseReturnValue:
    problem = None
    if request.method == "POST":
        try:
            with writing() as session:
                _hand_over(session, wearer_id)
            return redirect(url_for("practice.wearer", wearer_id=wearer_id), 303)
        except InvalidInput as error:
            problem = error.problems[0]
    with reading() as session:
        view = handover.plan(session, actor(), wearer_id, now())
    page = render_template("practice/handover.html", view=view, problem_=problem, here="wearers")
    return page, 422 if problem else 200


def _hand_over(session: Session, wearer_id: str) -> None:
    deed = handover.take_back if request.form.get("back") else handover.offer
    deed(session, actor(), wearer_id, now())


def _card_page(made: Card, back: str, here: str) -> str:
    return render_template("practice/card.html", card=made, back=back, here=here)


def _sorry(problem: Problem, status: int) -> ResponseReturnValue:
    return render_template("practice/sorry.html", problem_=problem, here="desk"), status
