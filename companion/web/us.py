"""*Us*: the password, where one is signed in, what is stored; a child's sign and hours; passes; hand-over."""

from __future__ import annotations

import json

from flask import Blueprint, Response, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from companion.common.errors import InvalidInput, NotFound
from companion.phrasebook import account_words
from companion.usecases import account, consents, handover, helping, own_data, passes, profile, recovery, signing
from companion.usecases.profile import MARKS
from companion.web.cards import card
from companion.web.context import actor, now, reading, typed, writing
from companion.web.forms import Form

pages = Blueprint("us", __name__)


def know_the_family() -> None:
    """Whose children there are: for the ways round, and for the hour that lights the page."""
    with reading() as store:
        g.frame = signing.frame(store, actor(), now())


pages.before_request(know_the_family)
pages.context_processor(lambda: {"account_words": account_words})


# -- one's own account --
@pages.route("/us/password", methods=["GET", "POST"])
def password() -> ResponseReturnValue:
    form = Form()
    if request.method == "POST":
        try:
            with reading() as store:
                new = account.read_new_password(store, actor(), typed())
            with writing() as store:
                account.change_password(store, actor(), new, now())
            return redirect(url_for("account.us", saved=1), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    else:
        with reading() as store:
            account.account(store, actor(), now())  # asks whether there is one
    return render_template("account/password.html", form=form), 422 if form.problems else 200


@pages.get("/us/sign-ins")
def sign_ins() -> ResponseReturnValue:
    with reading() as store:
        rows = account.sign_ins(store, actor(), now())
    return render_template("account/sign_ins.html", sign_ins=rows)


@pages.post("/us/sign-ins/<sign_in_id>/end")
def end_sign_in(sign_in_id: str) -> ResponseReturnValue:
    with writing() as store:
        account.end_sign_in(store, actor(), sign_in_id, now())
    return redirect(url_for("us.sign_ins", saved=1), 303)


@pages.post("/us/sign-ins/end-others")
def end_others() -> ResponseReturnValue:
    with writing() as store:
        account.end_other_sign_ins(store, actor(), now())
    return redirect(url_for("us.sign_ins", saved=1), 303)


@pages.get("/us/stored")
def stored() -> ResponseReturnValue:
    with reading() as store:
        view = own_data.summary(store, actor(), now())
    return render_template("account/stored.html", view=view)


@pages.get("/us/stored.json")
def stored_file() -> ResponseReturnValue:
    with reading() as store:
        document = own_data.export(store, actor(), now())
    text = json.dumps(document, ensure_ascii=False, indent=2) + "\n"
    named = {"Content-Disposition": 'attachment; filename="companion.json"'}
    return Response(text, mimetype="application/json", headers=named)


@pages.route("/us/withdraw", methods=["GET", "POST"])
def withdraw() -> ResponseReturnValue:
    """Take the agreement back, after reading what that means."""
    if request.method == "POST":
        with writing() as store:
            consents.withdraw(store, actor(), now())
        return redirect(url_for("account.us", saved=1), 303)
    with reading() as store:
        view = own_data.summary(store, actor(), now())
    return render_template("account/withdraw.html", view=view)


# -- a wearer's sign and hours --
@pages.route("/w/<wearer_id>/profile", methods=["GET", "POST"])
def profile_of(wearer_id: str) -> ResponseReturnValue:
    form = Form()
    if request.method == "POST":
        try:
            with writing() as store:
                if "mark" in request.form:
                    profile.set_mark(store, actor(), wearer_id, request.form["mark"], now())
                else:
                    profile.set_hours(store, actor(), wearer_id, typed(), now())
            return redirect(url_for("us.profile_of", wearer_id=wearer_id, saved=1), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    with reading() as store:
        view = profile.profile(store, actor(), wearer_id, now())
    page = render_template("account/profile.html", view=view, wearer=view["wearer"], marks=MARKS, form=form)
    return page, 422 if form.problems else 200


# -- passes for carers --
@pages.route("/w/<wearer_id>/passes", methods=["GET", "POST"])
def passes_of(wearer_id: str) -> ResponseReturnValue:
    form = Form()
    if request.method == "POST":
        try:
            with writing() as store:
                token = passes.issue(store, actor(), wearer_id, typed(), now())
            with reading() as store:
                view = passes.look(store, token, now())
            made = card(
                "pass", "ways_in.carry", token, view["language"], view["name"], view["practice"],
                view["expires_at"], view["wearer"]["name"],
            )  # fmt: skip
            back = url_for("us.passes_of", wearer_id=wearer_id)
            return render_template("account/card.html", card=made, back=back, wearer=view["wearer"])
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    with reading() as store:
        view = passes.passes(store, actor(), wearer_id, now())
    page = render_template("account/passes.html", view=view, wearer=view["wearer"], form=form)
    return page, 422 if form.problems else 200


@pages.post("/w/<wearer_id>/passes/<pass_id>/end")
def end_pass(wearer_id: str, pass_id: str) -> ResponseReturnValue:
    with writing() as store:
        passes.revoke(store, actor(), wearer_id, pass_id, now())
    return redirect(url_for("us.passes_of", wearer_id=wearer_id, saved=1), 303)


# -- the other guardian, and the hand-over --
@pages.get("/w/<wearer_id>/adults")
def adults(wearer_id: str) -> ResponseReturnValue:
    """Who else looks after this child: names alone."""
    with reading() as store:
        view = recovery.co_guardians(store, actor(), wearer_id, now())
    return render_template("account/adults.html", view=view, wearer=view["wearer"])


@pages.post("/w/<wearer_id>/adults/<person_id>/vouch")
def vouch(wearer_id: str, person_id: str) -> ResponseReturnValue:
    with writing() as store:
        token = recovery.vouch(store, actor(), wearer_id, person_id, now())
    with reading() as store:
        view = recovery.look(store, token, now())
        wearer = helping.help_for(store, actor(), wearer_id, now())["wearer"]
    made = card(
        "vouched", "ways_in.recover", token, view["language"], view["name"], view["practice"], view["expires_at"]
    )
    back = url_for("us.adults", wearer_id=wearer_id)
    return render_template("account/card.html", card=made, back=back, wearer=wearer)


@pages.route("/w/<wearer_id>/handover", methods=["GET", "POST"])
def handover_of(wearer_id: str) -> ResponseReturnValue:
    if request.method == "POST":
        with writing() as store:
            handover.read(store, actor(), wearer_id, now())
        return redirect(url_for("family.tonight_of", wearer_id=wearer_id, saved=1), 303)
    with reading() as store:
        view = handover.show(store, actor(), wearer_id, now())
    if view["side"] is None:
        raise NotFound("handover")
    return render_template("account/handover.html", view=view, wearer=view["wearer"])
