"""Ways in by a link alone: a carer's pass, and back in with a new password. Looking changes nothing."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from companion.common.errors import InvalidInput
from companion.usecases import passes, recovery, signing
from companion.web.account import enter
from companion.web.context import actor, address_in, now, reading, typed, visitor, writing
from companion.web.doors import open_to_all
from companion.web.forms import Form

pages = Blueprint("ways_in", __name__)


@pages.route("/pass/<token>", methods=["GET", "POST"])
@open_to_all
def carry(token: str) -> ResponseReturnValue:
    """Who gave this pass and what it is for; pressing the button signs this browser in as its carrier alone."""
    with reading() as store:
        view = passes.look(store, token, now())
    address_in(view["language"])
    if request.method == "GET":
        return render_template("account/pass.html", view=view, wearer=None, lit_for=view["wearer"])
    if visitor():
        with writing() as store:
            signing.sign_out(store, actor(), now())
    with writing() as store:
        sign_in = passes.open_pass(store, token, now(), request.user_agent.string)
    enter(sign_in)
    return redirect(url_for("family.tonight_of", wearer_id=view["wearer"]["id"]), 303)


@pages.route("/recover/<token>", methods=["GET", "POST"])
@open_to_all
def recover(token: str) -> ResponseReturnValue:
    form = Form()
    if request.method == "POST":
        try:
            with reading() as store:
                password_hash = recovery.read_form(store, token, typed(), now())
            with writing() as store:
                sign_in = recovery.use(store, token, password_hash, now(), request.user_agent.string)
            enter(sign_in)
            return redirect(url_for("account.home"), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    with reading() as store:
        view = recovery.look(store, token, now())
    address_in(view["language"])
    return render_template("account/recover.html", view=view, form=form), 422 if form.problems else 200
