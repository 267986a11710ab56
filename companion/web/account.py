"""Doors and accounts: sign in and out, join by a link, consent, one's own page."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, session, url_for
from flask.typing import ResponseReturnValue
from flask_login import login_user, logout_user

from companion.common.errors import InvalidInput
from companion.phrasebook.consent_words import TEXTS
from companion.phrasebook.phrases import own_digits
from companion.usecases import account, consents, invitations, preferences, signing
from companion.web.context import (
    actor,
    address_in,
    house,
    language,
    load_visitor,
    now,
    reading,
    typed,
    visitor,
    writing,
)
from companion.web.doors import open_to_all
from companion.web.forms import Form
from companion.web.kept import is_local, offer_riders, riding_along

pages = Blueprint("account", __name__)


@pages.get("/")
@open_to_all
def home() -> ResponseReturnValue:
    who = visitor()
    if who is None:
        return redirect(url_for("account.sign_in"))
    return redirect(url_for("practice.desk") if who.practice_id else url_for("family.whose", place="tonight"))


@pages.route("/sign-in", methods=["GET", "POST"])
@open_to_all
def sign_in() -> ResponseReturnValue:
    if request.method == "GET":
        return render_template("account/sign_in.html", form=Form())
    try:
        with reading() as store:
            proof = signing.check_password(
                store, request.form.get("login", ""), request.form.get("password", "")
            )
        with writing() as store:
            token = signing.sign_in(store, proof, now(), _agent())
    except InvalidInput as error:
        form = Form.refused(typed(), error)
        return render_template("account/sign_in.html", form=form, kept=riding_along()), 422
    enter(token)
    target = request.args.get("next", "")
    return offer_riders() or redirect(target if is_local(target) else url_for("account.home"), 303)


@pages.post("/sign-out")
def sign_out() -> ResponseReturnValue:
    with writing() as store:
        signing.sign_out(store, actor(), now())
    logout_user()
    session.clear()
    return redirect(url_for("account.sign_in", bye=1), 303)


@pages.route("/join/<token>", methods=["GET", "POST"])
@open_to_all
def join(token: str) -> ResponseReturnValue:
    form = Form()
    with reading() as store:
        view = invitations.look(store, token, now(), visitor())
    address_in(request.form.get("language") or view["language"])
    if request.method == "POST":
        try:
            if visitor() and "as_me" in request.form:
                with writing() as store:
                    invitations.accept_as(store, actor(), token, now())
            else:
                with reading() as store:
                    new = invitations.read_form(store, token, typed(), now())
                with writing() as store:
                    sign_in_token = invitations.accept(store, token, new, now(), _agent())
                enter(sign_in_token)
            return redirect(url_for("account.home"), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    return render_template("account/join.html", view=view, form=form), 422 if form.problems else 200


@pages.route("/consent", methods=["GET", "POST"])
def consent() -> ResponseReturnValue:
    form = Form()
    if request.method == "POST":
        try:
            with writing() as store:
                consents.give(store, actor(), request.form.get("version", ""), language().tag, now())
            return redirect(url_for("account.home"), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    with reading() as store:
        view = consents.current(store, actor())
    parts = TEXTS[view["version"]]
    status = 422 if form.problems else 200
    return render_template("account/consent.html", view=view, parts=parts, form=form), status


@pages.route("/us", methods=["GET", "POST"])
def us() -> ResponseReturnValue:
    form = Form()
    if request.method == "POST":
        try:
            with writing() as store:
                preferences.prefer(store, actor(), typed(), house().settings.languages)
            return redirect(url_for("account.us", saved=1), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    with reading() as store:
        frame = signing.frame(store, actor(), now())
        mine = account.account(store, actor(), now())
    digits = own_digits(language())
    page = render_template("account/us.html", frame=frame, mine=mine, own_digits=digits, form=form)
    return page, 422 if form.problems else 200


def login_tried() -> str:
    """Name the log-in of a form, however it is typed: tries are counted by it, from whatever address they come."""
    with reading() as store:
        return signing.login_key(store, request.form.get("login", ""))


def enter(token: str) -> None:
    """Sign this browser in with a fresh session: nothing of the one before goes on, whoever began it."""
    session.clear()
    session.permanent = True
    person = load_visitor(token)
    assert person is not None
    login_user(person)


def _agent() -> str:
    return request.user_agent.string
