"""The manager's page about languages: the safety text in each, and the signature that lets families read it."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from companion.common.errors import InvalidInput
from companion.phrasebook.languages import LANGUAGES
from companion.phrasebook.safety_text import sentences, translation_of
from companion.usecases import languages
from companion.web.context import actor, house, now, reading, typed, writing
from companion.web.desk_painting import desk_words
from companion.web.forms import Form

pages = Blueprint("tongues", __name__)
pages.context_processor(desk_words)


@pages.route("/desk/languages", methods=["GET", "POST"])
def languages_page() -> ResponseReturnValue:
    form, picked = Form(), request.values.get("language", "")
    if request.method == "POST":
        try:
            with writing() as session:
                languages.sign(session, actor(), request.form, now())
            return redirect(url_for("tongues.languages_page", language=picked, saved=1), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    with reading() as session:
        view = languages.languages(session, actor(), house().settings.languages)
    shown = next((one for one in view["languages"] if one["tag"] == picked), view["languages"][0])
    read = LANGUAGES[shown["tag"]]
    text = [(one.text, translation_of(read, one)) for one in sentences()]
    page = render_template(
        "practice/languages.html", view=view, shown=shown, read=read, text=text, form=form, names=LANGUAGES,
        here="languages",
    )  # fmt: skip
    return page, 422 if form.problems else 200
