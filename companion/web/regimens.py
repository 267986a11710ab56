"""The practice's form for its care system and schedule: everybody there may look, a practitioner signs."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from companion.common.errors import InvalidInput
from companion.phrasebook import care_words
from companion.regimen.care import SYSTEMS
from companion.usecases import regimens
from companion.web.context import actor, now, reading, typed, writing
from companion.web.forms import Form

pages = Blueprint("regimens", __name__)


@pages.route("/desk/care", methods=["GET", "POST"])
def regimen() -> ResponseReturnValue:
    form = Form()
    if request.method == "POST":
        try:
            with writing() as store:
                regimens.sign_regimen(store, actor(), request.form, now())
            return redirect(url_for("regimens.regimen", saved=1), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    with reading() as store:
        view = regimens.regimen_page(store, actor(), now())
    picked = form.value("system") or request.args.get("system") or view["system"] or SYSTEMS[0]
    picked = picked if picked in SYSTEMS else SYSTEMS[0]
    page = render_template(
        "practice/regimen.html", view=view, picked=picked, numbers=view["systems"][picked], form=form,
        care=care_words, fields=[one["id"] for one in view["systems"][picked]], here="regimen",
    )  # fmt: skip
    return page, 422 if form.problems else 200
